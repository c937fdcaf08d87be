"""What a plan asks of an acceptance, held against what was done.

Signing off and whoever checks the record later ask the same, by the same words. How long the
analyzer had been sweeping stands in no record, so the warm-up is looked at on the way in only.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from acceptance.errors import RecordError
from acceptance.plan.acceptance_plan import Plan
from acceptance.record.acceptance_record import Acceptance, Condition
from acceptance.record.check_age import why_not_checked
from acceptance.record.conditions import words_of
from acceptance.tuning.touch_test import Touch
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.check_piece import PieceReading
from calibration.verification.drift import age_words
from calibration.verification.put_back import asked
from calibration.verification.verified_budget import EvidenceResults, evidence_results

SOME_DAY = datetime.max.replace(tzinfo=UTC)
"""When what was only begun will be signed off."""


def unmet(acceptance: Acceptance) -> tuple[str, ...]:
    """What the plan asks for and was not done, a sentence or two each; empty where all was.

    Of an imported file nothing is asked: how it was taken, nobody knows. Raises CalibrationError
    where the checks of its calibration cannot be judged.
    """
    if acceptance.kind == "imported":
        return ()
    plan, found = acceptance.plan, []
    if acceptance.missing:
        names = ", ".join(words_of(name).label for name in acceptance.missing)
        found.append(f"The plan still wants the antenna swept: {names}.")
    found += [
        why
        for each in acceptance.conditions
        if (why := piece_unmet(plan, acceptance.check_piece, each.raw[-1].taken_at))
    ][:1]
    checks = _checks(plan, acceptance.calibration, acceptance.assumptions)
    until = acceptance.accepted_at or SOME_DAY
    for each in acceptance.conditions:
        if each.name in plan.conditions:
            found += _unmet_of(each, plan, checks, until)
    found += [why] if (why := touch_unmet(plan, acceptance.touch_test)) else []
    return (*found, *([why] if (why := check_after_unmet(acceptance)) else ()))


def sign_off(acceptance: Acceptance, at: datetime) -> Acceptance:
    """The same, finished at that time. Raises RecordError while the plan misses something."""
    done = replace(acceptance, accepted_at=at)
    if left := unmet(done):
        raise RecordError(" ".join(left))
    return done


def unmet_of(
    condition: Condition, plan: Plan, calibration: Calibration, assumptions: Assumptions
) -> tuple[str, ...]:
    """The same of one condition that was swept just now; raises likewise."""
    return _unmet_of(condition, plan, _checks(plan, calibration, assumptions))


def check_after_unmet(acceptance: Acceptance) -> str:
    """Which sweeps no check follows though the plan asks for one; empty where none is missing.

    Of a record of before there were such checks nothing is asked.
    """
    after, calibration = acceptance.after_sweep, acceptance.calibration
    if after is None or calibration is None or acceptance.plan.check_after != "each":
        return ""
    last = max((each.taken_at for each in after.checks), default=None)
    unchecked = [
        each.label for each in acceptance.conditions if last is None or each.raw[-1].taken_at > last
    ]
    if not unchecked:
        return ""
    of = f" of the antenna {', '.join(unchecked)}" if len(acceptance.plan.conditions) > 1 else ""
    return f"No standard was put back after the sweep{of}. {asked(calibration)}"


def piece_unmet(plan: Plan, piece: PieceReading | None, at: datetime) -> str:
    """Why the plan's wish for a young reading of the check piece is not met; empty where it is.

    piece : the latest. at : when the antenna is swept, or was. One from between the sweep and the
    signing off counts, as for other checks.
    """
    wanted = plan.check_piece_within_hours
    if wanted is None:
        return ""
    how = "Sweep it: `bandwright morning`, or the page's checks."
    if piece is None:
        return f"The plan wants the bench's check piece read within {wanted:g} h. {how}"
    age_s = (at - piece.taken_at).total_seconds()
    if age_s > wanted * 3600:
        return (
            f"The plan wants the bench's check piece read within {wanted:g} h, and the latest "
            f"reading is {age_words(age_s)} old. {how}"
        )
    if not piece.holds:
        return f"The bench's check piece does not read as it should. {piece.words}"
    return ""


def touch_unmet(plan: Plan, touch: Touch | None) -> str:
    """Why the plan's wish for a touch test is not met; empty where it is, or there is none.

    The wish is for a test that tells, whatever it tells: the record and its report repeat it.
    """
    if not plan.touch_test or (touch is not None and touch.tells):
        return ""
    if touch is None:
        return "The plan wants a touch test. Do it, then sign off."
    return "The plan wants a touch test that tells, and the last one did not. Do it again."


def _checks(
    plan: Plan, calibration: Calibration | None, assumptions: Assumptions
) -> EvidenceResults | None:
    """What the checks of the calibration show; None where nobody asks."""
    asked = plan.verified_within_hours, plan.drift_checked_within_hours
    if calibration is None or asked == (None, None):
        return None
    return evidence_results(calibration, assumptions)


def _unmet_of(
    condition: Condition, plan: Plan, checks: EvidenceResults | None, until: datetime | None = None
) -> tuple[str, ...]:
    found, swept = [], len(condition.raw)
    if swept < plan.sweeps:
        found.append(
            f"The plan wants {plan.sweeps} sweeps that agree, and of the antenna {condition.label} "
            f"there {'is' if swept == 1 else 'are'} {swept}. Sweep it again."
        )
    if checks is not None:
        why = why_not_checked(plan, checks, condition.raw[-1].taken_at, until)
        if why and len(plan.conditions) > 1:
            why = f"Swept {condition.label}: {why[0].lower()}{why[1:]}"
        found += [why] if why else []
    return tuple(found)
