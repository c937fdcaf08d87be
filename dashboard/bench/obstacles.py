"""What speaks against accepting the moment that is shown, and where that is mended."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from acceptance.limits.decision import DECIDED
from acceptance.plan.acceptance_plan import Plan
from acceptance.record.check_age import why_not_checked
from acceptance.record.plan_requirements import piece_unmet, touch_unmet
from acquire.sweep import Plane
from dashboard.bench.snapshot import Obstacle, Snapshot

UNCALIBRATED = "Uncalibrated readings are not accepted."


def with_obstacles(now: Snapshot) -> Snapshot:
    """The same moment, with what speaks against accepting it worked out, once for all who look."""
    return replace(now, obstacle=obstacle(now), touch_wanted=touch_wanted(now))


def obstacle(now: Snapshot) -> Obstacle | None:
    """Why what is shown cannot be accepted now; None if it can."""
    return next(_obstacles(now), None)


def _obstacles(now: Snapshot) -> Iterator[Obstacle]:
    """What speaks against it, in the order in which a person would mend it."""
    if not now.fresh:
        yield Obstacle(
            "No sweeps come in, so there is nothing to accept. Connect the analyzer again."
        )
    if now.plan is None:
        yield Obstacle("There is no plan to judge by. Choose the bands first.", "plan")
        return
    if now.calibration.session is not None:
        yield Obstacle("A calibration is in progress. Finish or leave it first.", "calibrate")
    if now.plane.problem:
        yield Obstacle(f"The plane cannot be there. {now.plane.problem}", "plane")
    if now.verdict is None or now.corrected is None or now.corrected.plane is Plane.RAW:
        yield Obstacle(f"{UNCALIBRATED} {now.calibration.message}".strip(), "calibrate")
        return
    if all(band.state not in DECIDED for band in now.verdict.bands):
        if now.coverage_problem:
            yield Obstacle(now.coverage_problem, "plan")
        yield Obstacle("No band of the plan was measured. See the reasons in the table.")
    if why := _not_warm(now, now.plan.warm_up_minutes):
        yield Obstacle(why)
    if why := _not_checked(now, now.plan):
        yield Obstacle(why, "calibrate")
    if why := piece_unmet(now.plan, now.check_piece, now.corrected.taken_at):
        yield Obstacle(why, "calibrate")


def touch_wanted(now: Snapshot) -> Obstacle | None:
    """The touch test that the plan wants before it is signed off; None where none is missing."""
    if now.plan is None or not touch_unmet(now.plan, now.touch.result):
        return None
    how = "key g, or the button beside the bands."
    if now.touch.result is None:
        return Obstacle(f"The plan wants a touch test first: {how}", "touch")
    return Obstacle(f"The touch test told nothing, and the plan wants one: again, {how}", "touch")


def _not_checked(now: Snapshot, plan: Plan) -> str:
    """Why the calibration was not checked lately enough for the plan; empty if it was."""
    evidence_results, corrected = now.calibration.evidence_results, now.corrected
    if evidence_results is None or corrected is None:
        return ""
    return why_not_checked(plan, evidence_results, corrected.taken_at)


def _not_warm(now: Snapshot, minutes: float) -> str:
    """Why the analyzer is not warm yet, as the plan wants it; empty if it is."""
    if now.seen_at_s is None or now.sweeping_since_s is None:
        return ""
    left = minutes - (now.seen_at_s - now.sweeping_since_s) / 60
    if left <= 0:
        return ""
    return (
        f"The plan wants the analyzer warmed up for {minutes:g} min of sweeping, and {left:.0f} "
        f"min "
        "are left. Calibrate after that as well."
    )
