"""What was measured of a calibration after it was made, raw, so that it can be judged again.

It travels with the calibration: known devices measured back, standards put back, one standard
connected again and again. What it proves is worked out anew each time, by
`calibration.verification.verified_budget`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal, Protocol

from acquire.sweep import ComplexArray, FloatArray
from calibration.capture.standard_capture import StandardReading


class KnownDevice(Protocol):
    """One device to measure back."""

    @property
    def name(self) -> str:
        """What a person calls it."""
        ...

    @property
    def phase_known(self) -> bool:
        """False where only the size of its reflection is known."""
        ...

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """Linear reflection at its connector, complex, shape as frequency_hz; where the phase is
        not known, its size."""
        ...

    def uncertainty(self, frequency_hz: FloatArray) -> FloatArray:
        """How far the reflection (or its size) may be off, linear, about 95 %, same shape."""
        ...


Settling = Literal["remake", "device"]
"""What takes a doubt away: the standard made anew, or a known device measured back."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """What speaks against a calibration though its own readings agree with each other."""

    cause: str
    """What fits it, as `calibration.verification.term_change` names causes; "once" where a standard
    was connected only once and nothing else speaks for it."""
    words: str
    """What a person should know, and do, in a sentence or two."""
    standard: str = ""
    """The standard whose making anew says more; empty where none would."""
    settled_by: Settling = "device"
    """A known device that agrees always settles it; with "remake" the standard made anew does."""


@dataclass(frozen=True, slots=True, eq=False)
class DeviceCheck:
    """A known device, measured back."""

    device: KnownDevice
    reading: StandardReading
    """Raw, on the calibration's grid."""
    taken_at: datetime
    """Carries its time zone."""


@dataclass(frozen=True, slots=True, eq=False)
class DriftCheck:
    """One of the calibration's own standards, put back."""

    standard: str
    reading: StandardReading
    """Raw, on the calibration's grid."""
    taken_at: datetime
    """Carries its time zone."""


@dataclass(frozen=True, slots=True, eq=False)
class ConnectionRepeats:
    """One standard, taken off and put on again."""

    standard: str
    takes: tuple[StandardReading, ...]
    """Raw, on the calibration's grid, one a making of the connector."""
    taken_at: datetime
    """Carries its time zone."""


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """All of it, each kind in the order taken."""

    devices: tuple[DeviceCheck, ...] = ()
    drift_checks: tuple[DriftCheck, ...] = ()
    connection_repeats: tuple[ConnectionRepeats, ...] = ()

    def __bool__(self) -> bool:
        """True where there is any."""
        return bool(self.devices or self.drift_checks or self.connection_repeats)

    def with_one(self, one: DeviceCheck | DriftCheck | ConnectionRepeats) -> Evidence:
        """The same and one more; a device or standard measured before is measured anew."""
        match one:
            case DeviceCheck():
                kept = [each for each in self.devices if each.device.name != one.device.name]
                return replace(self, devices=(*kept, one))
            case DriftCheck():
                others = [each for each in self.drift_checks if each.standard != one.standard]
                return replace(self, drift_checks=(*others, one))
            case ConnectionRepeats():
                return replace(self, connection_repeats=(one,))


NO_EVIDENCE = Evidence()
