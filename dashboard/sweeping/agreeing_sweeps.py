"""Sweeps that agree but for noise, averaged; or the last ones of those that never do."""

from __future__ import annotations

from collections.abc import Callable

from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged, Averaging
from calibration.capture.movement import change_between
from dashboard.errors import SetupError

PATIENCE = 4
"""Sweeps, in multiples of those wanted, in which a hand gets to let go."""


class CountedSweeps:
    """Takes sweeps, and counts them: each is a chance for the cable to move."""

    def __init__(self, take: Callable[[], Sweep]) -> None:
        self._take = take
        self.swept = 0
        """Sweeps taken so far; they count into drift, as on the page."""

    def __call__(self) -> Sweep:
        """Take the next one."""
        self.swept += 1
        return self._take()


def agreeing_sweeps(take: Callable[[], Sweep], wanted: int, patience: int = PATIENCE) -> Averaged:
    """Sweep until so many sweeps in a row are alike but for noise, and return their average.

    patience : how many to take at most, in multiples of those wanted.
    Raises SetupError where they never are: a moving antenna is not accepted.
    """
    found = several_sweeps(take, wanted, patience)
    if isinstance(found, Averaged):
        return found
    change = change_between(found[-2].reflection, found[-1].reflection)
    raise SetupError(
        f"The readings still move by {change.movement:.1g} after {patience * wanted} sweeps. "
        "Tighten the connector, let go of the antenna and the cable, and try again."
    )


def several_sweeps(
    take: Callable[[], Sweep], wanted: int, patience: int = PATIENCE
) -> Averaged | tuple[Sweep, ...]:
    """Sweep until so many in a row are alike; where they never are, the last ones as they are."""
    averaging = Averaging(wanted)
    last: list[Sweep] = []
    for _ in range(patience * wanted):
        sweep = take()
        averaged = averaging.add(sweep)
        if averaged.sweeps == wanted:
            return averaged
        last = [*last, sweep][-wanted:]
    return tuple(last)
