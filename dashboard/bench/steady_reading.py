"""A steady moment: for accepting, one of which nothing speaks against accepting it."""

from __future__ import annotations

from collections.abc import Callable

from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from dashboard.acceptance_run.running_acceptance import PUT_BACK_PATIENCE, PUT_BACK_SWEEPS
from dashboard.bench.snapshot import Snapshot
from dashboard.errors import NotNowError, VerdictTurnedError

PATIENCE = 4
"""Sweeps, in multiples of those wanted, in which a hand gets to let go."""
RESTING_SWEEPS = 8
"""So many alike, and what is on the port is at rest."""
SINCE = 3
"""So many of them since the person asked: the first may have begun before."""


def steady_moment(begun: Snapshot, after: Callable[[Snapshot], Snapshot]) -> Snapshot:
    """Return the first moment from then on that averages as many sweeps as the plan wants.

    asked : the moment when the person asked; its verdict must still hold.
    after : waits for the next sweep's moment; raises NotNowError where none comes.
    Raises NotNowError where there is nothing to accept, the calibration was not checked lately
    enough, the reading keeps moving, or the verdict turned meanwhile.
    """
    require_acceptable(begun)
    wanted = 1 if begun.plan is None else begun.plan.sweeps
    now, _ = _resting(begun, after, wanted, require=require_acceptable, then="accept again")
    _require_same_verdict(begun, now)
    return now


def sweep_at_rest(begun: Snapshot, after: Callable[[Snapshot], Snapshot]) -> Sweep:
    """Return the raw mean of the first sweeps from then on that rest; arguments as above.

    Raises NotNowError where the reading keeps moving, or no sweep comes.
    """
    then = "take it again"
    return _resting(begun, after, RESTING_SWEEPS, require=_require_fresh, then=then, since=SINCE)[
        1
    ].sweep


def standard_at_rest(begun: Snapshot, after: Callable[[Snapshot], Snapshot]) -> Snapshot:
    """Return the first moment from then on at which what was put back rests; arguments as above.

    Raises NotNowError likewise.
    """
    return _resting(
        begun,
        after,
        PUT_BACK_SWEEPS,
        require=_require_fresh,
        then="press again",
        since=PUT_BACK_SWEEPS,
        patience=PUT_BACK_PATIENCE,
    )[0]


def _resting(
    begun: Snapshot,
    after: Callable[[Snapshot], Snapshot],
    wanted: int,
    *,
    require: Callable[[Snapshot], None],
    then: str,
    since: int = 1,
    patience: int = PATIENCE,
) -> tuple[Snapshot, Averaged]:
    """The first moment, so many sweeps after one, that averages as many whole sweeps as wanted."""
    now, movement = begun, 0.0
    for count in range(1, patience * wanted + 1):
        now = after(now)
        require(now)
        averaged = now.averaged
        if averaged is None or now.watched is not None:
            continue  # a moment put together from two is nobody's
        if averaged.sweeps >= wanted and count >= since:
            return now, averaged
        if averaged.change is not None and not averaged.steady:
            movement = averaged.change.movement
    raise NotNowError(
        f"The reading still moves, by {movement:.1g} from one sweep to the next, after "
        f"{patience * wanted} sweeps. Let go of antenna and cable, then {then}."
    )


def _require_fresh(now: Snapshot) -> None:
    if not now.fresh:
        raise NotNowError(f"No sweep comes. {now.port.message} Then take it again.")


def require_acceptable(now: Snapshot) -> None:
    """Raise NotNowError, with the reason, where a moment must not be accepted."""
    if against := now.obstacle:
        raise NotNowError(against.words)


def _require_same_verdict(begun: Snapshot, now: Snapshot) -> None:
    if begun.verdict and now.verdict and begun.verdict.words != now.verdict.words:
        raise VerdictTurnedError(
            f'The verdict turned from "{begun.verdict.words}" to "{now.verdict.words}" while the '
            "reading settled. Look again, then accept."
        )
