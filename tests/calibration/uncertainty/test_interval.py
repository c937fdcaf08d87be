"""The interval of a corrected reflection; how often it covers, and how wide it is, hold
`tests/independent_bench`."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from calibration.calibration_budget import budget_of, budget_of_file
from calibration.error_terms.one_port import ErrorTerms, correct, embed, solve
from calibration.files.store import load_kit
from calibration.uncertainty.budget import Assumptions, Budget, Contribution
from calibration.uncertainty.interval import interval, residuals
from calibration.uncertainty.sensitivity import lagrange
from tests.calibration.random_benches import Faults, HiddenBench

ONE = np.ones(1)
PERFECT = ErrorTerms(1e9 * ONE, 0j * ONE, 0j * ONE, (1 + 0j) * ONE)
IDEAL = {"open": ONE + 0j, "short": -ONE + 0j, "load": 0j * ONE}


def load_alone(size: float) -> Budget:
    """Everything perfect but the load."""
    weight = lagrange(PERFECT, IDEAL)["load"]
    return Budget(PERFECT.frequency_hz, (Contribution("load", "stated", "", True, size * weight),))


def decibels(size: float) -> float:
    return -20 * np.log10(size) if size > 0 else np.inf


def test_the_standards_weights_are_lagrange_s_polynomials() -> None:
    weights = lagrange(PERFECT, IDEAL)
    assert weights["load"][:, 0] == pytest.approx([1, 0, -1])
    assert weights["open"][:, 0] == pytest.approx([0, 0.5, 0.5])
    assert weights["short"][:, 0] == pytest.approx([0, -0.5, 0.5])


@pytest.mark.parametrize("wrong", ["open", "short", "load"])
def test_a_standard_a_little_wrong_moves_a_reading_as_its_weight_says(wrong: str) -> None:
    """Against solving and correcting with the standard really wrong: the bilinear map itself."""
    actual = {name: np.array([value[0] * np.exp(0.3j)]) for name, value in IDEAL.items()}
    terms = ErrorTerms(1e9 * ONE, (0.05 + 0.02j) * ONE, (0.1 - 0.1j) * ONE, (0.8 + 0.2j) * ONE)
    delta = 1e-6 * (0.6 + 0.8j)
    true = {name: value + (delta if name == wrong else 0) for name, value in actual.items()}
    measured = [embed(terms, value) for value in true.values()]
    wrongly = solve(terms.frequency_hz, measured, list(actual.values()))
    for device in (0.0, 0.3 + 0.2j, -0.9j):
        moved = correct(wrongly, embed(terms, device * ONE))[0] - device
        e0, e1, e2 = -lagrange(terms, actual)[wrong][:, 0] * delta
        assert moved == pytest.approx(e0 + e1 * device + e2 * device**2, rel=1e-4, abs=1e-12)


# D = 40 dB alone: true return loss, and what may be read [derived: -20 log10(|G| +/- |D|)].
DIRECTIVITY_40 = [
    (10, 9.73, 10.28),
    (15, 14.52, 15.50),
    (20, 19.17, 20.92),
    (25, 23.58, 26.70),
    (30, 27.61, 33.30),
    (35, 31.12, 42.18),
]


@pytest.mark.parametrize(("true_db", "low_db", "high_db"), DIRECTIVITY_40)
def test_directivity_alone_gives_the_textbook_limits(
    true_db: float, low_db: float, high_db: float
) -> None:
    only = np.array([[0.01 + 0j], [0j], [0j]])
    budget = Budget(1e9 * ONE, (Contribution("directivity", "stated", "", True, only),))
    found = interval(budget, np.array([10 ** (-true_db / 20) + 0j]))
    assert decibels(found.high[0]) == pytest.approx(low_db, abs=0.02)
    assert decibels(found.low[0]) == pytest.approx(high_db, abs=0.15)


def test_an_18_db_load_taken_as_perfect_leaves_a_15_db_antenna_half_unknown() -> None:
    """10.54 to 25.49 dB: M = GL, fully correlated with D, exact bilinear map [run]."""
    found = interval(load_alone(10 ** (-18 / 20)), np.array([10 ** (-15 / 20) + 0j]))
    assert decibels(found.high[0]) == pytest.approx(10.54, abs=0.1)
    assert decibels(found.low[0]) == pytest.approx(25.49, abs=0.5)


def test_a_54_db_reading_behind_a_30_db_load_proves_29_5_db() -> None:
    """-20 log10(.002 + .0316) [derived]."""
    found = interval(load_alone(10 ** (-30 / 20)), np.array([0.002 + 0j]))
    assert found.beyond_floor[0]
    assert found.low[0] == 0
    assert decibels(found.high[0]) == pytest.approx(29.5, abs=0.05)
    assert decibels(found.floor[0]) == pytest.approx(30.0, abs=0.01)


def test_the_interval_is_told_as_return_loss_and_as_vswr() -> None:
    """|G| .1, U .01: 19.17 to 20.92 dB; VSWR (1 + G)/(1 - G) of .09 and .11 [derived]."""
    only = np.array([[0.01 + 0j], [0j], [0j]])
    budget = Budget(1e9 * ONE, (Contribution("directivity", "stated", "", True, only),))
    found = interval(budget, np.array([0.1 + 0j]))
    low_db, high_db = found.return_loss_db
    assert low_db[0] == pytest.approx(19.17, abs=0.02)
    assert high_db[0] == pytest.approx(20.92, abs=0.02)
    low, high = found.vswr
    assert low[0] == pytest.approx(1.09 / 0.91, rel=1e-3)
    assert high[0] == pytest.approx(1.11 / 0.89, rel=1e-3)
    everything = interval(budget, np.array([0.005 + 0j]))
    assert np.isinf(everything.return_loss_db[1][0])
    assert everything.vswr[0][0] == 1
    assert np.isinf(interval(budget, np.array([0.995 + 0j])).vswr[1][0])


def test_a_load_alone_leaves_directivity_and_source_match_of_its_size() -> None:
    """M = GL, D = GL, no tracking [derived: L_load(G) = 1 - G^2]."""
    found = residuals(load_alone(0.05))
    assert found.directivity[0] == pytest.approx(0.05)
    assert found.source_match[0] == pytest.approx(0.05)
    assert found.tracking[0] == pytest.approx(0, abs=1e-12)


def test_a_point_that_was_not_measured_has_no_interval() -> None:
    found = interval(load_alone(0.03), np.array([complex("nan")]))
    assert np.isnan(found.low[0])
    assert np.isnan(found.high[0])


def test_nothing_is_proven_better_than_the_floor() -> None:
    """Also where the causes are random: beside a reading of nothing |error| follows Rayleigh's law,
    of which 2.45 standard deviations hold 95 % [derived: sqrt(-2 ln 0.05)] and 1.96 only 85 %."""
    sigma = 0.02
    noise = Contribution("noise", "stated", "", False, np.array([[sigma + 0j], [0j], [0j]]))
    budget = Budget(1e9 * ONE, (noise,))
    nothing = interval(budget, 0j * ONE)
    assert nothing.high[0] == nothing.floor[0] == pytest.approx(2.4477 * sigma, rel=1e-3)
    rng = np.random.default_rng(1)
    true = np.abs(sigma * (rng.standard_normal((100_000, 2)) @ [1, 1j]))
    assert 0.047 < np.mean(true > nothing.high[0]) < 0.053
    for size in np.linspace(0, 0.2, 41):
        assert interval(budget, size * ONE + 0j).high[0] >= nothing.floor[0]


@pytest.mark.parametrize(
    ("change", "moved"),
    [
        ({"load_db": 20.0}, {"the load's definition"}),
        (
            {"modelled_offset_ps": 3.0},  # of which the little that is along what they reflect
            {
                "the open's plane",
                "the short's plane",
                "the open's definition",
                "the short's definition",
            },
        ),
        ({"definition_floor": 0.01}, {"the open's definition", "the short's definition"}),
        ({"drift_per_hour": 0.02}, {"drift"}),
        ({"cable": 0.05}, {"the cable"}),
        (
            {"connection": 0.02},
            {
                "connecting the open",
                "connecting the short",
                "connecting the load",
                "connecting the antenna",
            },
        ),
    ],
)
def test_each_cause_moves_its_own_contribution_and_no_other(
    change: dict[str, Any], moved: set[str]
) -> None:
    bench = HiddenBench(load_kit("3.5mm-plug-50"), Faults(0.03), np.random.default_rng(1))
    before = sizes(budget_of(bench.calibration, Assumptions(), age_s=3600))
    after = sizes(budget_of(bench.calibration, Assumptions(**change), age_s=3600))
    assert {name for name in before if not np.allclose(before[name], after[name])} == moved


def test_what_is_stated_of_the_load_says_nothing_of_another_load() -> None:
    kit = load_kit("3.5mm-plug-50")
    two = dataclasses.replace(
        kit,
        standards={**kit.standards, "load-b": kit.standards["load"]},
        load_return_loss_db=46.0,
    )
    bench = HiddenBench(two, Faults(0.003), np.random.default_rng(1))
    said = {
        each.name: (each.origin, each.words)
        for each in budget_of(bench.calibration, Assumptions(load_db=50.0)).contributions
    }
    assert said["the load's definition"] == ("stated", "50 dB stated, phase unknown")
    assert said["the load-b's definition"] == ("assumed", "26 dB assumed, phase unknown")


def test_a_reading_dated_before_its_calibration_is_no_better_for_it() -> None:
    """The clock was set back by a day; a day apart they are, as far as anyone knows."""
    bench = HiddenBench(load_kit("3.5mm-plug-50"), Faults(0.03), np.random.default_rng(1))
    day = 24 * 3600.0
    before, at, after = (
        sizes(budget_of(bench.calibration, Assumptions(), age_s=age))["drift"]
        for age in (-day, 0.0, day)
    )
    np.testing.assert_allclose(before, after)
    assert (before > at).all()


def test_noise_moves_only_the_noise() -> None:
    bench = HiddenBench(load_kit("3.5mm-plug-50"), Faults(0.03), np.random.default_rng(1))
    louder = {
        name: dataclasses.replace(reading, noise=10 * reading.noise)
        for name, reading in bench.calibration.readings.items()
        if reading.noise is not None
    }
    before = sizes(budget_of(bench.calibration, Assumptions()))
    noisy = dataclasses.replace(bench.calibration, readings=louder)
    after = sizes(budget_of(noisy, Assumptions()))
    changed = {name for name in before if not np.allclose(before[name], after[name])}
    assert changed == {name for name in before if name.startswith("noise in")}


def sizes(budget: Budget) -> dict[str, np.ndarray]:
    """Size of each contribution at half reflected, by name; parts of one cause together."""
    found: dict[str, np.ndarray] = {}
    half = np.full(budget.frequency_hz.size, 0.5 + 0j)
    for each in budget.contributions:
        found[each.name] = found.get(each.name, 0.0) + each.size(half)
    return found


def test_a_file_of_unknown_calibration_is_trusted_as_far_as_a_26_db_load() -> None:
    """Unknown is not zero: 26 dB of unknown phase [practice], unless better is stated."""
    frequency = np.array([0.8e9, 2.7e9])
    read = np.array([0.01 + 0j, 0.3 + 0j])
    default = interval(budget_of_file(frequency, Assumptions()), read)
    better = interval(budget_of_file(frequency, Assumptions(load_db=40.0)), read)
    assert 25 < decibels(default.floor[0]) < 26
    assert default.beyond_floor.tolist() == [True, False]
    assert (better.upward < default.upward).all()
