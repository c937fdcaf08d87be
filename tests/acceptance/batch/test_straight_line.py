"""A straight line, held against certified values, other libraries, and trial by chance."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from acceptance.batch.straight_line import Line, fit

NORRIS = np.array(
    [
        "0.1",
        "0.2",
        "338.8",
        "337.4",
        "118.1",
        "118.2",
        "888.0",
        "884.6",
        "9.2",
        "10.1",
        "228.1",
        "226.5",
        "668.5",
        "666.3",
        "998.5",
        "996.3",
        "449.1",
        "448.6",
        "778.9",
        "777.0",
        "559.2",
        "558.2",
        "0.3",
        "0.4",
        "0.1",
        "0.6",
        "778.1",
        "775.5",
        "668.8",
        "666.9",
        "339.3",
        "338.0",
        "448.9",
        "447.5",
        "10.8",
        "11.6",
        "557.7",
        "556.0",
        "228.3",
        "228.1",
        "998.0",
        "995.8",
        "888.8",
        "887.6",
        "119.6",
        "120.2",
        "0.3",
        "0.3",
        "0.6",
        "0.3",
        "557.6",
        "556.8",
        "339.3",
        "339.1",
        "888.0",
        "887.2",
        "998.5",
        "999.0",
        "778.9",
        "779.0",
        "10.2",
        "11.1",
        "117.6",
        "118.3",
        "228.9",
        "229.2",
        "668.4",
        "669.1",
        "449.2",
        "448.9",
        "0.2",
        "0.5",
    ],
    dtype=float,
).reshape(-1, 2)
"""NIST Statistical Reference Datasets, linear regression, "Norris": y and x of 36 readings
[memory; the certified values below follow from them]."""


def laid(x: np.ndarray, y: np.ndarray) -> Line:
    line = fit(x, y)
    assert line is not None
    return line


def test_the_certified_values_of_a_reference_data_set() -> None:
    """Certified: intercept -0.262323073774029, slope 1.00211681802045, residual standard deviation
    0.884796396144373, standard deviation of the slope 0.000429796848199937 [memory]."""
    line = laid(NORRIS[:, 1], NORRIS[:, 0])
    assert line.at(0.0) == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.scatter == pytest.approx(0.884796396144373, rel=1e-12)
    assert line.scatter / line.sxx**0.5 == pytest.approx(0.429796848199937e-3, rel=1e-12)


def test_the_quantile_is_student_s() -> None:
    """t for 10 degrees of freedom, 95 % two-sided: 2.228, any table [memory]."""
    x = np.arange(12.0)
    line = laid(x, x + np.tile([1.0, -1.0], 6))
    low, high = line.slope_interval()
    assert (high - low) / 2 / (line.scatter / line.sxx**0.5) == pytest.approx(2.228, abs=5e-4)


@settings(deadline=None)
@given(st.integers(3, 40), st.integers(0, 2**32 - 1))
def test_line_and_interval_are_those_of_other_libraries(count: int, seed: int) -> None:
    """numpy.polyfit and scipy.stats.linregress [run]."""
    random = np.random.default_rng(seed)
    x = random.uniform(80, 90, count)
    y = 1500 - 9 * x + random.normal(0, 2, count)
    line = laid(x, y)
    slope, intercept = np.polyfit(x, y, 1)
    assert line.slope == pytest.approx(slope, rel=1e-6, abs=1e-6)
    assert line.at(85.0) == pytest.approx(intercept + 85 * slope, rel=1e-9)
    other = scipy.stats.linregress(x, y)
    half = scipy.stats.t.ppf(0.975, count - 2) * other.stderr
    assert line.slope_interval() == pytest.approx(
        (other.slope - half, other.slope + half), rel=1e-6
    )
    assert line.is_sloped(0.99) == (other.pvalue < 0.01) or abs(other.pvalue - 0.01) < 1e-9


@pytest.mark.slow
def test_one_further_point_lies_within_as_often_as_is_said() -> None:
    random = np.random.default_rng(3)
    inside = trials = 0
    for _ in range(4000):
        x = random.uniform(84, 88, 8)
        line = laid(x, 1600 - 9 * x + random.normal(0, 2, 8))
        at = random.uniform(83, 89)
        low, high = line.next_within(at)
        inside += low <= 1600 - 9 * at + random.normal(0, 2) <= high
        trials += 1
    assert inside / trials == pytest.approx(0.95, abs=0.012)


@pytest.mark.slow
def test_the_true_size_lies_within_as_often_as_is_said_wherever_the_slope_is_sure() -> None:
    random = np.random.default_rng(4)
    inside = trials = 0
    for _ in range(4000):
        x = random.uniform(84, 88, 10)
        line = laid(x, 1600 - 9 * x + random.normal(0, 2, 10))
        target = random.uniform(810, 840)
        ends = line.x_within(target)
        if ends is None:
            continue
        inside += ends[0] <= (1600 - target) / 9 <= ends[1]
        trials += 1
    assert trials > 3900
    assert inside / trials == pytest.approx(0.95, abs=0.012)


@settings(deadline=None)
@given(st.integers(3, 20), st.integers(0, 2**32 - 1), st.floats(780, 880), st.booleans())
def test_read_backwards_the_ends_are_where_the_interval_just_holds_the_target(
    count: int, seed: int, target: float, of_one: bool
) -> None:
    random = np.random.default_rng(seed)
    x = random.uniform(80, 90, count)
    line = laid(x, 1600 - 9 * x + random.normal(0, 3, count))
    ends = line.x_within(target, of_one=of_one)
    assert (ends is None) == (not line.is_sloped())
    assume(ends is not None and ends[1] - ends[0] < 100)
    assert ends is not None
    assert ends[0] <= line.x_for(target) <= ends[1]
    for each in ends:
        within = line.next_within(each) if of_one else line.line_within(each)
        assert min(abs(target - edge) for edge in within) < 1e-5


def test_too_little_gives_no_line() -> None:
    assert fit([1.0, 2.0], [1.0, 2.0]) is None
    assert fit([85.5] * 9, list(range(9))) is None
    exact = laid(np.arange(5.0), 2 * np.arange(5.0))
    assert exact.scatter == pytest.approx(0, abs=1e-12)
    assert exact.x_within(5.0) == pytest.approx((2.5, 2.5))
