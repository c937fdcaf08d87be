"""The errors of acquisition, and the root every package's errors share.

BandwrightError                 anything a user is told in one plain sentence
    AcquireError                getting sweeps in
        PortError               a port cannot be opened, is in use, or went away
        NoReplyError            the deadline passed; `received` holds what came
        ReplyError              a reply that is not what the profile promises
            ReplyDefectError    a reply that this program failed to make sense of
        ProfileError            a profile file that cannot be used
        CoverageError           frequencies the analyzer cannot sweep as asked
        TouchstoneError         a file that cannot be read as Touchstone data
        NamedFileError          a name of a file, in a file, that leads elsewhere

Each message says what happened, why, and what to do next, with numbers. What it quotes may be
anyone's words; nothing in it steers a screen.
"""

from acquire.printable_text import plain


class BandwrightError(Exception):
    """Root of every error that is told to the user as one plain sentence."""

    def __str__(self) -> str:
        return plain(super().__str__())


class AcquireError(BandwrightError):
    """Base of what can go wrong while getting sweeps in."""


class PortError(AcquireError):
    """A port cannot be opened, is used by another program, or went away."""


class NoReplyError(AcquireError):
    """The analyzer did not finish its reply before the deadline."""

    def __init__(self, message: str, received: bytes = b"") -> None:
        super().__init__(message)
        self.received = received
        """What had arrived when the deadline passed."""


class ReplyError(AcquireError):
    """The analyzer's reply is not what its profile promises."""


class ReplyDefectError(ReplyError):
    """A reply that neither dialect nor checks foresaw made them fail; `__cause__` says where."""


class ProfileError(AcquireError):
    """A profile file cannot be used; the message names the field and the cure."""


class CoverageError(AcquireError):
    """The wanted frequencies cannot be covered as asked."""


class TouchstoneError(AcquireError):
    """A file cannot be read as Touchstone data; the message names the line."""


class NamedFileError(AcquireError):
    """What a file names as a file beside it is none; the message says what it is."""
