"""A verdict by plan, sweep and calibration, for those who write their own programs."""

from __future__ import annotations

from acceptance.errors import VerdictError
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan
from acceptance.verdict.judged_sweep import (
    CorrectedReading,
    JudgedReading,
    assumption_warnings,
    corrected_file,
)
from acceptance.verdict.plan_verdict import Verdict
from acquire.files.bounded_read import AnyPath
from acquire.sweep import Plane, Sweep
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
from calibration.standards.stated_load import require_stated_load
from calibration.uncertainty.budget import Assumptions
from calibration.verification.repeatability import connection_advice


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
    return judged(plan, sweep, calibration, plane, assumptions).decided


def judged(
    plan: Plan | AnyPath,
    sweep: Sweep,
    calibration: Calibration | None,
    plane: str | None,
    assumptions: Assumptions,
) -> JudgedReading[Sweep]:
    """The sweep where it is judged, with its interval and verdict; see `judge_sweep`."""
    require_stated_load(assumptions.load_db, assumptions.load_source)
    wanted = plan if isinstance(plan, Plan) else load_plan(plan)
    at = CONNECTOR if plane is None else load_plane(plane, calibration)
    return _corrected(sweep, calibration, assumptions).judged(at, wanted)


def _corrected(
    sweep: Sweep, calibration: Calibration | None, assumptions: Assumptions
) -> CorrectedReading[Sweep]:
    """The sweep before its plane is moved, what can be wrong with it, and what is doubtful."""
    if calibration is None:
        return corrected_file(sweep, assumptions, sweep.plane, sweep.source, sweep.doubts)
    if sweep.plane is Plane.ANTENNA:
        raise VerdictError(
            "The sweep is at the antenna's feed already, and what a calibration leaves is known at "
            "the connector. Judge the sweep at the connector, and name what lies between as plane."
        )
    corrected = at_connector(calibration, sweep)
    remarks = (*calibration.remarks, *connection_advice(calibration, assumptions))
    if not ages_known(calibration, corrected):
        hours = ASSUMED_AGE.total_seconds() / 3600
        remarks = (
            *remarks,
            "When it was calibrated or swept is not known: drift is counted for "
            f"{hours:g} hour between the two.",
        )
    budget = budget_at_connector(calibration, corrected, assumptions)
    warnings = (*calibration.warnings, *assumption_warnings(assumptions), *sweep.doubts)
    return CorrectedReading(corrected, corrected.plane, corrected.source, budget, warnings, remarks)
