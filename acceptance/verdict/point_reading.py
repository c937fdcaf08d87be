"""A reading at one frequency, as a marker shows it, with the interval that verdicts use.

Between two points the reflection is followed as at a band's edge, with the delay taken out, and
what that may be off is counted in; the uncertainty runs straight from point to point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acceptance.limits.match import impedance_ohm, one_return_loss_db, vswr
from acceptance.verdict.band_curve import TOLERANCE_HZ, value_between
from acceptance.verdict.wording import DEEPEST_DB, HIGHEST_VSWR
from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.interval import Interval

MOST_OHM = 5000.0
"""A larger impedance is not written: near an open a small error moves it without bound."""


@dataclass(frozen=True, slots=True)
class PointReading:
    """What is known of one frequency; sizes are |reflection|, linear."""

    frequency_hz: float
    reflection: complex
    error: float
    """How far following the reflection between two points may be off; 0 on a point."""
    low: float | None
    high: float | None
    """Where the true size lies with about 95 %, `error` counted in; None where that is unknown."""
    floor: float | None
    """The trust floor: what reads no larger is all uncertainty."""

    @property
    def size(self) -> float:
        """The size as read."""
        return abs(self.reflection)

    @property
    def beyond_floor(self) -> bool:
        """True where the reading gets no number of its own."""
        return self.floor is not None and self.size <= self.floor

    @property
    def return_loss_words(self) -> str:
        """As "12.3 dB"; what is proven, "better than 24.1 dB", beyond the trust floor."""
        if self.beyond_floor and self.high is not None:
            return f"better than {one_return_loss_db(self.high):.1f} dB"
        loss_db = one_return_loss_db(self.size)
        return f"{loss_db:.1f} dB" if loss_db < DEEPEST_DB else f"better than {DEEPEST_DB:g} dB"

    @property
    def interval_words(self) -> str:
        """As "11.2 to 13.6 dB"; empty where the interval is not known."""
        if self.low is None or self.high is None:
            return ""
        least_db = max(one_return_loss_db(self.high), 0.0)
        greatest_db = one_return_loss_db(self.low)
        if self.beyond_floor or greatest_db >= DEEPEST_DB:
            return f"{least_db:.1f} dB or more"
        return f"{least_db:.1f} to {max(greatest_db, 0.0):.1f} dB"

    @property
    def vswr_words(self) -> str:
        """As "1.64"; beyond the trust floor what is proven, "1.13 or less"."""
        if self.beyond_floor and self.high is not None:
            return f"{float(vswr(self.high)):.2f} or less"
        ratio = float(vswr(self.size))
        return f"{ratio:.2f}" if ratio < HIGHEST_VSWR else f"above {HIGHEST_VSWR:g}"

    @property
    def impedance_words(self) -> str:
        """As "38.2 − j12.4 Ω", at the plane of the reading; empty beyond the trust floor, and near
        an open, where it has no bound."""
        if self.beyond_floor:
            return ""
        ohm = complex(impedance_ohm(np.array([self.reflection]))[0])
        if not np.isfinite(ohm) or abs(ohm) > MOST_OHM:
            return ""
        sign = "−" if ohm.imag < 0 else "+"
        return f"{_ohm(ohm.real)} {sign} j{_ohm(abs(ohm.imag))} Ω"


def read_point(
    frequency_hz: FloatArray,
    reflection: ComplexArray,
    at_hz: float,
    uncertainty: Interval | None = None,
) -> PointReading | None:
    """Read a sweep at one frequency; None where nothing was swept there.

    frequency_hz, reflection : shape (points,), increasing; not finite where not measured.
    uncertainty : on the same grid; None where it is not known.
    """
    near = int(np.argmin(np.abs(frequency_hz - at_hz))) if frequency_hz.size else -1
    found: tuple[complex, float] | None = None
    if near >= 0 and abs(float(frequency_hz[near]) - at_hz) <= TOLERANCE_HZ:
        found = complex(reflection[near]), 0.0
    elif near >= 0:
        found = value_between(frequency_hz, reflection, at_hz)
    if found is None or not np.isfinite(found[0]):
        return None
    value, error = found
    low = high = floor = None
    if uncertainty is not None:
        up, down, floor = (
            float(np.interp(at_hz, uncertainty.frequency_hz, part))
            for part in (uncertainty.upward, uncertainty.downward, uncertainty.floor)
        )
        if not np.isfinite([up, down, floor]).all():
            return PointReading(at_hz, value, error, None, None, None)
        size = abs(value)
        low = 0.0 if size <= floor else max(size - down - error, 0.0)
        high = max(size + up + error, floor)
    return PointReading(at_hz, value, error, low, high, floor)


def _ohm(value: float) -> str:
    return f"{value:.1f}" if abs(value) < 99.95 else f"{value:.0f}"
