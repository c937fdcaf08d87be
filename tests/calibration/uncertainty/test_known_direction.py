"""A plane that is off turns what an open or a short reflects: an angle along a known direction."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.calibration_budget import budget_of_file
from calibration.uncertainty.budget import Assumptions, Budget, Contribution
from calibration.uncertainty.interval import interval, radius
from tests.calibration.uncertainty.wrong_standards import ASSUMED, Benches
from tests.counts import LONG

DRAWS = 100_000 if LONG else 20_000
PHASES = 8
ONE = np.ones(1)


@pytest.mark.slow
@pytest.mark.parametrize("law", ["anywhere", "near its bound", "at its bound"])
@pytest.mark.parametrize(
    ("load_db", "ghz"), [(26, 0.7), (36, 1.8), (46, 0.7), (46, 2.6), (46, 3.5)]
)
def test_the_interval_is_as_wide_as_that_of_benches_whose_standards_are_turned(
    load_db: float, ghz: float, law: str
) -> None:
    """Median over the phases of the reading 0.97 to 1.10 of the benches'; it covers in each."""
    rng = np.random.default_rng([int(load_db), int(10 * ghz), len(law)])
    f = ghz * 1e9
    budget = budget_of_file(f * ONE, replace(ASSUMED, load_db=float(load_db)))
    for true_db in (3, 6, 10, 15, 20):
        ratios, inside = [], []
        for phase in 2 * np.pi * (np.arange(PHASES) + rng.uniform()) / PHASES:
            true = 10 ** (-true_db / 20) * np.exp(1j * phase)
            size = Benches(f * ONE, load_db, DRAWS, rng, law).read(true * ONE)
            low, high = np.quantile(size, [0.025, 0.975])
            found = interval(budget, true * ONE)
            ratios.append((found.high[0] - found.low[0]) / (high - low))
            # a reading off by so much tells the truth off by as much the other way
            inside.append(np.mean((size >= found.low[0]) & (size <= found.high[0])))
        if found.floor[0] < 10 ** (-(true_db + 3) / 20):
            lowest = 0.92 if law == "at its bound" else 0.97
            assert lowest < np.median(ratios) < 1.10, (true_db, np.median(ratios))
            # a plane that is always at its bound is the worst there is, and nobody states it
            enough = 0.93 if law == "at its bound" else 0.933
            assert np.mean(inside) > enough, (true_db, inside)


def test_an_error_across_the_reading_moves_no_return_loss_and_one_along_it_all() -> None:
    """|Re(c conj(direction))|, c the contribution at the reading [derived]; in the plane it reaches
    its bound whatever its direction."""
    turning = Contribution(
        "turning", "stated", "", True, np.array([[0j], [0.02j], [0j]]), direction_known=True
    )
    budget = Budget(1e9 * ONE, (turning,))
    for phase in (0.0, 1.0, 2.5):
        reading = np.array([0.3 * np.exp(1j * phase)], dtype=np.complex128)
        found = interval(budget, reading)
        np.testing.assert_allclose([found.low[0], found.high[0]], 0.3, rtol=1e-12)
        assert radius(budget, reading)[0] == pytest.approx(0.3 * 0.02, rel=1e-6)
    along = Contribution(
        "along", "stated", "", True, np.array([[0j], [0.02 + 0j], [0j]]), direction_known=True
    )
    found = interval(Budget(1e9 * ONE, (along,)), np.array([0.3j]))
    assert found.high[0] == pytest.approx(0.3 * (1 + 0.02 + 0.02**2 / 2), rel=1e-9)


def test_a_plane_that_is_off_by_much_also_counts_along_what_it_reflects() -> None:
    """exp(j x) = 1 + j sin x - (1 - cos x): a kit called ideal may be turned by 25 degrees."""
    f = 3.5e9 * ONE
    sizes = {
        each.name: each.size(np.array([1 + 0j]))[0]
        for each in budget_of_file(f, Assumptions(modelled_offset_ps=10.0)).contributions
    }
    turn = 4 * np.pi * 3.5e9 * 10e-12
    assert sizes["the open's plane"] == pytest.approx(np.sin(turn), rel=1e-6)
    assert sizes["the open's definition"] == pytest.approx(1 - np.cos(turn), rel=1e-4)
