"""Checks after the sweep: a standard put back when an antenna was swept, and what that decides.

The first check after a condition's sweep decides it: a later one, made once a nut was tightened,
says nothing of what was swept while it hung loose. So after a failed check the antenna is swept
again, and then checked again; the failed one stays in the record.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from acceptance.errors import VerdictError
from acceptance.limits.decision import State
from acceptance.plan.acceptance_plan import CheckRule, Plan
from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged, average
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.put_back import PutBack, put_back

WAIVED = (
    "The plan waives the check after the sweep: whether the calibration still held then, nothing "
    "shows."
)
BY_BATCH = (
    "Whether the calibration still held is checked for the whole batch: at its start, every tenth "
    "antenna and its end. `bandwright recheck` finds what those checks showed."
)


@dataclass(frozen=True, slots=True, eq=False)
class StandardCheck:
    """A standard put back, as it was swept."""

    raw: tuple[Sweep, ...]
    """One sweep, or several that agree, in the order taken."""
    sweeps_since_calibration: int = 0

    @property
    def taken_at(self) -> datetime:
        """When the last of its sweeps was taken."""
        return self.raw[-1].taken_at


@dataclass(frozen=True, slots=True, eq=False)
class ChecksAfterSweep:
    """All of one acceptance, in the order taken."""

    checks: tuple[StandardCheck, ...] = ()
    batch_check: str = ""
    """Of one of a batch: the folder of the batch's last check before it, and its sum."""


def examined_check(
    check: StandardCheck,
    calibration: Calibration,
    assumptions: Assumptions,
    plan: Plan,
    antenna: Sweep | None = None,
) -> PutBack:
    """What one check shows; the same from the raw sweeps of a record as on the bench.

    antenna : raw, what was swept before. Raises as `put_back`, and VerdictError where its sweeps
    do not agree with each other.
    """
    return put_back(
        calibration,
        averaged_check(check),
        assumptions,
        swept=check.sweeps_since_calibration,
        antenna=antenna,
        spans=plan.spans,
    )


def averaged_check(check: StandardCheck) -> Averaged:
    """The average of a check's sweeps. Raises VerdictError where they do not agree."""
    averaged = average(check.raw)
    if averaged is None:
        raise VerdictError(
            "The sweeps of the standard put back do not agree with each other. Hands off, and "
            "sweep it again."
        )
    return averaged


def check_of(swept_at: datetime, checks: Sequence[PutBack]) -> PutBack | None:
    """The first check after a sweep; None where there is none."""
    after = [each for each in checks if each.taken_at >= swept_at]
    return min(after, key=lambda each: each.taken_at, default=None)


def with_check(verdict: Verdict, rule: CheckRule, check: PutBack | None) -> Verdict:
    """A verdict and what the check after its sweep says of it.

    A check that failed leaves nothing measured: the interval no longer holds, either way.
    """
    if check is None:
        notes = {"none": (WAIVED,), "batch": (BY_BATCH,), "each": ()}[rule]
        return replace(verdict, notes=(*verdict.notes, *notes))
    noted = replace(verdict, notes=(*verdict.notes, check.words))
    if check.holds:
        return noted
    bands = tuple(
        replace(each, state=State.NOT_MEASURED, false_pass_risk=None, reason=check.words)
        for each in noted.bands
    )
    return replace(noted, bands=bands, overall=State.NOT_MEASURED)


def check_as_json(check: PutBack) -> dict[str, Any]:
    """What `verdict.json` tells of a check."""
    at = check.worst
    return {
        "standard": check.standard,
        "taken_at": check.taken_at.isoformat(),
        "holds": check.holds,
        "words": check.words,
        "change": float(check.change[at]),
        "allowed": float(check.allowed[at]),
        "frequency_hz": float(check.frequency_hz[at]),
    }
