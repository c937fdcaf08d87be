"""The simple acceptance: the sweep that is shown, with all it rests on, into one folder."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from acceptance.record import compose_record
from acceptance.store import software, write_record
from acquire.sweep import Sweep
from calibration.capture import change_between
from calibration.store import calibration_text
from dashboard.errors import NotNowError
from dashboard.header import not_acceptable
from dashboard.snapshot import Snapshot


def write_down(
    now: Snapshot,
    before: Sweep | None,
    *,
    unit: str,
    operator: str,
    note: str,
    accepted_at: datetime,
    parent: Path,
) -> Path:
    """Write a snapshot's record below `parent` and return the record's folder.

    before : the raw sweep before the snapshot's: the two must agree, since a hand that is still
        at the antenna is no part of it.
    Raises NotNowError where there is nothing to accept, RecordError where it cannot be written.
    """
    why = not_acceptable(now)
    if why:
        raise NotNowError(why)
    calibration, plan = now.calibration.calibration, now.plan
    if not (now.sweep and now.corrected and now.verdict and plan and calibration):
        raise NotNowError("There is nothing to accept yet. Wait for the next sweep.")
    _require_steady(before, now.sweep)
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
        software=software(),
    )
    return write_record(record, parent)


def _require_steady(before: Sweep | None, now: Sweep) -> None:
    if before is None or before.request != now.request:
        raise NotNowError("One sweep alone shows no movement. Wait for the next one.")
    change = change_between(before.reflection, now.reflection)
    if not change.steady:
        raise NotNowError(
            f"The reading still moves: by {change.movement:.1g} from the last sweep to this one, "
            f"and {change.movement_limit:.1g} is noise. Let go of antenna and cable, then accept "
            "again."
        )
