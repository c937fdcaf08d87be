"""What a reading amounts to: corrected, moved to its plane, how far to be trusted, judged."""

from __future__ import annotations

from dataclasses import dataclass, replace

from acceptance.plan.acceptance_plan import Plan
from acceptance.verdict.plan_verdict import Verdict, judge
from acquire.errors import BandwrightError
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from calibration.uncertainty.budget import Budget
from calibration.uncertainty.interval import Interval, interval
from dashboard.bench.parts.calibration import BenchCalibration
from dashboard.bench.parts.plane import BenchPlane
from dashboard.bench.snapshot import CalibrationState
from dashboard.sweeping.calibrated_range import left_out


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """As much of it as there is: what has no calibration, no plane or no plan ends before."""

    calibration: CalibrationState
    corrected: Sweep | None = None
    budget: Budget | None = None
    trust: Interval | None = None
    verdict: Verdict | None = None


def judged(
    averaged: Averaged | None,
    *,
    calibration: BenchCalibration,
    plane: BenchPlane,
    plan: Plan | None,
    swept: int,
) -> Judged:
    """Work out what a reading amounts to.

    averaged : the raw reading; None before the first.
    swept : sweeps since the calibration, or since it was last checked.
    """
    raw = None if averaged is None else averaged.sweep
    corrected, state = calibration.corrected(raw)
    if state.phase == "misfit" and raw is not None:
        state = _naming_bands(state, raw, plan)
    held = state.calibration if state.phase == "held" else None
    if held is None:
        plane.rest()
    if corrected is None or held is None:
        return Judged(state, corrected)
    budget = calibration.trust.budget(held, corrected, averaged, swept=swept)
    there = plane.move(corrected, budget, held)
    if there is None:
        return Judged(state, corrected)
    reaches = interval(there.budget, there.reading.reflection)
    verdict = None
    if plan is not None:
        verdict = judge(
            plan, there.reading, trust=reaches, undone=there.undone, doubts=held.warnings
        )
    return Judged(state, there.reading, there.budget, reaches, verdict)


def _naming_bands(state: CalibrationState, raw: Sweep, plan: Plan | None) -> CalibrationState:
    """Say of a calibration that does not reach which bands it leaves out, where that is why."""
    held = state.calibration
    if held is None or plan is None:
        return state
    try:
        held.fits(raw.source, held.request)
    except BandwrightError:  # another unit's: that comes before all bands
        return state
    return replace(state, message=left_out(held, plan, keys=("c", "p")) or state.message)
