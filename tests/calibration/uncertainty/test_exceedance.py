"""The risk that the truth lies beyond a limit: by closed forms, and by drawing what causes it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import ArrayLike

from acquire.sweep import ComplexArray, FloatArray
from calibration.calibration_budget import budget_of_file
from calibration.uncertainty.budget import Assumptions, Budget, Contribution
from calibration.uncertainty.exceedance import Exceedance, Readings
from calibration.uncertainty.interval import interval
from tests.calibration.uncertainty.wrong_standards import ASSUMED, Benches
from tests.counts import LONG, QUICK

DRAWS = 400_000 if LONG else 20_000 if QUICK else 100_000
LIMIT = 10**-0.5
ONE = np.ones(1)


def small(size: complex, points: int = 1, *, bounded: bool = True, cause: str = "") -> Contribution:
    """An error that does not hang on the reflection."""
    coefficients = np.zeros((3, points), dtype=np.complex128)
    coefficients[0] = size
    return Contribution("it", "stated", "", bounded, coefficients, cause)


def risk(budget: Budget, read: ArrayLike, limit: float = LIMIT) -> float:
    """That any of these readings, one a point of the budget, lies beyond the limit."""
    reading = np.asarray(read, dtype=np.complex128)
    every = np.arange(reading.size)
    readings = Readings(every, reading, np.full(reading.size, limit))
    return float(Exceedance(budget, readings).any_of(every[:, None])[0])


def reading_inside(budget: Budget, z: float, phase: float) -> ComplexArray:
    """What reads z times its own uncertainty inside the limit."""
    size = LIMIT
    for _ in range(50):
        found = interval(budget, np.array([size * np.exp(1j * phase)]))
        size = LIMIT - z * float(found.upward[0])
    return np.array([size * np.exp(1j * phase)])


@pytest.mark.parametrize(("z", "percent"), [(0.25, 42.0), (0.5, 33.3), (0.75, 23.0), (0.9, 14.4)])
def test_one_bounded_error_of_unknown_phase_goes_by_the_arcsine(z: float, percent: float) -> None:
    """P(error > z a) = 1/2 - asin(z)/pi [derived]; a is so small that the circle looks straight."""
    bound = 1e-5
    found = risk(Budget(1e9 * ONE, (small(bound),)), (LIMIT - z * bound) * ONE + 0j)
    assert found == pytest.approx(0.5 - math.asin(z) / math.pi, rel=1e-3)
    assert 100 * found == pytest.approx(percent, abs=0.1)


@pytest.mark.parametrize("cause", ["", "noise"])
@pytest.mark.parametrize("z", [0.0, 0.5, 1.0, 2.0])
def test_random_errors_alone_go_by_the_normal_law(z: float, cause: str) -> None:
    """1 - Phi(z), JCGM 106 clause 7 [memory]; noise, that has a value at each point, as well."""
    sigma = 1e-5
    noise = small(sigma, bounded=False, cause=cause)
    found = risk(Budget(1e9 * ONE, (noise,)), (LIMIT - z * sigma) * ONE + 0j)
    assert found == pytest.approx(0.5 * math.erfc(z / math.sqrt(2)), rel=0.06)


def test_an_error_across_the_reading_is_no_risk() -> None:
    across = Contribution(
        "turning", "stated", "", True, np.array([[0j], [0.02j], [0j]]), direction_known=True
    )
    assert risk(Budget(1e9 * ONE, (across,)), 0.99 * LIMIT * ONE + 0j) == 0
    assert risk(Budget(1e9 * ONE, ()), 0.99 * LIMIT * ONE + 0j) == 0


def test_points_that_share_a_cause_fail_together_or_one_instead_of_the_other() -> None:
    """Alike, they are one; turned by half a circle they cannot both be beyond it, and it is the
    sum; by a right angle the arcs of acos(z) either side overlap by acos(z) - 45 degrees
    [derived]."""
    bound, z = 1e-5, 0.5
    inside = LIMIT - z * bound
    alone = math.acos(z) / math.pi
    budget = Budget(np.array([1e9, 1.1e9]), (small(bound, 2),))
    both = {turn: risk(budget, inside * np.array([1, np.exp(1j * turn)])) for turn in (0, 1, 2, 3)}
    right = risk(budget, inside * np.array([1, 1j]))
    assert both[0] == pytest.approx(alone, rel=1e-3)
    assert risk(budget, inside * np.array([1, -1 + 0j])) == pytest.approx(2 * alone, rel=1e-3)
    overlap = (math.acos(z) - math.pi / 4) / math.pi
    assert right == pytest.approx(2 * alone - overlap, rel=1e-3)
    assert list(both.values()) == sorted(both.values())


# 26 dB load, all else of the default budget, 10 dB limit, the reading z U inside it: the risk in
# per cent, of an independent Monte Carlo of 2e5 draws and more [run]. A normal law says 31.2, 16.4,
# 7.1, 3.9 and 2.5.
BEHIND_26_DB = [(0.25, 44.2), (0.5, 34.8), (0.75, 23.3), (0.9, 12.2), (1.0, 0.2)]


@pytest.mark.parametrize(("z", "percent"), BEHIND_26_DB)
def test_behind_a_26_db_load_the_risk_is_that_of_the_reference(z: float, percent: float) -> None:
    budget = budget_of_file(1.05e9 * ONE, Assumptions())
    found = [100 * risk(budget, reading_inside(budget, z, phase)) for phase in range(6)]
    assert np.mean(found) == pytest.approx(percent, rel=0.03, abs=0.05)


@pytest.mark.slow
@pytest.mark.parametrize("ghz", [0.8, 2.6])
@pytest.mark.parametrize("load_db", [20.0, 26.0, 36.0, 46.0])
def test_the_risk_is_that_of_benches_whose_standards_are_wrong(load_db: float, ghz: float) -> None:
    """Neither understated by more than chance, nor lazily overstated: what every one of many
    benches that read so looks at in truth, corrected by the exact map."""
    f = ghz * 1e9 * ONE
    rng = np.random.default_rng([int(load_db), int(10 * ghz)])
    budget = budget_of_file(f, replace(ASSUMED, load_db=load_db))
    for z in (0.25, 0.5, 0.75, 0.9, 1.0, 1.1):
        for phase in rng.uniform(0, 2 * np.pi, 3):
            reading = reading_inside(budget, z, phase)
            true: FloatArray = Benches(f, load_db, DRAWS, rng).truth(reading)
            beyond = float(np.mean(true > LIMIT))
            chance = 3 * math.sqrt(max(beyond, 1e-4) / DRAWS)
            found = risk(budget, reading)
            assert found > 0.9 * beyond - chance - 0.001, (z, phase, found, beyond)
            assert found < 1.2 * beyond + chance + 0.002, (z, phase, found, beyond)


@pytest.mark.slow
@pytest.mark.parametrize("delay_ns", [0.0, 1.0, 4.0])
@pytest.mark.parametrize("load_db", [26.0, 46.0])
def test_a_bands_risk_is_that_any_point_of_it_fails(load_db: float, delay_ns: float) -> None:
    """Every bench has one load, one open, one short and one cable for all points of the band."""
    f = np.linspace(1.71e9, 1.785e9, 16)
    rng = np.random.default_rng([int(load_db), int(delay_ns)])
    budget = budget_of_file(f, replace(ASSUMED, load_db=load_db))
    upward = interval(budget, np.full(f.size, LIMIT + 0j)).upward
    for z in (0.5, 0.8, 1.0):
        turned = np.exp(-2j * np.pi * (f - f[0]) * delay_ns * 1e-9)
        reading = (LIMIT - z * upward) * turned
        true = Benches(f, load_db, DRAWS // 4, rng).truth(reading)
        beyond = float(np.mean((true > LIMIT).any(axis=1)))
        chance = 3 * math.sqrt(max(beyond, 1e-4) / (DRAWS // 4))
        found = risk(budget, reading)
        assert 0.9 * beyond - chance < found < 1.2 * beyond + chance + 0.002, (z, found, beyond)
