"""Numbers that one reply cannot vouch for: held against their neighbours, and against other sweeps.

Text and blocks on a serial line carry no check. A digit that changed on the way leaves a number
that is as good as any, but at one frequency only: what a cable and an antenna reflect changes
smoothly from point to point. So a point far from the cubic through its neighbours is doubtful,
unless another sweep shows the same there. Numbers in text that are not all written with as many
digits are doubtful too, unless the analyzer always writes so. Nothing smaller than
`OUTLIER_FLOOR`, or than the noise around it, is told so; nor is a point of a pass of fewer than
`FEWEST_POINTS`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.analyzer.exchanged_pieces import exchanged
from acquire.analyzer.repeated_numbers import Repeat, repeats
from acquire.sweep import ComplexArray, FloatArray, Reading, SweepRequest

OUTLIER_FLOOR = 1e-3
"""What is nearer to its neighbours' cubic is believed, linear: -60 dB."""
OUTLIER_FACTOR = 11.0
"""How many times farther off than a quarter of those around are at most: of 1e15 points with
Gaussian noise one is [derived: exp(-(11 x 0.76)^2 / 2)]."""
FEWEST_POINTS = 11
PAIR_DISTANCE = 4
"""Wrong numbers so near to each other have to be left out together."""
NOISE_BLOCK = 16
"""Points whose lower quartile tells the noise around them: wrong numbers do not reach it."""
MOST_SUSPECTS = 12
"""So many points are looked at, the farthest off first; one wrong number makes up to seven."""
LEFT_OVER, LEFT_OVER_OF_TWO = 1 / 6, 1 / 20
"""How far off, of what stood out, its neighbours may be once it is left out: else it is a dip, a
step or noise, and no wrong number. Leaving two out makes even a step look smooth to a tenth."""
CONFIRMED_SHARE = 0.25
"""How much two sweeps may differ, of what stands out in both, to vouch for each other."""
MOVEMENT_POINTS = 8
"""Points to either side whose movement is taken together."""
MOVEMENT_FACTOR, SLOWER_FACTOR = 2.0, 3.0
"""How much farther a point may be off than all around it moved; how much longer than the one
before a sweep may have taken for that to be told."""
CUT_POINTS = 2
"""Beside a piece that came twice or changed places: a number may have been cut in two there."""
UNLIKE_REPLIES = 3
"""So many replies in a row with numbers of different length, and that is how the analyzer
writes."""
# The noise of what is compared, in that of one point [derived: root of the sum of squares].
_NOISE_EDGE, _NOISE_NEXT, _NOISE_WITHIN = 70**0.5, 4.375**0.5, (70 / 36) ** 0.5


@dataclass(frozen=True, slots=True)
class Outlier:
    """One point, or two that go together, far from what lies around."""

    points: tuple[int, ...]
    by: tuple[complex, ...]
    """How far each is off, linear."""


def outliers(values: ComplexArray, floor: float = OUTLIER_FLOOR) -> list[Outlier]:
    """Single points, and pairs near each other, that do not fit between their neighbours.

    values : complex, shape (points,), equally spaced; one that is not finite is not judged.
    """
    size = values.size
    if size < FEWEST_POINTS:
        return []
    seen = np.isfinite(values)
    left = values.copy() if seen.all() else _filled(values, seen)
    off = np.abs(_difference_from_cubic(left)) / _noise(size)
    allowed = OUTLIER_FACTOR * _noise_around(off)
    suspect = seen & (off > np.maximum(floor / _noise(size), allowed))
    if not suspect.any():
        return []
    found: list[Outlier] = []
    for at in sorted(np.flatnonzero(suspect), key=lambda each: -off[each])[:MOST_SUSPECTS]:
        outlier = _outlier_at(int(at), left, floor, allowed[at])
        if outlier is not None:
            found.append(outlier)
            left[list(outlier.points)] -= outlier.by
    return found


def _outlier_at(at: int, values: ComplexArray, floor: float, allowed: float) -> Outlier | None:
    """The fewest points, this one among them, without which all around it is smooth."""
    for points in _sets(at, values.size):
        around, weights = _fit(points, values.size)
        by = values[list(points)] - weights @ values[around]
        noise = np.sqrt(1.0 + (weights**2).sum(axis=1))
        far = (np.abs(by) > floor) & (np.abs(by) > allowed * noise)
        if not far.any():
            return None
        left_over = LEFT_OVER if len(points) == 1 else LEFT_OVER_OF_TWO
        without_them = values.copy()
        without_them[list(points)] -= by
        around_them = slice(min(*around, points[0]), max(*around, points[-1]) + 1)
        still = np.abs(_difference_from_cubic(without_them)) / _noise(values.size)
        if still[around_them].max() <= left_over * (np.abs(by) / noise).max():
            chosen = [k for k in range(len(points)) if far[k]]
            return Outlier(tuple(points[k] for k in chosen), tuple(complex(by[k]) for k in chosen))
    return None


def in_order(request: SweepRequest, frequency_hz: FloatArray) -> bool:
    """True where frequencies are just those asked for, in whole hertz, or all one step apart.

    Then none of them was changed on the way; an analyzer that rounds otherwise has to tell them
    twice.
    """
    steps = np.diff(frequency_hz)
    return bool(
        np.array_equal(frequency_hz, np.rint(request.grid_hz())) or (steps == steps[0]).all()
    )


def differences_at(values: ComplexArray, points: Sequence[int]) -> ComplexArray:
    """How far some points are from the cubic through their nearest two neighbours each side."""
    around, weights = _fit(points, values.size)
    by: ComplexArray = values[list(points)] - weights @ values[around]
    return by


def is_confirmed(outlier: Outlier, other: ComplexArray) -> bool:
    """True where another sweep of the same points shows the same, shape (points,)."""
    there = differences_at(other, outlier.points)
    return bool(
        (np.abs(there - np.array(outlier.by)) <= CONFIRMED_SHARE * np.abs(outlier.by)).all()
    )


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """A reading, and when it was taken."""

    reading: Reading
    began_s: float
    ended_s: float

    def follows(self, other: Take) -> bool:
        """True where this one was taken right after the other, and no slower."""
        lasted_s = other.ended_s - other.began_s
        return (
            self.began_s - other.ended_s <= lasted_s
            and self.ended_s - self.began_s <= SLOWER_FACTOR * lasted_s
        )


class ReferenceSweeps:
    """The readings of one request that speak for or against a new one; for one thread."""

    def __init__(self, *, any_order: bool = False) -> None:
        """any_order : whether neighbours may have been taken a sweep apart. Then a point that is no
        farther off than all around it moved since the reading right before is not doubted."""
        self._any_order = any_order
        self._before: Take | None = None
        self._tries: list[Take] = []
        self._unlike_replies = 0

    def suspect(self, request: SweepRequest, take: Take) -> tuple[bool, list[int]]:
        """Whether a new reading is doubtful as a whole, and which of its points are."""
        others = [*self._tries, *([] if self._before is None else [self._before])]
        self._tries.append(take)
        reported_hz = take.reading.frequency_hz
        listed = any(np.array_equal(each.reading.frequency_hz, reported_hz) for each in others)
        if not listed and self._before is None:
            listed = in_order(request, reported_hz)
        points = [
            at
            for each in outliers(take.reading.reflection)
            if not any(self._confirms(other, take, each) for other in others)
            for at in each.points
        ]
        if self._stuck(take, others):
            return True, points
        points += self._displaced(take, others)
        self._unlike_replies = 0 if take.reading.alike else self._unlike_replies + 1
        return not listed or 0 < self._unlike_replies < UNLIKE_REPLIES, points

    def _stuck(self, take: Take, others: Sequence[Take]) -> bool:
        """True where one point was told for all of them, and not so before."""
        runs = [run for run in repeats(take.reading.reflection) if run.is_all_of_it]
        return any(not _repeated_in(run, others) for run in runs)

    def _displaced(self, take: Take, others: Sequence[Take]) -> list[int]:
        """Points of pieces that came twice or changed places, with those that were cut in two.

        Records in any order tell where each belongs: nothing of them changes places.
        """
        reflection = take.reading.reflection
        pieces: list[tuple[int, int]] = []
        for run in repeats(reflection):
            if not _repeated_in(run, others):
                pieces += run.places
        if not self._any_order:
            for each in exchanged(reflection):
                if not any(each in exchanged(other.reading.reflection) for other in others):
                    pieces.append(each.place)
        return [
            at
            for begin, end in pieces
            for at in range(max(0, begin - CUT_POINTS), min(reflection.size, end + CUT_POINTS))
        ]

    def accept(self, reading: Reading) -> None:
        """Hold the next one against this, the last that was taken."""
        last = self._tries[-1]
        self._before = Take(reading, last.began_s, last.ended_s)
        self._tries.clear()

    def give_up(self) -> None:
        """Forget the tries; what was believed before them stays."""
        self._tries.clear()

    def forget(self) -> None:
        """Believe nothing that came before."""
        self._before = None
        self._tries.clear()

    def _confirms(self, other: Take, take: Take, outlier: Outlier) -> bool:
        if is_confirmed(outlier, other.reading.reflection):
            return True
        if not (self._any_order and take.follows(other)):
            return False
        around = slice(
            max(0, outlier.points[0] - MOVEMENT_POINTS), outlier.points[-1] + MOVEMENT_POINTS + 1
        )
        moved = np.abs(take.reading.reflection[around] - other.reading.reflection[around])
        return bool(max(map(abs, outlier.by)) <= MOVEMENT_FACTOR * np.nanmedian(moved))


def _repeated_in(run: Repeat, others: Sequence[Take]) -> bool:
    """True where more than half of the other replies repeat numbers at the same places: a line may
    well do the same to the same place twice."""
    return 2 * sum(run.is_in(other.reading.reflection) for other in others) > len(others)


def without(reading: Reading, points: Sequence[int]) -> Reading:
    """The same reading with some points not measured."""
    reflection = reading.reflection.copy()
    reflection[list(points)] = complex(np.nan, np.nan)
    return Reading(reading.frequency_hz, reflection)


def _difference_from_cubic(values: ComplexArray) -> ComplexArray:
    """Each value less the cubic through its neighbours, shape (points,)."""
    off = np.empty_like(values)
    x = values
    off[2:-2] = x[2:-2] - (4.0 * (x[1:-3] + x[3:-1]) - x[:-4] - x[4:]) / 6.0
    for end in (x, x[::-1]):
        into = off if end is x else off[::-1]
        into[0] = end[0] - 4.0 * end[1] + 6.0 * end[2] - 4.0 * end[3] + end[4]
        into[1] = end[1] - (end[0] + 6.0 * end[2] - 4.0 * end[3] + end[4]) / 4.0
    return off


def _noise(size: int) -> FloatArray:
    noise = np.full(size, _NOISE_WITHIN)
    noise[[0, -1]], noise[[1, -2]] = _NOISE_EDGE, _NOISE_NEXT
    return noise


def _noise_around(off: FloatArray) -> FloatArray:
    """The lower quartile of the block a point is in, or of one beside it where that is larger."""
    size = min(NOISE_BLOCK, off.size)
    blocks = off[: off.size // size * size].reshape(-1, size)
    quartile = np.partition(blocks, size // 4, axis=1)[:, size // 4]
    largest = quartile.copy()
    np.maximum(largest[1:], quartile[:-1], out=largest[1:])
    np.maximum(largest[:-1], quartile[1:], out=largest[:-1])
    # what is left over at the end goes with the last block
    return largest[np.minimum(np.arange(off.size) // size, quartile.size - 1)]


def _sets(at: int, size: int) -> list[tuple[int, ...]]:
    """The point alone, and with one so near that both blur what lies around."""
    neighbours = [at + way * far for far in range(1, PAIR_DISTANCE + 1) for way in (1, -1)]
    pairs = [tuple(sorted((at, other))) for other in neighbours if 0 <= other < size]
    return [(at,), *pairs]


def _fit(points: Sequence[int], size: int) -> tuple[list[int], FloatArray]:
    """The four points around some, two on each side where there are, and their weights."""
    low = list(range(points[0] - 1, -1, -1))[:4]
    high = list(range(points[-1] + 1, size))[:4]
    lows = max(min(2, len(low)), 4 - len(high))
    around = [*low[:lows], *high[: 4 - lows]]
    return around, np.array([_lagrange(around, at) for at in points])


def _lagrange(nodes: Sequence[int], at: int) -> FloatArray:
    """Weights of the polynomial through some points, at another."""
    weights = np.ones(len(nodes))
    for k, node in enumerate(nodes):
        for other in nodes:
            if other != node:
                weights[k] *= (at - other) / (node - other)
    return weights


def _filled(values: ComplexArray, seen: np.ndarray) -> ComplexArray:
    """What was not measured, drawn straight between what was."""
    if seen.sum() < FEWEST_POINTS:
        return np.zeros_like(values)
    at = np.arange(values.size)
    real = np.interp(at, at[seen], values.real[seen])
    imaginary = np.interp(at, at[seen], values.imag[seen])
    filled: ComplexArray = real + 1j * imaginary
    for each in np.flatnonzero(~seen):
        filled[each] -= differences_at(filled, (int(each),))[0]
    return filled
