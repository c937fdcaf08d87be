"""Whether a record's times hold together: what comes first is not dated after what follows it.

Clocks are set, and step by minutes when a network puts them right; more than that no order excuses.
That all of them were moved together, nothing in a folder can show.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from acceptance.record.acceptance_record import Acceptance, as_utc

CLOCKS_STEP = timedelta(minutes=10)
"""By so much a time may lie on the wrong side of another one."""
BEFORE_ALL_RECORDS = datetime(2020, 1, 1, tzinfo=UTC)
"""There was no such program before; a machine that lost its clock often begins in 1970 or 2000."""


def time_faults(acceptance: Acceptance, now: datetime | None = None) -> tuple[str, ...]:
    """What does not hold together, a sentence each; empty where all does.

    now : by the clock of whoever checks; None where nobody's is to be asked.
    """
    found = [*_order(acceptance)]
    for what, at in _times(acceptance):
        if at < BEFORE_ALL_RECORDS:
            found.append(f"{what} is dated {as_utc(at)}, before there was any record of this kind.")
        if now is not None and at - now > CLOCKS_STEP:
            found.append(
                f"{what} is dated {as_utc(at)}, which is still to come by this machine's clock "
                f"({as_utc(now)}). If that is wrong, set it right."
            )
    return tuple(found)


def _times(acceptance: Acceptance) -> Iterator[tuple[str, datetime]]:
    """Every time there is, with what it is of."""
    if acceptance.calibration is not None:
        yield "The calibration", acceptance.calibration.taken_at
    if acceptance.check_piece is not None:
        yield "The reading of the check piece", acceptance.check_piece.taken_at
    yield "The beginning", acceptance.begun_at
    for condition in acceptance.conditions:
        # of many sweeps of one condition the outermost tell
        times = sorted(each.taken_at for each in condition.raw)
        for at in dict.fromkeys((times[0], times[-1])):
            yield f"A sweep of the unit {condition.label}", at
    if acceptance.after_sweep is not None:
        for check in acceptance.after_sweep.checks:
            yield "A check after the sweep", check.taken_at
    if acceptance.accepted_at is not None:
        yield "The signing off", acceptance.accepted_at


def _order(acceptance: Acceptance) -> Iterator[str]:
    calibrated, accepted = acceptance.calibration, acceptance.accepted_at
    swept = [
        (what, at)
        for what, at in _times(acceptance)
        if what.startswith(("A sweep of", "A check after"))
    ]
    pairs = []
    if calibrated is not None:
        pairs += [("The calibration", calibrated.taken_at, *each) for each in swept]
    if accepted is not None:
        pairs.append(("The beginning", acceptance.begun_at, "the signing off", accepted))
        pairs += [(*each, "the signing off", accepted) for each in swept]
        if acceptance.check_piece is not None:
            piece = "The reading of the check piece"
            pairs.append((piece, acceptance.check_piece.taken_at, "the signing off", accepted))
    for before, first, after, second in pairs:
        if first - second > CLOCKS_STEP:
            yield (
                f"{before} is dated {as_utc(first)}, later than {after[0].lower()}{after[1:]}, "
                f"{as_utc(second)}."
            )
