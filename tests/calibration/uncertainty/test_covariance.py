"""Quantities that hang on a reading or two, against benches whose standards are wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray
from calibration.calibration_budget import budget_of_file
from calibration.uncertainty.budget import Assumptions, Budget, Contribution
from calibration.uncertainty.covariance import (
    WeighedReading,
    covariance,
    of_average_power,
    of_minimum,
    of_size,
    uncertainty_of,
    uncertainty_of_difference,
)
from tests.calibration.uncertainty.wrong_standards import ASSUMED, Benches
from tests.counts import LONG

DRAWS = 20_000 if LONG else 4_000
F = np.linspace(800e6, 880e6, 41)
BAND = slice(10, 31)


def resonance(at_hz: float, deepest: float = 0.15) -> ComplexArray:
    """A dip of loaded Q 12, behind 2 ns of line."""
    detuned = 2 * 12 * (F - at_hz) / at_hz
    size = 1 - (1 - deepest) / (1 + 1j * detuned)
    return np.asarray(size * np.exp(-2j * np.pi * F * 2e-9), dtype=np.complex128)


def half_width(values: FloatArray) -> float:
    low, high = np.quantile(values, [0.025, 0.975])
    return float(high - low) / 2


def lowest(reflection: ComplexArray, near_hz: float, within_hz: float) -> FloatArray:
    """Where a parabola through |reflection|^2 is lowest, one a row."""
    near = np.abs(F - near_hz) <= within_hz
    x = (F[near] - near_hz) / within_hz
    bend, slope, _ = np.polyfit(x, (np.abs(reflection[:, near]) ** 2).T, 2)
    return np.asarray(near_hz - within_hz * slope / (2 * bend), dtype=np.float64)


@pytest.mark.parametrize("load_db", [26.0, 40.0])
def test_the_covariance_is_that_of_the_benches_readings(load_db: float) -> None:
    true = resonance(840e6)
    budget = budget_of_file(F, replace(ASSUMED, load_db=load_db))
    found = covariance(budget, true)
    (read,) = Benches(F, load_db, DRAWS, np.random.default_rng(1)).read_each(true)
    for at in (0, 20, 40):
        seen = np.cov(read[:, at].real, read[:, at].imag)
        np.testing.assert_allclose(found[at], seen, atol=0.06 * np.trace(seen))


@pytest.mark.parametrize("load_db", [26.0, 40.0])
def test_an_average_over_a_band_shares_its_causes(load_db: float) -> None:
    """A load that is wrong is wrong alike at all points: averaging hardly helps."""
    true = resonance(860e6)
    budget = budget_of_file(F, replace(ASSUMED, load_db=load_db))
    mean, quantity = of_average_power(budget, true, BAND)
    (read,) = Benches(F, load_db, DRAWS, np.random.default_rng(2)).read_each(true)
    power = np.trapezoid(np.abs(read[:, BAND]) ** 2, F[BAND], axis=1) / np.ptp(F[BAND])
    assert mean == pytest.approx(
        float(np.trapezoid(np.abs(true[BAND]) ** 2, F[BAND]) / np.ptp(F[BAND])), rel=1e-9
    )
    assert 0.95 < uncertainty_of(quantity) / half_width(power) < 1.12


@pytest.mark.parametrize("load_db", [26.0, 40.0])
@pytest.mark.parametrize("moved_hz", [0.0, 2e6, 12e6])
def test_how_far_a_dip_moved_is_surer_than_where_it_is(load_db: float, moved_hz: float) -> None:
    places = (836e6, 836e6 + moved_hz)
    true = [resonance(each) for each in places]
    budget = budget_of_file(F, replace(ASSUMED, load_db=load_db))
    dips = [of_minimum(budget, g, at, 8e6) for g, at in zip(true, places, strict=True)]
    read = Benches(F, load_db, DRAWS, np.random.default_rng(3)).read_each(*true)
    one, other = (lowest(g, at, 8e6) for g, at in zip(read, places, strict=True))
    assert 0.93 < uncertainty_of(dips[0]) / half_width(one) < 1.15
    moved = uncertainty_of_difference(*dips)
    assert 0.93 < moved / half_width(other - one) < 1.15
    assert moved < 0.75 * uncertainty_of(dips[0])


@pytest.mark.parametrize(("turn", "at_most"), [(0.0, 0.25), (0.5, 0.4), (3.0, 1.5)])
def test_a_change_of_size_has_lost_what_both_readings_share(turn: float, at_most: float) -> None:
    """Turned by half a circle the load's error is added in one and taken off in the other."""
    before = resonance(840e6, 0.3)
    after = before * 0.9 * np.exp(1j * turn)
    budget = budget_of_file(F, Assumptions())
    at = 18
    sizes = [of_size(budget, each, at) for each in (before, after)]
    read = Benches(F, 26.0, DRAWS, np.random.default_rng(4)).read_each(before, after)
    change = np.abs(read[1][:, at]) - np.abs(read[0][:, at])
    found = uncertainty_of_difference(*sizes)
    assert 0.95 < found / half_width(change) < 1.12
    one, other = (uncertainty_of(each) for each in sizes)
    assert found < at_most * float(np.hypot(one, other))


def test_noise_of_the_calibration_cancels_and_that_of_the_readings_does_not() -> None:
    """One reading twice: what the calibration's noise does to it is the same; its own is sqrt(2)
    larger [derived]."""

    def noise(*, anew: bool) -> Budget:
        size = np.zeros((3, F.size), dtype=np.complex128)
        size[0] = 0.01
        return Budget(F, (Contribution("n", "stated", "", False, size, "noise", anew=anew),))

    reading = resonance(840e6)
    calibrating, own = (of_size(noise(anew=each), reading, 5) for each in (False, True))
    assert uncertainty_of_difference(calibrating, calibrating) == 0
    expected = np.sqrt(2) * uncertainty_of(own)
    assert uncertainty_of_difference(own, own) == pytest.approx(expected)


def test_noise_averages_out_and_what_is_shared_does_not() -> None:
    size = np.zeros((3, F.size), dtype=np.complex128)
    size[0] = 0.01
    weight = np.full(F.size, 1 / F.size, dtype=np.complex128)
    found = [
        uncertainty_of(
            WeighedReading(
                Budget(F, (Contribution("n", "stated", "", False, size, cause),)),
                resonance(840e6),
                weight,
            )
        )
        for cause in ("noise", "the connector")
    ]
    assert found[1] / found[0] == pytest.approx(np.sqrt(F.size))


def test_readings_on_other_grids_are_not_held_against_each_other() -> None:
    one = of_size(budget_of_file(F, Assumptions()), resonance(840e6), 5)
    g = F + 1e6
    other = of_size(budget_of_file(g, Assumptions()), resonance(840e6), 5)
    with pytest.raises(ValueError, match="one grid"):
        uncertainty_of_difference(one, other)
