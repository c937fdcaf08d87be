"""Whether a calibration was checked lately enough for an acceptance, as the plan wants it."""

from __future__ import annotations

from datetime import datetime

from acceptance.plan.acceptance_plan import Plan
from calibration.verification.drift import age_words
from calibration.verification.verified_budget import EvidenceResults

CLOCKS_DIFFER_S = 60.0
"""By so much a clock may be corrected without a word."""


def why_not_checked(
    plan: Plan, found: EvidenceResults, at: datetime, signed_off_at: datetime | None = None
) -> str:
    """Why the plan's wish for a young check is not met at that time; empty where it is.

    signed_off_at : of a sweep of the past, when its record was. What is measured back again takes
    the place of its check before, so a check between the two hides whether there was one before
    the sweep, which was looked at then: it counts.
    The agreement of a known device that reflects is a check for drift as well; a standard of the
    calibration put back is never a verification, for it says nothing of the standards.
    """
    if (plan.verified_within_hours or plan.drift_checked_within_hours) and found.contradictions:
        against = " ".join(each.words.partition("\n")[0] for each in found.contradictions)
        return (
            f"The plan wants a calibration that was checked, and a check contradicts it: {against} "
            "It stands until the same check agrees. Calibrate again, or check it again."
        )
    until = signed_off_at or at
    verified, wanted = found.youngest_agreement(), plan.verified_within_hours
    if wanted is not None and not _young(verified, at, wanted, until):
        return (
            f"The plan wants a known device that agreed within {wanted:g} h, and "
            f"{_latest(verified, at, until)}. Measure one back: a second load, a mismatch, a "
            f"certificate.{_unanswered(found)}"
        )
    checked, wanted = found.youngest_drift_check(), plan.drift_checked_within_hours
    if wanted is not None and not _young(checked, at, wanted, until):
        return (
            f"The plan wants a check for drift within {wanted:g} h, and "
            f"{_latest(checked, at, until)}. Put the calibration's open or short back; a load says "
            "nothing of tracking."
        )
    return ""


def _unanswered(found: EvidenceResults) -> str:
    """That a check counts for nothing before a person has answered what it asks."""
    if not any(each.asks for each in found.devices):
        return ""
    return (
        " The second load measured back reads as the one calibrated with does, and counts once it "
        "is said to be another piece."
    )


def _young(when: datetime | None, at: datetime, hours: float, until: datetime) -> bool:
    if when is None:
        return False
    young = (at - when).total_seconds() <= hours * 3600
    return young and (when - until).total_seconds() <= CLOCKS_DIFFER_S


def _latest(when: datetime | None, at: datetime, until: datetime) -> str:
    if when is None:
        return "there is none"
    later_s = (when - until).total_seconds()
    if later_s > CLOCKS_DIFFER_S:
        than = "now" if until == at else "the signing off"
        return (
            f"the latest is dated {age_words(later_s)} later than {than}, so this machine's clock "
            "was set back since; set it right, or check anew"
        )
    return f"the latest is {age_words((at - when).total_seconds())} old"
