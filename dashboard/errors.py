"""The errors of the page and the command line.

BandwrightError                 the root all packages share
    DashboardError              what a person asked for cannot be done as asked
        SetupError              options or files that do not fit together
        UnattendedError         a step needs a person, and none is there
        NotNowError             an action that makes no sense as things stand
            PutBackWantedError  it was swept, and a standard is to be put back before it counts
            VerdictTurnedError  the verdict is another one now that the reading has settled

Each message says what happened, why, and what to do next.
"""

from acquire.errors import BandwrightError


class DashboardError(BandwrightError):
    """Base of what can go wrong between a person and the work."""


class SetupError(DashboardError):
    """Options or files do not fit together; found before the work begins."""


class UnattendedError(DashboardError):
    """A step needs a person at the terminal."""


class NotNowError(DashboardError):
    """What was asked for makes no sense as things stand; the message says what would."""


class PutBackWantedError(NotNowError):
    """The antenna was swept and kept; a standard is to be put back before it is signed off."""


class VerdictTurnedError(NotNowError):
    """The verdict that a person saw is not the one of the reading that has settled since."""
