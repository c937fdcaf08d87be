"""The errors of the job without hardware.

BandwrightError                 told to the user as one plain sentence
    ReplayError                 something of this package cannot do what was asked
        RecordingError          a recording that cannot be read, or that says otherwise
            RecordingEndError   it is played to its end; a PortError too, as when an analyzer leaves
        BenchError              a standard that is not on the bench, a bend out of range
        VirtualAnalyzerError    a virtual analyzer that does not exist or an option it lacks
"""

from acquire.errors import BandwrightError, PortError


class ReplayError(BandwrightError):
    """Base of what can go wrong without hardware."""


class RecordingError(ReplayError):
    """A recording cannot be read, or the program asks for what was not recorded."""


class RecordingEndError(RecordingError, PortError):
    """Everything recorded has been played: to the program, the analyzer has left."""


class BenchError(ReplayError):
    """The virtual bench has no such standard, or the antenna cannot be bent so far."""


class VirtualAnalyzerError(ReplayError):
    """There is no such virtual analyzer, or it has no such option."""
