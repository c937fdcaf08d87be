"""Whether a calibration was checked lately enough for an acceptance, as the plan wants it."""

from __future__ import annotations

from datetime import datetime

from acceptance.plan import Plan
from calibration.drift import age_words
from calibration.proven import Proven

CLOCKS_DIFFER_S = 60.0
"""By so much a clock may be corrected without a word."""


def why_not_checked(plan: Plan, found: Proven, at: datetime) -> str:
    """Why the plan's wish for a young check is not met at that time; empty where it is.

    A known device's agreement is a check for drift as well; a standard of the calibration put
    back is never a verification, for it says nothing of the standards.
    """
    verified, drift = found.youngest_agreement(), found.youngest_drift_check()
    wanted = plan.verified_within_hours
    if wanted is not None and not _young(verified, at, wanted):
        return (
            f"The plan wants a known device that agreed within {wanted:g} h, and "
            f"{_latest(verified, at)}. Measure one back: a second load, a mismatch, a certificate."
        )
    wanted = plan.drift_checked_within_hours
    checked = max((each for each in (verified, drift) if each is not None), default=None)
    if wanted is not None and not _young(checked, at, wanted):
        return (
            f"The plan wants a check for drift within {wanted:g} h, and {_latest(checked, at)}. "
            f"Put one of the calibration's standards back."
        )
    return ""


def _young(when: datetime | None, at: datetime, hours: float) -> bool:
    if when is None:
        return False
    return -CLOCKS_DIFFER_S <= (at - when).total_seconds() <= hours * 3600


def _latest(when: datetime | None, at: datetime) -> str:
    if when is None:
        return "there is none"
    age_s = (at - when).total_seconds()
    if age_s < -CLOCKS_DIFFER_S:
        return (
            f"the latest is dated {age_words(-age_s)} later than now, so this machine's clock was "
            "set back since; set it right, or check anew"
        )
    return f"the latest is {age_words(age_s)} old"
