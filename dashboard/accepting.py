"""The simple acceptance: a steady sweep, with all it rests on, into one folder."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from acceptance.record import compose_record
from acceptance.store import software, write_record
from calibration.budget import Assumptions
from calibration.capture import change_between
from calibration.store import calibration_text
from dashboard.errors import NotNowError
from dashboard.header import not_acceptable
from dashboard.snapshot import Snapshot

MOST_SWEEPS = 12
"""How many sweeps a hand gets to leave the antenna alone."""


def steady_moment(asked: Snapshot, after: Callable[[Snapshot], Snapshot]) -> Snapshot:
    """Return the first moment from then on whose sweep is like the one before it, but for noise.

    asked : the moment when the person asked; its verdict must still hold.
    after : waits for the next sweep's moment; raises NotNowError where none comes.
    Raises NotNowError where there is nothing to accept, the reading keeps moving, or the verdict
    turned meanwhile.
    """
    require_acceptable(asked)
    before, movement = asked, 0.0
    for _ in range(MOST_SWEEPS):
        now = after(before)
        require_acceptable(now)
        if before.sweep and now.sweep and before.sweep.request == now.sweep.request:
            change = change_between(before.sweep.reflection, now.sweep.reflection)
            movement = change.movement
            if change.steady:
                _require_same_verdict(asked, now)
                return now
        before = now
    raise NotNowError(
        f"The reading still moves, by {movement:.1g} from one sweep to the next, after "
        f"{MOST_SWEEPS} sweeps. Let go of antenna and cable, then accept again."
    )


def write_down(
    now: Snapshot,
    *,
    unit: str,
    operator: str,
    note: str,
    accepted_at: datetime,
    assumptions: Assumptions,
    parent: Path,
) -> Path:
    """Write a moment's record below `parent` and return the record's folder.

    Raises NotNowError where there is nothing to accept, RecordError where it cannot be written.
    """
    require_acceptable(now)
    calibration, plan = now.calibration.calibration, now.plan
    if not (now.sweep and now.corrected and now.verdict and plan and calibration):
        raise NotNowError("There is nothing to accept yet. Wait for the next sweep.")
    record = compose_record(
        unit=unit,
        operator=operator,
        note=note,
        accepted_at=accepted_at,
        raw=now.sweep,
        corrected=now.corrected,
        calibration=calibration_text(calibration),
        plan=plan,
        verdict=now.verdict,
        assumptions=assumptions,
        software=software(),
    )
    return write_record(record, parent)


def require_acceptable(now: Snapshot) -> None:
    """Raise NotNowError, with the reason, where a moment must not be accepted."""
    why = not_acceptable(now)
    if why:
        raise NotNowError(why)


def _require_same_verdict(asked: Snapshot, now: Snapshot) -> None:
    if asked.verdict and now.verdict and asked.verdict.words != now.verdict.words:
        raise NotNowError(
            f'The verdict turned from "{asked.verdict.words}" to "{now.verdict.words}" while the '
            "reading settled. Look again, then accept."
        )
