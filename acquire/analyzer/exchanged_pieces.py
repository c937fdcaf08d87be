"""Two pieces of a reply, each in the other's place.

Where they meet, and where they begin and end, the curve steps; put back, it steps nowhere. Nothing
that an antenna or a hand does is mended so.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from acquire.analyzer.curve_steps import bend, least_step, steps
from acquire.sweep import ComplexArray, FloatArray

MENDED = 1 / 6
"""How much of the steps may be left when the pieces are back in place."""
USUAL_FACTOR = 2.0
"""How much of a bend, in half of all others, is none where a step was low to begin with."""
STILL_FACTOR = 4.0
"""The same where several exchanges are undone, as many places then have to be smooth."""
OTHERS = 0.2
"""How high another step may be, in the highest of those that are mended."""
FEWEST_POINTS = 11
MOST_EXCHANGES = 3
"""So many in one reply, which may overlap, are undone one after the other."""
FEWEST_TANGLED, MOST_TANGLED = 3, 9
"""Steps that several exchanges leave: three each, less those that fall together or are low."""
LEAST_OF_HIGHEST = 0.05
TRIED_NEXT = 4
"""So many ways of undoing one exchange are gone on with, those that leave least first."""


@dataclass(frozen=True, slots=True)
class Exchange:
    """Two pieces as long as each other, one right behind the other."""

    part: int
    """0: of the real parts, 1: of the imaginary."""
    begin: int
    length: int

    @property
    def place(self) -> tuple[int, int]:
        """Where both stand, as points: from, and up to."""
        return self.begin, self.begin + 2 * self.length


def exchanged(reflection: ComplexArray) -> list[Exchange]:
    """Pieces that stand in each other's place; reflection is complex, shape (points,)."""
    if reflection.size < FEWEST_POINTS or not np.isfinite(reflection).all():
        return []
    parts = (reflection.real, reflection.imag)
    found = []
    for part, values in enumerate(parts):
        bends = bend(values)
        # two of the three steps tell where the third is, which may be a low one, or at an end
        at = steps(bends, least_step(bends))
        alone = [
            places
            for places in sorted(_triples(at, values.size))
            if _are_alone(bends, at, places) and _mends(values, bends, *places)
        ]
        if not alone and len(at) >= FEWEST_TANGLED:
            # where a piece began with an imaginary part, the real one is of the point behind it
            aside = (0, -1) if part == 0 else (0, 1)
            corrected = _untangled(values, bends)
            if any(_is_smooth_too(parts[1 - part], corrected, by) for by in aside):
                alone = corrected
        found += [Exchange(part, begin, middle - begin) for begin, middle, _ in alone]
    return found


Number = TypeVar("Number", bound=np.generic)
Places = tuple[int, int, int]
"""Where two pieces begin, meet and end."""


def _triples(at: list[int], size: int) -> set[Places]:
    """The places of two pieces as long as each other, where the curve steps at two of them."""
    found = set()
    for one, two in itertools.combinations(at, 2):
        found |= {(one, two, 2 * two - one), (2 * one - two, one, two)}
        if (one + two) % 2 == 0:
            found.add((one, (one + two) // 2, two))
    return {each for each in found if each[0] >= 0 and each[2] <= size}


def _untangled(values: FloatArray, bends: FloatArray) -> list[Places]:
    """The exchanges without which no step is left anywhere, the last first; none where there is no
    such way."""
    least = _least_tangled(bends)
    at = steps(bends, least)
    left = max(MENDED * min(bends[each] for each in at), STILL_FACTOR * float(np.median(bends)))

    def undo(values: FloatArray, corrected: list[Places]) -> list[Places]:
        if _is_smooth(values, {each for one in corrected for each in one} | set(at), least, left):
            return corrected
        still = steps(bend(values), least)
        ways = sorted(_triples(still, values.size))
        if len(corrected) == MOST_EXCHANGES or len(still) > MOST_TANGLED or not ways:
            return []
        backs = values[np.array([_back(np.arange(values.size), *each) for each in ways])]
        best = np.argsort(bend(backs).sum(axis=1), kind="stable")[:TRIED_NEXT]
        tried = (undo(backs[each], [*corrected, ways[each]]) for each in best.tolist())
        return next((found for found in tried if found), [])

    return undo(values, [])


def _least_tangled(bends: FloatArray) -> float:
    """How high a step is at least that several exchanges are told by: a curve bends at its ends."""
    return max(least_step(bends), LEAST_OF_HIGHEST * float(bends.max()))


def _is_smooth(values: FloatArray, places: set[int], least: float, left: float) -> bool:
    """True where no step is left, and next to nothing at the places where there was one."""
    inner = sorted(each for each in places if 0 < each < values.size)
    drawn = (values, *(_drawn_over(values, inner, aside) for aside in (0, -1)))
    return any(
        bool((each <= least).all() and (each[inner] <= left).all()) for each in map(bend, drawn)
    )


def _is_smooth_too(values: FloatArray, corrected: list[Places], aside: int) -> bool:
    """True where the same exchanges, undone, leave the other part without a step too."""
    if not corrected:
        return False
    bends = bend(values)
    moved = [(begin + aside, middle + aside, end + aside) for begin, middle, end in corrected]
    if min(map(min, moved)) < 0 or max(map(max, moved)) > values.size:
        return False
    for each in moved:
        values = _back(values, *each)
    left = max(MENDED * float(bends.max()), STILL_FACTOR * float(np.median(bends)))
    return _is_smooth(values, {at for each in moved for at in each}, _least_tangled(bends), left)


def _are_alone(bends: FloatArray, at: list[int], places: Places) -> bool:
    """True where no other step is nearly as high: several are the analyzer's own, as where it
    switches range."""
    high = max(bends[each] for each in places if each < bends.size)
    others = [each for each in at if all(abs(each - place) > 1 for place in places)]
    return all(bends[each] < OTHERS * high for each in others)


def _mends(values: FloatArray, bends: FloatArray, begin: int, middle: int, end: int) -> bool:
    """True where none of the steps is left once both pieces are back in place."""
    back = _back(values, begin, middle, end)
    inner = [at for at in (begin, middle, end) if 0 < at < values.size]
    mended = MENDED * bends[inner]
    if (bend(back)[inner] <= np.maximum(mended, USUAL_FACTOR * float(np.median(bends)))).all():
        return True
    # a number that was cut in two where a piece began is of both, and fits nowhere
    return any(
        bool((bend(_drawn_over(back, inner, aside))[inner] <= mended).all()) for aside in (0, -1)
    )


def _back(values: NDArray[Number], begin: int, middle: int, end: int) -> NDArray[Number]:
    """The same with both pieces in each other's place."""
    return np.concatenate([values[:begin], values[middle:end], values[begin:middle], values[end:]])


def _drawn_over(values: FloatArray, places: list[int], aside: int) -> FloatArray:
    """The same with a number at each place, or beside it, drawn straight between its neighbours."""
    drawn = values.copy()
    at = np.clip(np.array(places, dtype=np.intp) + aside, 1, values.size - 2)
    drawn[at] = (values[at - 1] + values[at + 1]) / 2.0
    return drawn
