"""Numbers that came twice in a reply, where that cannot be chance.

A piece of bytes that came twice in place of the next leaves a reply of the right length, whose
numbers are sound and, where the curve is smooth, hardly stand out. But they are the same to the
last digit as others of the reply, one after the other. So they are in a flat load's sweep too, told
in six decimals. Which of the two it is, the reply itself tells: how far numbers as far apart differ
beside the run, in steps of its resolution, is how likely each further one is the same by chance.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analyzer.curve_steps import bend, least_step, steps
from acquire.sweep import ComplexArray, FloatArray

LEAST_CHANCE = 1e-6
"""A run that is to be expected in fewer replies than that is no chance."""
LEAST_CHANCE_BEHIND = 2.5e-4
"""The same where it stands right behind what it repeats, as bytes that came twice do; an honest
reply has far fewer places for that."""
AROUND = 32
"""Numbers to either side of a run that tell how numbers so far apart differ."""
FAR_ASIDE = (-8, -6, -4, -2, 2, 4, 6, 8)
"""Other distances at which they are held against each other, in numbers: real parts with real."""
DENSITY = 0.3
"""Of a Gaussian of median deviation 1, in its middle: 0.27 [derived]."""
MOST_TIMES = 3
"""A piece that is the same again more often than that is no fault of a line."""
FEWEST_BESIDE = 6
"""So many numbers as far apart as those of the run tell by themselves how those differ: less, where
the curve has just that period."""
COARSE_DECIMALS = 4
"""Decimals; with so few, all numbers of a flat curve may well be the same."""
MOST_DIGITS, TOLERANCE = 13, 1e-4
"""Of numbers in text; with more they are as good as a double; and how far a rounded one may be off
what it was rounded to, in last digits."""
BESIDE = 1
"""Points; a number may have been cut in two where a piece began."""
MOST_PLACES = 400
"""So many runs of one length by chance, and only longer ones are looked at."""

Index = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Repeat:
    """Numbers of a reply, real and imaginary parts in turn, that came before in it."""

    begin: int
    """Where those stand that came first."""
    behind: int
    """How many numbers behind them they stand again."""
    length: int
    is_all_of_it: bool = False
    """True where one point was told for every other."""

    @property
    def places(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Where both stand, as points: from, and up to."""
        starts = (self.begin, self.begin + self.behind)
        first, again = ((at // 2, (at + self.length + 1) // 2) for at in starts)
        return first, again

    def is_in(self, reflection: ComplexArray) -> bool:
        """True where another reply of the same points repeats the same places."""
        numbers = _numbers(reflection)
        first = slice(self.begin, self.begin + self.length)
        again = slice(first.start + self.behind, first.stop + self.behind)
        return bool(np.array_equal(numbers[first], numbers[again]))


def repeats(reflection: ComplexArray) -> list[Repeat]:
    """The runs of numbers that came twice, by no chance.

    reflection : complex, shape (points,); what is not finite repeats nothing.
    """
    numbers = _numbers(reflection)
    if _is_stuck(numbers):
        return [Repeat(0, 2, numbers.size - 2, is_all_of_it=True)]
    found: list[Repeat] = []
    step_at, stepped = _resolution(numbers), _stepped(reflection)
    finite = numbers[np.isfinite(numbers)]
    # numbers of a reply differ by no more, and from one to the next by twice that
    most = 2.0 * float(np.ptp(finite)) if finite.size else 0.0
    for run in _runs(numbers):
        if run.length > MOST_TIMES * run.behind:
            continue  # a curve with a period
        step = step_at(float(np.abs(numbers[run.begin : run.begin + run.length]).max()))
        least = run.length * np.log10(DENSITY * step / max(most, DENSITY * step))
        if not _is_no_chance(numbers, run, least):
            continue  # whatever is beside it
        if _is_no_chance(numbers, run, _log_chance(numbers, run, step)) or (
            # several pieces that came twice would make each other look usual
            _steps_at_its_ends(reflection, run, stepped)
            and _is_no_chance(numbers, run, _log_chance(numbers, run, step, alone=True))
        ):
            found.append(run)
    return found


def _is_no_chance(numbers: FloatArray, run: Repeat, chance: float) -> bool:
    """chance : the decimal logarithm of that of just these numbers."""
    # pairs of places at which it could have been, and those right behind one another
    anywhere = chance + 2 * np.log10(numbers.size) - np.log10(2)
    behind = chance + np.log10(numbers.size * (run.length + 2))
    return bool(
        anywhere < np.log10(LEAST_CHANCE)
        or (run.length >= run.behind - 2 and behind < np.log10(LEAST_CHANCE_BEHIND))
    )


def _stepped(reflection: ComplexArray) -> FloatArray:
    """The points at which the curve steps, in the real part or the imaginary."""
    at: set[int] = set()
    for values in (reflection.real, reflection.imag):
        with np.errstate(invalid="ignore"):  # infinity less infinity
            bends = bend(values)
        at.update(steps(bends, least_step(bends)))
    return np.array(sorted(at), dtype=np.float64)


def _steps_at_its_ends(reflection: ComplexArray, run: Repeat, stepped: FloatArray) -> bool:
    """True where the curve steps into what came again, and out of it."""
    begin, end = run.places[1]
    into = begin <= BESIDE or bool((np.abs(stepped - begin) <= BESIDE).any())
    out = end >= reflection.size - BESIDE or bool((np.abs(stepped - end) <= BESIDE).any())
    return into and out


def _numbers(reflection: ComplexArray) -> FloatArray:
    return np.ascontiguousarray(reflection).view(np.float64)


def _is_stuck(numbers: FloatArray) -> bool:
    """True where every point is the same to the last of many digits: no receiver is so quiet."""
    same = numbers.size > 2 and bool((numbers[2:] == numbers[:-2]).all())
    return same and not np.array_equal(np.round(numbers, COARSE_DECIMALS), numbers)


def _runs(numbers: FloatArray) -> Iterator[Repeat]:
    """Runs of two numbers and more that stand in two places, or three; each once.

    Windows of 2, 4, 8, ... numbers are told apart by rank, each length by the ranks of the one
    before [Karp, Miller, Rosenberg 1972: memory], so that any distance costs the same.
    """
    seen: set[tuple[int, int]] = set()
    _, rank = np.unique(numbers, return_inverse=True)
    missing = ~np.isfinite(numbers)
    rank[missing] = numbers.size + np.flatnonzero(missing)  # each is like no other
    width = 1
    while 2 * width < numbers.size:
        pair = rank[: rank.size - width] * np.int64(2 * numbers.size) + rank[width:]
        _, rank, count = np.unique(pair, return_inverse=True, return_counts=True)
        width *= 2
        if count.max() == 1:
            return
        places = np.flatnonzero((count[rank] == 2) | (count[rank] == 3))
        if places.size > MOST_PLACES:
            continue
        order = places[np.argsort(rank[places], kind="stable")]
        for first, second in zip(order[:-1].tolist(), order[1:].tolist(), strict=True):
            if rank[first] == rank[second]:
                run = _whole_run(numbers, first, second - first, width)
                if (run.begin, run.behind) not in seen:
                    seen.add((run.begin, run.behind))
                    yield run


def _whole_run(numbers: FloatArray, at: int, behind: int, width: int) -> Repeat:
    """A run made as long as it is, both ways."""
    begin, end = at, at + width
    while begin > 0 and numbers[begin - 1] == numbers[begin - 1 + behind]:
        begin -= 1
    while end + behind < numbers.size and numbers[end] == numbers[end + behind]:
        end += 1
    return Repeat(begin, behind, end - begin)


def _log_chance(numbers: FloatArray, run: Repeat, step: float, *, alone: bool = False) -> float:
    """The decimal logarithm of how likely just these numbers are the same by chance.

    step : what the last digit of such numbers is worth. alone : whether numbers beside the run that
    are the same as others count for nothing.
    """
    chance = 0.0
    for part in range(2):
        at = np.arange(run.begin, run.begin + run.length)
        of_part = int((at % 2 == part).sum())
        if of_part:
            first, next_ = _chances(numbers, run, part, step, alone=alone)
            chance += np.log10(first) + (of_part - 1) * np.log10(next_)
    return float(chance)


def _chances(
    numbers: FloatArray, run: Repeat, part: int, step: float, *, alone: bool
) -> tuple[float, float]:
    """How likely two numbers so far apart are the same, and how likely the next two are then.

    What they differ by beside the run, and at other distances, has some spread, and so has its
    change from one number to the next: noise is new each time, a curve goes on as it went.
    """
    low, high = max(0, run.begin - AROUND), run.begin + run.length + AROUND
    differ: list[FloatArray] = []
    for aside in (0, *(each for each in FAR_ASIDE if run.behind + each > 0)):
        at = np.arange(low, min(high, numbers.size - run.behind - aside))
        at = at[at % 2 == part]
        off = numbers[at + run.behind + aside] - numbers[at]
        if aside == 0:
            off[(at >= run.begin) & (at < run.begin + run.length)] = np.nan
        differ.append(off)
    change = np.concatenate([np.diff(each) for each in differ])
    # where the curve has just that period, those as far apart tell more than all together
    beside = [differ[0]] if np.isfinite(differ[0]).sum() >= FEWEST_BESIDE else []
    if alone:
        return _by_spread(np.concatenate(differ), step), _by_spread(change, step)
    first = max(_chance(each, step) for each in (np.concatenate(differ), *beside))
    return first, max(_chance(change, step), *map(_share, (np.concatenate(differ), *beside)), 0.0)


def _resolution(numbers: FloatArray) -> Callable[[float], float]:
    """What the last digit of a number is worth by its size, as this reply tells numbers."""
    sound = numbers[np.isfinite(numbers) & (numbers != 0.0)]
    for decimals in range(MOST_DIGITS):
        if np.array_equal(np.round(sound, decimals), sound):
            last = float(10.0**-decimals)
            return lambda _size: last
    for digits in range(1, MOST_DIGITS):
        leading = 10.0 ** (np.floor(np.log10(np.abs(sound))) - digits)
        if (np.abs(sound / leading - np.rint(sound / leading)) < TOLERANCE).all():
            behind = digits
            return lambda size: float(10.0 ** (np.floor(np.log10(size or 1.0)) - behind))
    single = bool((sound.astype(np.float32) == sound).all())
    return lambda size: float(np.spacing(np.float32(size)) if single else np.spacing(size))


def _chance(differ: FloatArray, step: float) -> float:
    """How likely what has such a spread, or was so often nothing, is nothing."""
    return max(_by_spread(differ, step), _share(differ))


def _by_spread(differ: FloatArray, step: float) -> float:
    """How likely what has such a spread is nothing, told in such steps."""
    size = np.abs(differ[np.isfinite(differ)])
    middle = float(np.median(size)) if size.size else 0.0
    return min(1.0, DENSITY * step / max(middle, DENSITY * step))


def _share(differ: FloatArray) -> float:
    """How many of so many are nothing, at most: two deviations above what was counted."""
    size = differ[np.isfinite(differ)]
    same = int((size == 0).sum())
    return min(1.0, (same + 2 * same**0.5) / size.size) if same else 0.0
