"""A known device measured back: does the calibration agree with it, within what both state?

The normalised error of ISO/IEC 17043 [memory] at every frequency,

    En = |difference| / sqrt(U_lab^2 + U_device^2),  agreement is En <= 1

with both U expanded to about 95 %. Where the device's phase is known, the difference is that of
the complex values, and U_lab the radius that holds 95 % (2.45 standard deviations of a component,
not 2); where it is not, the difference is that of the sizes. En says that two statements are
consistent. It lowers neither: that is what `calibration.verification.residual_bounds` is for.

A second load is no normal law, and decided by another one: `calibration.verification.two_loads`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from acquire.sweep import ComplexArray, FloatArray, Plane, Sweep
from calibration.error_terms.interpolation import points_by_span, same_grid
from calibration.errors import CalibrationError
from calibration.evidence import KnownDevice
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Budget
from calibration.uncertainty.interval import interval, radius
from calibration.verification.ripple_method import directivity_from, ripple
from calibration.verification.two_loads import TwoLoads
from calibration.verification.verification_device import LoadBehindLine, OwnStandard, SmallLoad

SHARE_INSIDE = 0.95
"""An interval of 95 % leaves one frequency in twenty outside."""
LARGEST_NORMALISED_ERROR = 2.0
"""Chance puts an honest comparison beyond twice its 95 % in fewer than 1 of 10,000 [derived:
normal law 9e-5, Rayleigh's law 6e-6]."""


@dataclass(frozen=True, slots=True, eq=False)
class Verification:
    """What one known device said of a calibration."""

    device: KnownDevice
    taken_at: datetime
    """When the device was measured; carries its time zone."""
    frequency_hz: FloatArray
    """Shape (points,)."""
    reflection: ComplexArray
    """The device as read, corrected, shape (points,)."""
    difference: FloatArray
    """|read - known|, or ||read| - |known||, linear, shape (points,); nan: not measured."""
    laboratory: FloatArray
    """The calibration's own expanded uncertainty there, linear, shape (points,)."""
    stated: FloatArray
    """The device's expanded uncertainty, linear, shape (points,)."""
    two_loads: TwoLoads | None = None
    """What the difference follows where the device is a second load."""

    @property
    def combined(self) -> FloatArray:
        """Both uncertainties together, linear, shape (points,)."""
        if self.two_loads is not None:
            return self.two_loads.law
        both: FloatArray = np.hypot(self.laboratory, self.stated)
        return both

    @property
    def normalised(self) -> FloatArray:
        """En, shape (points,); nan where a point was not measured."""
        return normalised_error(self.difference, self.combined)

    @property
    def worst(self) -> int:
        """Index of the largest En."""
        return int(np.nanargmax(self.normalised))

    @property
    def share_inside(self) -> float:
        """Share of the frequencies with En <= 1; those not measured count as outside."""
        return float(np.mean(self.normalised <= 1))

    @property
    def passed(self) -> bool:
        """True where the device agrees: see `agrees`, and of a second load `TwoLoads.agree`."""
        if self.two_loads is not None:
            measured = np.isfinite(self.difference)
            return self.two_loads.agree(np.where(measured, self.reflection, np.nan))
        return agrees(self.normalised)

    @property
    def asks(self) -> bool:
        """True where a second load may be the one calibrated with: then it proves nothing."""
        another = isinstance(self.device, SmallLoad) and self.device.another
        pair = self.two_loads
        return pair is not None and not another and pair.too_alike(self.difference)

    def age_s(self, at: datetime) -> float:
        """Seconds from the verification to `at`, for a plan that wants a young one."""
        return (at - self.taken_at).total_seconds()

    @property
    def words(self) -> str:
        """The outcome in two or three sentences, with its numbers."""
        at = self.worst
        where = f"{self.frequency_hz[at] / 1e6:.6g} MHz"
        compared = "complex values" if self.device.phase_known else "sizes alone"
        if isinstance(self.device, LoadBehindLine):
            compared = "the ripple's half-swing"
        count = self.frequency_hz.size
        share = f"{self.share_inside:.1%} of" if self.share_inside < 1 else "all"
        found = (
            f"{self.device.name}: {share} {count} frequencies agree ({compared}); the worst, at "
            f"{where}, differs by {self.difference[at]:.2g} of {self.combined[at]:.2g} allowed "
            f"(En {self.normalised[at]:.2f})."
        )
        if self.asks:
            return (
                f"{found} They agree too well: all over the sweep they differ by no more than one "
                "load does from itself. Is this another load, or the one calibrated with? Until "
                "that is said it counts for nothing: measure another piece, or say that it is one."
            )
        if self.passed:
            could = "" if self.two_loads is None else f" {self.two_loads.words}"
            return f"{found} The calibration and the device agree.{could}"
        return (
            f"{found} They do not agree. Clean and tighten the connectors and measure it again; "
            f"if it stays, calibrate again, or doubt the standards or the device's figures."
        )


def verify(
    calibration: Calibration,
    budget: Budget,
    device: KnownDevice,
    sweep: Sweep,
    *,
    taken_at: datetime | None = None,
) -> Verification:
    """Compare a known device's reading with what is known of it.

    budget : `budget_of` the calibration at the sweep's frequencies, its age and sweep count told.
        For one of the calibration's own standards the definitions are left out of it.
    sweep : raw, or at the connector. taken_at : None takes the sweep's own time.
    Raises CalibrationError for another grid or plane, or where nothing was measured; RangeError
    where the device is not known.
    A second load is judged over the whole sweep, by `calibration.verification.two_loads`. A load
    behind a long line is judged by the ripple of its reading: the half-swing is the
    difference, and the line must be long enough for every stretch that was calibrated.
    """
    when = taken_at or sweep.taken_at
    if when.tzinfo is None:
        raise ValueError("A verification's time must carry its time zone.")
    reading = at_connector(calibration, budget, sweep)
    f = budget.frequency_hz
    known, stated = device.reflection(f), device.uncertainty(f)
    pair = TwoLoads.of(budget, reading, stated) if isinstance(device, SmallLoad) else None
    if isinstance(device, OwnStandard):
        budget = budget.without("definition")  # compared with itself, it cancels
    if isinstance(device, LoadBehindLine):
        reading, difference = known, _swing(calibration, f, reading, device.delay_ps * 1e-12)
        laboratory = radius(budget, known)
    elif device.phase_known:
        difference = np.abs(reading - known)
        laboratory = radius(budget, reading)
    else:
        found = interval(budget, reading)
        difference = np.abs(np.abs(reading) - np.abs(known))
        laboratory = np.maximum(found.upward, found.downward)
    return Verification(device, when, f, reading, difference, laboratory, stated, pair)


def _swing(
    calibration: Calibration, frequency_hz: FloatArray, reading: ComplexArray, delay_s: float
) -> FloatArray:
    """Directivity by the ripple in every calibrated stretch, linear, shape (points,)."""
    found = np.full(frequency_hz.size, np.nan)
    for inside in points_by_span(frequency_hz, calibration.spans):
        found[inside] = directivity_from(ripple(frequency_hz[inside], reading[inside], delay_s))
    return found


def at_connector(calibration: Calibration, budget: Budget, sweep: Sweep) -> ComplexArray:
    """The sweep's reflection at the connector, on the budget's grid, or CalibrationError."""
    if not same_grid(sweep.frequency_hz, budget.frequency_hz):
        raise CalibrationError(
            f"The sweep has {sweep.points} points and the budget {budget.frequency_hz.size}, or "
            f"other frequencies. Work out the budget at the sweep's frequencies."
        )
    if sweep.plane is Plane.ANTENNA:
        raise CalibrationError(
            "The sweep was moved to the antenna's plane; a known device is compared at the "
            "connector. Use the raw sweep."
        )
    corrected = calibration.correct(sweep) if sweep.plane is Plane.RAW else sweep
    if not np.isfinite(corrected.reflection).any():
        raise CalibrationError("No point of the sweep was measured. Check cable and analyzer.")
    return corrected.reflection


def normalised_error(difference: FloatArray, combined: FloatArray) -> FloatArray:
    """En at every point; no difference of no uncertainty is agreement."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = difference / combined
    result: FloatArray = np.where((difference == 0) & (combined == 0), 0.0, ratio)
    return result


def agrees(normalised: FloatArray) -> bool:
    """True where 95 % of the points have En <= 1, none is beyond 2, and all were measured."""
    inside = float(np.mean(normalised <= 1))
    return inside >= SHARE_INSIDE and bool((normalised <= LARGEST_NORMALISED_ERROR).all())
