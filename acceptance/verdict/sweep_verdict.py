"""A verdict by plan, sweep and calibration, for those who write their own programs."""

from __future__ import annotations

from dataclasses import dataclass

from acceptance.errors import VerdictError
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan
from acceptance.verdict.plan_verdict import Verdict, judge
from acquire.files.bounded_read import AnyPath
from acquire.sweep import Plane, Sweep
from calibration.calibration_budget import budget_of_file
from calibration.files.portable_calibration import (
    ASSUMED_AGE,
    DEFAULT_ASSUMPTIONS,
    ages_known,
    at_connector,
    budget_at_connector,
)
from calibration.files.store import load_plane
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import CONNECTOR
from calibration.uncertainty.budget import DEFAULT_LOAD_DB, Assumptions, Budget
from calibration.uncertainty.interval import Interval, interval
from calibration.verification.reading_budget import noise_in


@dataclass(frozen=True, slots=True, eq=False)
class JudgedSweep:
    """A sweep where it was judged."""

    sweep: Sweep
    interval: Interval
    """How far each of its points can be trusted."""
    noise: float
    """Complex noise of a point, rms, linear; 0 where nobody knows."""
    verdict: Verdict


def judge_sweep(
    plan: Plan | AnyPath,
    sweep: Sweep,
    calibration: Calibration | None = None,
    *,
    plane: str | None = None,
    assumptions: Assumptions = DEFAULT_ASSUMPTIONS,
) -> Verdict:
    """Judge a sweep against a plan, every band guarded by the uncertainty of its points.

    plan : or the path of its file.
    sweep : raw, or corrected. calibration : the one that corrects it, or did; None where somebody
        else's did, of which nothing is known but what `assumptions` take to be so.
    plane : what lies between the connector and the feed, to be de-embedded: the path of a .toml
        file, or "cable=ptfe-2.5mm length_mm=182"; None judges at the connector.
    Returns the verdict: `overall`, `bands` in the plan's order, `notes`. Raises PlanError,
    PlaneError, CalibrationError where the calibration does not fit the sweep, and VerdictError for
    a sweep at the feed together with a calibration.
    """
    return judged(plan, sweep, calibration, plane, assumptions).verdict


def judged(
    plan: Plan | AnyPath,
    sweep: Sweep,
    calibration: Calibration | None,
    plane: str | None,
    assumptions: Assumptions,
) -> JudgedSweep:
    """The sweep where it is judged, with its interval and verdict; see `judge_sweep`."""
    wanted = plan if isinstance(plan, Plan) else load_plan(plan)
    at, budget, doubts = _corrected(sweep, calibration, assumptions)
    there = (CONNECTOR if plane is None else load_plane(plane, calibration)).move(at, budget)
    trust = interval(there.budget, there.reading.reflection)
    verdict = judge(wanted, there.reading, trust=trust, undone=there.undone, doubts=doubts)
    noise = noise_in(there.budget, there.reading.reflection)
    return JudgedSweep(there.reading, trust, noise, verdict)


def _corrected(
    sweep: Sweep, calibration: Calibration | None, assumptions: Assumptions
) -> tuple[Sweep, Budget, tuple[str, ...]]:
    """The sweep before its plane is moved, what can be wrong with it, and what is doubtful."""
    if calibration is None:
        unknown = (
            f"Nothing is known of the calibration: a load of {DEFAULT_LOAD_DB:g} dB of unknown "
            "phase is assumed.",
        )
        budget = budget_of_file(sweep.frequency_hz, assumptions)
        return sweep, budget, unknown if assumptions.load_db is None else ()
    if sweep.plane is Plane.ANTENNA:
        raise VerdictError(
            "The sweep is at the antenna's feed already, and what a calibration leaves is known at "
            "the connector. Judge the sweep at the connector, and name what lies between as plane."
        )
    corrected = at_connector(calibration, sweep)
    doubts = calibration.warnings
    if not ages_known(calibration, corrected):
        hours = ASSUMED_AGE.total_seconds() / 3600
        doubts = (
            *doubts,
            "When it was calibrated or swept is not known: drift is counted for "
            f"{hours:g} hour between the two.",
        )
    return corrected, budget_at_connector(calibration, corrected, assumptions), doubts
