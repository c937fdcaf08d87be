"""The same dip from sweep to sweep: through noise, through merging, through crossing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from acceptance.tuning.dips import Dip


@dataclass(frozen=True, slots=True)
class Tracked:
    """A dip with the name it keeps from sweep to sweep."""

    number: int
    dip: Dip


FORGOTTEN_AFTER = 8
"""Sweeps for which a dip that vanished is still waited for; one that merged is, as long as the
other lives."""
FURTHEST_MOVE = 0.2
"""How far a dip moves between two looks, as a part of its frequency, and is still the same."""
DEPTH_WEIGHT = 0.5
"""How much another depth counts: so much in |G| as much as the furthest move."""
MERGED_WITHIN = 0.06
"""A dip that vanishes so near another, as a part of its frequency, has merged with it."""


@dataclass(frozen=True, slots=True)
class _Known:
    dip: Dip
    speed: float
    """d ln(frequency) a look, half believed."""
    missed: int = 0
    host: int | None = None
    """The dip it has merged with."""

    @property
    def heading_hz(self) -> float:
        return self.dip.frequency_hz * (1 + self.speed * (self.missed + 1))


class DipTracker:
    """Gives each dip a number that it keeps: through noise, through merging, through crossing."""

    def __init__(self) -> None:
        self._known: dict[int, _Known] = {}
        self._next = 1

    def begin_anew(self) -> None:
        """Another antenna: what is seen next is counted from 1 again."""
        self._known, self._next = {}, 1

    def add(self, dips: Sequence[Dip]) -> list[Tracked]:
        """Name the dips of the next sweep, in order of frequency.

        Pairs are made from the closest on; closeness counts where a dip was heading, and how deep
        it was. A dip that vanished is waited for where it was going, one that merged with another
        where that other goes, and as deep as it was before.
        """
        pairs = sorted(
            (apart, number, n)
            for number, known in self._known.items()
            for n, dip in enumerate(dips)
            if (apart := _apart(known, dip)) < np.inf
        )
        named: dict[int, int] = {}
        for _, number, n in pairs:
            if n not in named and number not in named.values():
                named[n] = number
        for n in range(len(dips)):
            if n not in named:
                named[n], self._next = self._next, self._next + 1
        self._remember({number: dips[n] for n, number in named.items()})
        return [Tracked(named[n], dip) for n, dip in enumerate(dips)]

    def _remember(self, seen: dict[int, Dip]) -> None:
        before, now = self._known, {}
        for number, dip in seen.items():
            last, speed = before.get(number), 0.0
            if last is not None and last.host is None:
                speed = 0.5 * (dip.frequency_hz / last.dip.frequency_hz - 1) / (last.missed + 1)
            now[number] = _Known(dip, speed)
        for number in before.keys() - seen.keys():
            last = before[number]
            host = last.host if last.host in seen else _near(last, seen)
            if host is not None:
                place = replace(last.dip, frequency_hz=seen[host].frequency_hz)
                now[number] = replace(last, dip=place, missed=0, host=host)
                if host in before:  # what is seen of the two is neither's own depth, nor speed
                    own = replace(seen[host], reflection=before[host].dip.reflection)
                    now[host] = _Known(own, before[host].speed)
            elif last.missed + 1 <= FORGOTTEN_AFTER:
                now[number] = replace(last, missed=last.missed + 1, host=None)
        self._known = now


def _apart(known: _Known, dip: Dip) -> float:
    """How unlike a dip is to one known; infinite where it is too far to be the same."""
    moved = abs(dip.frequency_hz / known.heading_hz - 1) / FURTHEST_MOVE
    deeper = (dip.reflection - known.dip.reflection) / DEPTH_WEIGHT
    return float(np.hypot(moved, deeper)) if moved <= 1 else float("inf")


def _near(known: _Known, seen: dict[int, Dip]) -> int | None:
    """The dip that one which vanished has merged with."""
    away = {n: abs(dip.frequency_hz / known.heading_hz - 1) for n, dip in seen.items()}
    nearest = min(away, key=lambda n: away[n], default=None)
    return nearest if nearest is not None and away[nearest] <= MERGED_WITHIN else None
