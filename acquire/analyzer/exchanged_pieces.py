"""Two pieces of a reply, each in the other's place.

Where they meet, and where they begin and end, the curve steps; put back, it steps nowhere. Nothing
that an antenna or a hand does is mended so.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray

LEAST_STEP = 1e-3
"""Linear, -60 dB: as little as `acquire.analyzer.outliers` doubts."""
STEP_FACTOR = 8.0
"""How many times higher than half of all around it a step is, at least."""
MENDED = 1 / 6
"""How much of the steps may be left when the pieces are back in place."""
USUAL_FACTOR = 2.0
"""How much of a bend, in half of all others, is none where a step was low to begin with."""
OTHERS = 0.2
"""How high another step may be, in the highest of those that are mended."""
MOST_STEPS = 24
"""So many are looked at, the highest first."""
FEWEST_POINTS = 11


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
    found = []
    for part, values in enumerate((reflection.real, reflection.imag)):
        bend = _bend(values)
        # two of the three steps tell where the third is, which may be a low one, or at an end
        steps = _steps(bend)
        for begin, middle, end in sorted(_triples(steps)):
            if (
                0 <= begin < middle < end <= values.size
                and _are_alone(bend, steps, (begin, middle, end))
                and _mends(values, bend, begin, middle, end)
            ):
                found.append(Exchange(part, begin, middle - begin))
    return found


def _bend(values: FloatArray) -> FloatArray:
    """How far each step from one point to the next is from those beside it, shape (points,);
    that to point k stands at k."""
    rise = np.diff(values)
    bend = np.zeros(values.size)
    bend[2:-1] = rise[1:-1] - (rise[:-2] + rise[2:]) / 2.0
    bend[1], bend[-1] = rise[0] - rise[1], rise[-1] - rise[-2]
    return np.abs(bend)


def _steps(bend: FloatArray) -> list[int]:
    """Where the curve steps, and more than right beside it."""
    padded = np.concatenate(([0.0], bend, [0.0]))
    least = max(LEAST_STEP, STEP_FACTOR * float(np.median(bend)))
    highest = (bend >= padded[:-2]) & (bend >= padded[2:]) & (bend > least)
    at = np.flatnonzero(highest)
    return sorted(at[np.argsort(-bend[at])][:MOST_STEPS].tolist())


def _triples(steps: list[int]) -> set[tuple[int, int, int]]:
    """Begin, middle and end of two pieces, where two of those are steps."""
    found = set()
    for one, two in itertools.combinations(steps, 2):
        found |= {(one, two, 2 * two - one), (2 * one - two, one, two)}
        if (one + two) % 2 == 0:
            found.add((one, (one + two) // 2, two))
    return found


def _are_alone(bend: FloatArray, steps: list[int], places: tuple[int, int, int]) -> bool:
    """True where no other step is nearly as high: several are the analyzer's own, as where it
    switches range."""
    high = max(bend[at] for at in places if at < bend.size)
    others = [at for at in steps if all(abs(at - place) > 1 for place in places)]
    return all(bend[at] < OTHERS * high for at in others)


def _mends(values: FloatArray, bend: FloatArray, begin: int, middle: int, end: int) -> bool:
    """True where none of the steps is left once both pieces are back in place."""
    back = np.concatenate([values[:begin], values[middle:end], values[begin:middle], values[end:]])
    inner = [at for at in (begin, middle, end) if 0 < at < values.size]
    mended = MENDED * bend[inner]
    if (_bend(back)[inner] <= np.maximum(mended, USUAL_FACTOR * float(np.median(bend)))).all():
        return True
    # a number that was cut in two where a piece began is of both, and fits nowhere
    return any(
        bool((_bend(_drawn_over(back, inner, aside))[inner] <= mended).all()) for aside in (0, -1)
    )


def _drawn_over(values: FloatArray, places: list[int], aside: int) -> FloatArray:
    """The same with a number at each place, or beside it, drawn straight between its neighbours."""
    drawn = values.copy()
    at = np.clip(np.array(places, dtype=np.intp) + aside, 1, values.size - 2)
    drawn[at] = (values[at - 1] + values[at + 1]) / 2.0
    return drawn
