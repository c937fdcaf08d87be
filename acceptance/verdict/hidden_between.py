"""What may hide between two points: a resonance as narrow as the step from one to the next.

Between the points a cubic through the nearest four is followed. How far the truth may leave it is
told by what leaving a point out shows: through its four neighbours, at twice the distance, a cubic
misses it by a sixth of the fourth difference (of three or four points, a line between two does for
it). Of a smooth antenna that is next to nothing, as the fourth power of the step; of a resonance
one step wide it is as much as the cubic misses half way between two points [run: planted
resonances of Q 50 to 200, one to four steps wide; 999 of 1,000].
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import ComplexArray, FloatArray

STENCIL_POINTS = 4
PLACES = np.array([0.25, 0.5, 0.75])
"""Where a step is looked at, as shares of it; the first and the last one up to the band's edge."""
ONE_SIDED = 2.0
"""A cubic misses the first and the last step by more: no point holds it on the other side."""


def hidden_between(
    frequency_hz: FloatArray, still: ComplexArray, curve_hz: FloatArray, size: FloatArray
) -> FloatArray:
    """How far |reflection| may rise above each point before its neighbour.

    frequency_hz, still : the readings, the delay taken out, shape (points,), 3 or more.
    curve_hz, size : the curve made of them, same shape: the same points, but for a band's edge in
        the place of a point beyond it; |reflection| there.
    Returns shape (points,). What a step may hide counts at its larger end alone.
    """
    grid = _grid(frequency_hz.tobytes(), curve_hz.tobytes())
    followed = grid.between.of(still)
    top: FloatArray = np.abs(followed).max(axis=1) + _missed(grid.left_out.of(still)[:, 0], still)
    first, second = size[:-1], size[1:]
    larger = np.arange(first.size) + (second > first)
    rise = np.zeros(size.size)
    np.maximum.at(rise, larger, top - np.maximum(first, second))
    return rise


def _missed(guess: ComplexArray, still: ComplexArray) -> FloatArray:
    """How far off a cubic may be in each step, shape (steps,).

    guess : of each point that has neighbours on either side, from those.
    """
    beside = (still.size - guess.size) // 2
    miss = np.abs(still[beside : still.size - beside] - guess)
    steps = np.zeros(still.size - 1)
    inner = steps[beside - 1 : still.size - beside]
    inner[:-1] = miss
    inner[1:] = np.maximum(inner[1:], miss)
    steps[0], steps[-1] = ONE_SIDED * inner[0], ONE_SIDED * inner[-1]
    return steps


@dataclass(frozen=True, slots=True, eq=False)
class _Weights:
    """Lagrange's polynomials through some points, worth at some places."""

    nodes: NDArray[np.intp]
    """Which points, shape (rows, nodes)."""
    weights: FloatArray
    """Shape (rows, places, nodes)."""

    @classmethod
    def through(cls, frequency_hz: FloatArray, nodes: NDArray[np.intp], at: FloatArray) -> _Weights:
        """nodes : shape (rows, nodes). at : Hz, shape (rows, places)."""
        through = frequency_hz[nodes]
        weights = np.ones((*at.shape, nodes.shape[1]))
        for one in range(nodes.shape[1]):
            for other in range(nodes.shape[1]):
                if other != one:
                    apart = through[:, one] - through[:, other]
                    weights[:, :, one] *= (at - through[:, other, None]) / apart[:, None]
        return cls(nodes, weights)

    def of(self, values: ComplexArray) -> ComplexArray:
        """Shape (rows, places)."""
        result: ComplexArray = np.matmul(self.weights, values[self.nodes][:, :, None])[:, :, 0]
        return result


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """What depends on the frequencies alone; sweep after sweep they are the same."""

    between: _Weights
    """In each step."""
    left_out: _Weights
    """At each point that has neighbours on either side, from those."""


@lru_cache(maxsize=256)
def _grid(frequency_bytes: bytes, curve_bytes: bytes) -> _Grid:
    frequency, curve = np.frombuffer(frequency_bytes), np.frombuffer(curve_bytes)
    points = frequency.size
    low, high = curve[:-1], curve[1:]
    at_hz = low[:, None] + (high - low)[:, None] * PLACES
    at_hz[0, 0], at_hz[-1, -1] = curve[0], curve[-1]
    stencil = min(STENCIL_POINTS, points)
    first = np.clip(np.arange(points - 1) - 1, 0, points - stencil)
    beside = min(STENCIL_POINTS // 2, (points - 1) // 2)
    middle = np.arange(beside, points - beside)
    around = np.array([*range(-beside, 0), *range(1, beside + 1)])
    return _Grid(
        _Weights.through(frequency, first[:, None] + np.arange(stencil), at_hz),
        _Weights.through(frequency, middle[:, None] + around, frequency[middle][:, None]),
    )
