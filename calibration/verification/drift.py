"""Drift watch: a standard put back shows what has changed since it was captured.

It is compared with itself, so its definition cancels, and what is left may be noise, the making
of the connector and drift. Held against the budget's allowance for those three, span by span: a
change within it says carry on, one beyond it says recalibrate. It says nothing of whether the
standard is what the kit says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from acquire.coverage.spans import Span, span_words
from acquire.sweep import FloatArray, Sweep
from calibration.calibration_budget import budget_of
from calibration.errors import CalibrationError
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.device_comparison import Verification, agrees, verify
from calibration.verification.verification_device import OwnStandard

Advice = Literal["carry on", "recalibrate", "not measured"]


@dataclass(frozen=True, slots=True)
class SpanDrift:
    """What changed in one stretch of frequencies."""

    span: Span
    advice: Advice
    largest: float
    """Largest change, linear; nan where nothing was measured."""
    at_hz: float
    """Where, relative to what is allowed there, it changed most, Hz."""
    rms: float
    """Change, rms over the span, linear."""
    allowed: float
    """What the budget allows at `at_hz`, linear, about 95 %."""
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """What a check standard shows of the time since the calibration."""

    standard: str
    taken_at: datetime
    age_s: float
    """Seconds from the calibration to the check."""
    check: Verification
    """The change, what is allowed, and their ratio at every point; usable in `bound_by`."""
    spans: tuple[SpanDrift, ...]

    @property
    def change(self) -> FloatArray:
        """|now - captured| at the connector, linear, shape (points,)."""
        return self.check.difference

    @property
    def advice(self) -> Advice:
        """The most severe of the spans'."""
        found = {each.advice for each in self.spans}
        order: tuple[Advice, ...] = ("recalibrate", "not measured", "carry on")
        return next(advice for advice in order if advice in found)

    @property
    def words(self) -> str:
        """One line a span, after a line that says what it is about."""
        age = age_words(self.age_s)
        top = f"The {self.standard}, put back {age} after calibrating: {self.advice}."
        return "\n".join([top, *(each.words for each in self.spans)])


def age_words(seconds: float) -> str:
    """As "12 min", "5.3 h", "4 days"."""
    if seconds < 5400:
        return f"{max(seconds, 0.0) / 60:.0f} min"
    return f"{seconds / 3600:.1f} h" if seconds < 48 * 3600 else f"{seconds / 86400:.0f} days"


def drift_since(
    calibration: Calibration,
    standard_name: str,
    sweep: Sweep,
    *,
    assumptions: Assumptions | None = None,
    sweeps: int = 1,
    connection_rms: FloatArray | None = None,
    spans: Sequence[Span] | None = None,
) -> Drift:
    """Compare a standard that was put back with itself when it was captured.

    sweep : raw or at the connector. sweeps : how many it averages.
    assumptions, connection_rms : as `budget_of` takes them; the drift allowed grows with age.
    spans : the bands to judge by themselves, Hz; None takes the calibration's own spans.
    Raises CalibrationError if that standard was not measured, if the sweep is older than the
    calibration, or none of it was measured; RangeError where the calibration does not reach.
    """
    age_s = (sweep.taken_at - calibration.taken_at).total_seconds()
    if age_s < 0:
        raise CalibrationError(
            f"The sweep was taken {-age_s:.0f} s before the calibration was done, so it shows no "
            f"drift since. Put the {standard_name} on and sweep again; if that does not help, this "
            "machine's clock was set back: set it right."
        )
    budget = budget_of(
        calibration,
        assumptions or Assumptions(),
        age_s=age_s,
        sweeps=sweeps,
        connection_rms=connection_rms,
        frequency_hz=sweep.frequency_hz,
    )
    check = verify(calibration, budget, OwnStandard.of(calibration, standard_name), sweep)
    wanted = calibration.spans if spans is None else tuple(spans)
    if not wanted:
        wanted = ((float(sweep.frequency_hz[0]), float(sweep.frequency_hz[-1])),)
    judged = tuple(_judged(check, span) for span in wanted)
    return Drift(standard_name, check.taken_at, age_s, check, judged)


def _judged(check: Verification, span: Span) -> SpanDrift:
    inside = (check.frequency_hz >= span[0]) & (check.frequency_hz <= span[1])
    change = check.difference[inside]
    if not np.isfinite(change).any():
        words = f"{span_words(span)}: not measured. Sweep it with the standard on."
        nan = float("nan")
        return SpanDrift(span, "not measured", nan, nan, nan, nan, words)
    normalised, combined = check.normalised[inside], check.combined[inside]
    at = int(np.nanargmax(normalised))
    where_hz = float(check.frequency_hz[inside][at])
    largest, rms = float(np.nanmax(change)), float(np.sqrt(np.nanmean(change**2)))
    advice: Advice = "carry on" if agrees(normalised[np.isfinite(normalised)]) else "recalibrate"
    if advice == "carry on" and not np.isfinite(change).all():
        advice = "not measured"
    words = (
        f"{span_words(span)}: changed by up to {largest:.2g} ({rms:.2g} rms); at "
        f"{where_hz / 1e6:.6g} MHz {change[at]:.2g} of {combined[at]:.2g} allowed: {advice}."
    )
    return SpanDrift(span, advice, largest, where_hz, rms, float(combined[at]), words)
