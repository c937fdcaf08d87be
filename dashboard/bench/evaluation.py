"""What the bench's reading amounts to, as far as calibration, plane and plan let it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from acceptance.plan.acceptance_plan import Plan
from acceptance.verdict.judged_sweep import JudgedReading
from acquire.errors import BandwrightError
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from dashboard.bench.parts.calibration import BenchCalibration
from dashboard.bench.parts.plane import BenchPlane
from dashboard.bench.snapshot import CalibrationState
from dashboard.sweeping.calibrated_range import left_out


@dataclass(frozen=True, slots=True, eq=False)
class Evaluation:
    """As much of it as there is: what has no calibration or no plan ends before."""

    calibration: CalibrationState
    corrected: Sweep | None = None
    """At its plane; at the connector where it cannot be moved there."""
    judged: JudgedReading[Sweep] | None = None


def evaluate(
    averaged: Averaged | None,
    *,
    calibration: BenchCalibration,
    plane: BenchPlane,
    plan: Plan | None,
    swept: int,
) -> Evaluation:
    """Work out what a reading amounts to.

    averaged : the raw reading; None before the first.
    swept : sweeps since the calibration, or since it was last checked.
    """
    corrected, state = calibration.corrected(averaged, swept)
    if state.phase == "misfit" and averaged is not None:
        state = _naming_bands(state, averaged.sweep, plan)
    held = state.calibration if state.phase == "held" else None
    if held is None:
        plane.rest()
    if corrected is None or held is None:
        return Evaluation(state)
    judged = plane.judged(corrected, plan, held)
    if judged is None:
        return Evaluation(state, corrected.reading)
    return Evaluation(state, judged.reading, judged)


def _naming_bands(state: CalibrationState, raw: Sweep, plan: Plan | None) -> CalibrationState:
    """Say of a calibration that does not reach which bands it leaves out, where that is why."""
    held = state.calibration
    if held is None or plan is None:
        return state
    try:
        held.fits(raw.source, held.request)
    except BandwrightError:  # another analyzer's: that comes before all bands
        return state
    return replace(state, message=left_out(held, plan, keys=("c", "p")) or state.message)
