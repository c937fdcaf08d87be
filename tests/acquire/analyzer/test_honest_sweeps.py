"""At most one honest sweep in a thousand is asked again, by all that could doubt one together."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.analyzer.outliers import ReferenceSweeps, Take
from acquire.sweep import ComplexArray, Reading, SweepRequest
from tests.counts import LONG, QUICK

SWEEPS = 3000 if LONG else 20 if QUICK else 100


def flat(points: int, _sweep: int) -> ComplexArray:
    """A load behind a short cable."""
    turned: ComplexArray = 0.01 * np.exp(-0.3j * np.arange(points) / points)
    return turned


def bent(points: int, sweep: int) -> ComplexArray:
    """An antenna behind a cable, whose dip goes on by a third of a hundredth each sweep."""
    at = np.arange(points) / points
    dip = 1 - 0.9 / (1 + 20j * (at - (0.5 + 0.003 * sweep) % 1))
    turned: ComplexArray = 0.9 * np.exp(-9j * at) * dip
    return turned


@pytest.mark.slow
@pytest.mark.parametrize("rms", [1e-7, 5e-7, 1e-6, 1e-5, 1e-4])
@pytest.mark.parametrize(
    ("curve", "points", "decimals"),
    [(flat, 101, 6), (flat, 10_001, 6), (bent, 101, 6), (bent, 401, 15)],
)
def test_at_most_one_honest_sweep_in_a_thousand_is_asked_again(
    curve: object, points: int, decimals: int, rms: float
) -> None:
    """Each is held against the one before, as an analyzer's are; SWEEPS of each kind."""
    assert callable(curve)
    rng = np.random.default_rng([points, decimals, int(1e9 * rms)])
    request = SweepRequest(700e6, 800e6, points)
    references, asked_again = ReferenceSweeps(), 0
    for sweep in range(SWEEPS):
        told = curve(points, sweep).view(np.float64) + rms * rng.standard_normal(2 * points)
        reading = Reading(request.grid_hz(), np.round(told, decimals).view(np.complex128))
        whole, doubted = references.suspect(request, Take(reading, 2.0 * sweep, 2.0 * sweep + 1))
        asked_again += whole or bool(doubted)
        references.accept(reading)
    assert asked_again <= SWEEPS / 1000
