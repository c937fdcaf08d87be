"""The errors of calibration.

CalibrationError                base; `standard` names the one to measure again, if it is one
    KitError                    a kit's description cannot be used
    DeviceError                 a known device's description cannot be used
    StandardError               one standard must be measured again; always names it
    RangeError                  frequencies the calibration does not cover
    OtherAnalyzerError          readings of another analyzer, profile or state than was calibrated
    StoredCalibrationError      a calibration file that cannot be used
    PlaneError                  the reference plane cannot be moved as it is described
    FaultError                  a sweep that shows no distances, or not those wanted

Each message says what happened, why, and what to do next, with numbers.
"""

from __future__ import annotations

from acquire.errors import BandwrightError


class CalibrationError(BandwrightError):
    """Base of what can go wrong between raw readings and reflection at the connector."""

    def __init__(self, message: str, standard: str | None = None) -> None:
        super().__init__(message)
        self.standard = standard
        """The one standard to measure again; None where that would not help."""


class KitError(CalibrationError):
    """A kit's description cannot be used; the message names the field and the cure."""


class DeviceError(CalibrationError):
    """A known device's description cannot be used; the message names the field and the cure."""


class StandardError(CalibrationError):
    """A standard's readings would lie; the others may stay, this one is measured again."""

    standard: str

    def __init__(self, message: str, standard: str) -> None:
        super().__init__(message, standard)


class RangeError(CalibrationError):
    """Frequencies at which the error terms are not known."""


class OtherAnalyzerError(CalibrationError):
    """The readings come from another analyzer, profile or state than the calibration."""


class StoredCalibrationError(CalibrationError):
    """A calibration file cannot be used."""


class PlaneError(CalibrationError):
    """The reference plane cannot be moved as it is described; the message names the cure."""


class FaultError(CalibrationError):
    """A sweep shows no distances, or not those that are wanted; the message says which would."""
