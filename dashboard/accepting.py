"""The moment that is accepted: a steady sweep, of which nothing speaks against accepting it."""

from __future__ import annotations

from collections.abc import Callable

from dashboard.acceptable import not_acceptable
from dashboard.errors import NotNowError
from dashboard.snapshot import Snapshot

PATIENCE = 4
"""Sweeps, in multiples of those wanted, in which a hand gets to let go."""


def steady_moment(asked: Snapshot, after: Callable[[Snapshot], Snapshot]) -> Snapshot:
    """Return the first moment from then on that averages as many sweeps as the plan wants.

    asked : the moment when the person asked; its verdict must still hold.
    after : waits for the next sweep's moment; raises NotNowError where none comes.
    Raises NotNowError where there is nothing to accept, the calibration was not checked lately
    enough, the reading keeps moving, or the verdict turned meanwhile.
    """
    require_acceptable(asked)
    wanted = 1 if asked.plan is None else asked.plan.sweeps
    now, movement = asked, 0.0
    for _ in range(PATIENCE * wanted):
        now = after(now)
        require_acceptable(now)
        averaged = now.averaged
        if averaged is None or now.watched is not None:
            continue  # a moment put together from two is nobody's
        if averaged.sweeps >= wanted:
            _require_same_verdict(asked, now)
            return now
        if averaged.change is not None and not averaged.steady:
            movement = averaged.change.movement
    raise NotNowError(
        f"The reading still moves, by {movement:.1g} from one sweep to the next, after "
        f"{PATIENCE * wanted} sweeps. Let go of antenna and cable, then accept again."
    )


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
