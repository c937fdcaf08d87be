"""How probable it is that the truth lies beyond a limit though the reading lies within it.

The law is the interval's own: every cause at its bound or by its standard deviation, its phase
unknown or its direction known. One cause has one value at all points of a reading, so that of
several points any one fails with a probability that is neither the sum nor the largest of theirs;
noise alone has a value of its own at each.

The largest cause of unknown phase is taken exactly: beside the sum B of reading and all other
errors an error a exp(j phi) leads beyond the limit L on the arc

    cos(phi - arg B) > (L^2 - |B|^2 - a^2) / (2 a |B|)

[derived], and what fails of a band is the union of its points' arcs over the circle. All the
others are drawn, evenly by a rank-1 lattice (Korobov [memory]), so that the same reading always
has the same risk. Each error is evaluated half way between the reading and its limit, as the
interval's ends are.

Source: the probability of conformity by the law itself, JCGM 106, clause 7 [memory].
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.budget import Budget, Contribution, Law

DRAWS, DRAWS_OF_MANY = 509, 251
"""Primes. Of one point a risk of some per cent is good to 2 % of itself rms, 3 % with the fewer
draws [run]."""
GENERATORS = {DRAWS: 280, DRAWS_OF_MANY: 45}
"""The best of sixty for single points behind loads of 36 and 46 dB [run]."""
FEW_POINTS = 32
"""Of more than these there are enough arcs to take fewer draws each."""
GOLDEN = 0.6180339887498949
TIES = 9
"""Digits to which two causes count as equally large: the first one is then taken everywhere."""

Indices = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Some points of a reading, each within its limit."""

    at: Indices
    """Index of each on the budget's grid, shape (points,)."""
    reflection: ComplexArray
    """As read, not 0, shape (points,)."""
    limit: FloatArray
    """Largest |reflection| allowed, linear, shape (points,)."""


class Exceedance:
    """All errors of some points, drawn together; asked for any of the points."""

    def __init__(self, budget: Budget, readings: Readings) -> None:
        size = np.abs(readings.reflection)
        direction = readings.reflection / size
        between = direction * (size + readings.limit) / 2
        powers = np.stack([np.ones_like(between), between, between * between])
        causes = [each for each in budget.contributions if not each.across]
        values = np.zeros((len(causes), size.size), dtype=np.complex128)
        for place, each in enumerate(causes):
            values[place] = (each.coefficients[:, readings.at] * powers).sum(axis=0)
        values *= direction.conj()
        draws = DRAWS if size.size <= FEW_POINTS else DRAWS_OF_MANY
        errors = _Errors(causes, values, draws)
        beside = size[:, None] + errors.beside
        reach = errors.reach
        self._apart = errors.apart
        square = beside.real**2 + beside.imag**2
        limit = readings.limit[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            cosine = (limit**2 - square - reach**2) / (2 * reach * np.sqrt(square))
        # beside an error of no size the reading is beyond it, or not
        cosine = np.where(reach > 0, cosine, np.where(square > limit**2, -1.0, 1.0))
        self._half = np.arccos(np.clip(cosine, -1, 1))
        self._centre = np.arctan2(beside.imag, beside.real) - errors.turned[:, None]

    def any_of(self, points: Indices) -> FloatArray:
        """How probable it is, of each group of points, that any of it lies beyond its limit.

        points : which ones, shape (members, groups); a group with fewer has one more than once.
        Returns shape (groups,).
        """
        half, centre = self._half[points], self._centre[points]
        if len(points) == 1:
            single: FloatArray = half[0].mean(axis=-1) / np.pi
            return single
        if self._apart:
            apart: FloatArray = 1 - np.prod(1 - half / np.pi, axis=0).mean(axis=-1)
            return apart
        begins = centre - half
        begins -= 2 * np.pi * np.floor(begins / (2 * np.pi))
        ends = begins + 2 * half
        order = np.argsort(begins, axis=0)
        begins, ends = (np.take_along_axis(each, order, axis=0) for each in (begins, ends))
        # what reaches beyond the whole turn covers the circle's beginning
        covered = np.maximum(ends.max(axis=0) - 2 * np.pi, 0.0)
        union = covered.copy()
        for begin, end in zip(begins, np.minimum(ends, 2 * np.pi), strict=True):
            union += np.maximum(end - np.maximum(begin, covered), 0.0)
            np.maximum(covered, end, out=covered)
        risk: FloatArray = union.mean(axis=-1) / (2 * np.pi)
        return risk


class _Errors:
    """The errors of all points: the largest cause of unknown phase, and a draw of all the others
    together.

    The largest is one for all points, since all share its phase; unless it is noise, of which
    every point has its own.
    """

    def __init__(self, causes: list[Contribution], values: ComplexArray, draws: int) -> None:
        power = np.square(np.abs(values))
        noisy = np.array([each.by_point for each in causes], dtype=np.bool_)
        noise = np.sqrt(power[noisy].sum(axis=0))
        own = [
            0.0 if each.by_point or each.direction_known else (1 if each.bounded else 2) * total
            for each, total in zip(causes, power.sum(axis=1).tolist(), strict=True)
        ]
        largest = max(own, default=0.0)
        self.apart = bool(2 * np.square(noise).sum() > largest)
        self.reach: FloatArray = np.zeros((noise.size, 1))
        self.turned: FloatArray = np.zeros(noise.size)
        main, axis = None, 0
        if largest > 0 and not self.apart:
            # of equally large ones the first: rounding must not choose
            main = int(np.argmax(np.round(np.array(own) / largest, TIES)))
            self.reach = np.abs(values[main])[:, None]
            self.turned = np.angle(values[main])
        places: list[int] = []
        laws: list[tuple[Law, int]] = []
        for place, each in enumerate(causes):
            if each.by_point or (place == main and each.bounded):
                continue
            if place == main:
                self.reach = self.reach * np.abs(_spread(each.law, axis, draws))
            else:
                places.append(place)
                laws.append((each.law, axis))
            axis += 2
        # one product of matrices: a cause by itself, draw by draw, takes six times as long
        self.beside: ComplexArray = values[places].T @ _spreads(tuple(laws), draws)
        if noise.any():
            noises: tuple[tuple[Law, int], ...] = tuple(
                ("normal, complex", axis + 2 * at) for at in range(noise.size)
            )
            scattered = noise[:, None] * _spreads(noises, draws)
            if self.apart:
                self.reach = np.abs(scattered)
            else:
                self.beside += scattered


@lru_cache(maxsize=32)
def _spreads(laws: tuple[tuple[Law, int], ...], draws: int) -> ComplexArray:
    """Several of them, each by its law from its axis on, shape (laws, draws)."""
    found = np.zeros((len(laws), draws), dtype=np.complex128)
    for row, (law, axis) in enumerate(laws):
        found[row] = _spread(law, axis, draws)
    found.flags.writeable = False
    return found


@cache
def _spread(law: Law, axis: int, draws: int) -> ComplexArray | FloatArray:
    """An error of size 1 by its law, of one or two coordinates of the lattice, shape (draws,)."""
    phase = 2 * np.pi * _evenly(axis, draws)
    if law == "bounded, direction known":
        return np.cos(phase)
    turned: ComplexArray = np.exp(1j * phase)
    if law == "bounded, phase unknown":
        return turned
    normal: ComplexArray = turned * np.sqrt(-2 * np.log1p(-_evenly(axis + 1, draws)))
    return normal  # by Box and Muller's way


def _evenly(axis: int, draws: int) -> FloatArray:
    """One coordinate of the lattice's points, shape (draws,), from 0 to below 1."""
    step = pow(GENERATORS[draws], axis, draws)
    evenly: FloatArray = np.mod(np.arange(draws) * step / draws + GOLDEN * (axis + 1), 1.0)
    return evenly
