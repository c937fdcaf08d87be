"""What speaks against accepting the moment that is shown."""

from __future__ import annotations

from acceptance.decision import DECIDED
from acceptance.freshness import why_not_checked
from acceptance.plan import Plan
from acquire.sweep import Plane
from dashboard.snapshot import Snapshot

UNCALIBRATED = "Uncalibrated readings are not accepted."


def not_acceptable(now: Snapshot) -> str:
    """Why what is shown cannot be accepted now; empty if it can."""
    if not now.fresh:
        return "No sweeps come in, so there is nothing to accept. Connect the unit again."
    if now.plan is None:
        return "There is no plan to judge by. Choose the bands first."
    if now.calibration.session is not None:
        return "A calibration is in progress. Finish or leave it first."
    if now.verdict is None or now.corrected is None or now.corrected.plane is Plane.RAW:
        why = now.plane.problem or now.calibration.message
        said = "The plane cannot be there." if now.plane.problem else UNCALIBRATED
        return f"{said} {why}".strip()
    if all(band.state not in DECIDED for band in now.verdict.bands):
        return "No band of the plan was measured. See the reasons in the table."
    return _not_warm(now, now.plan.warm_up_minutes) or _not_checked(now, now.plan)


def _not_checked(now: Snapshot, plan: Plan) -> str:
    """Why the calibration was not checked lately enough for the plan; empty if it was."""
    proven, corrected = now.calibration.proven, now.corrected
    if proven is None or corrected is None:
        return ""
    return why_not_checked(plan, proven, corrected.taken_at)


def _not_warm(now: Snapshot, minutes: float) -> str:
    """Why the unit is not warm yet, as the plan wants it; empty if it is."""
    if now.seen_at_s is None or now.sweeping_since_s is None:
        return ""
    left = minutes - (now.seen_at_s - now.sweeping_since_s) / 60
    if left <= 0:
        return ""
    return (
        f"The plan wants the unit warmed up for {minutes:g} min of sweeping, and {left:.0f} min "
        "are left. Calibrate after that as well."
    )
