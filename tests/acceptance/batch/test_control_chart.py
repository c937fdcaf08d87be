"""The control chart of single values, held against published figures and against chance itself."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.batch.control_chart import (
    CLIMB_LENGTH,
    LEAST_VALUES,
    LIMIT_SIGMAS,
    RANGE_OF_TWO_LARGEST,
    RANGE_OF_TWO_MEAN,
    RUN_LENGTH,
    ControlChart,
    Stretch,
    control_chart,
)

FLOWRATE = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def test_the_worked_example_of_ten_batches() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2, flowrates of ten batches: mean 50.81, mean moving range
    1.8778, limits 45.8159 and 55.8041 [memory; they follow from the ten values]."""
    chart = control_chart(FLOWRATE)
    assert chart.mean == pytest.approx(50.81, abs=5e-4)
    assert chart.moving_range == pytest.approx(1.8778, abs=5e-5)
    assert chart.low == pytest.approx(45.8159, abs=5e-4)
    assert chart.high == pytest.approx(55.8041, abs=5e-4)
    assert chart.outliers == chart.jumps == ()


def test_the_constants_are_the_published_ones_and_follow_from_the_normal_law() -> None:
    """d2 = 1.128 and D4 = 3.267 for n = 2, so 3/d2 = 2.66: Montgomery, Introduction to Statistical
    Quality Control, appendix VI; ISO 7870-2 [memory]. The range of two normal values is |x| of
    variance 2: mean 2/sqrt(pi), standard deviation sqrt(2 - 4/pi) [derived]."""
    assert (RANGE_OF_TWO_MEAN, RANGE_OF_TWO_LARGEST) == (1.128, 3.267)
    assert pytest.approx(2.66, abs=5e-3) == LIMIT_SIGMAS / RANGE_OF_TWO_MEAN
    assert pytest.approx(2 / math.sqrt(math.pi), abs=5e-4) == RANGE_OF_TWO_MEAN
    assert (
        pytest.approx(1 + 3 * math.sqrt(2 - 4 / math.pi) / (2 / math.sqrt(math.pi)), abs=5e-4)
        == RANGE_OF_TWO_LARGEST
    )


def test_the_limits_come_to_three_standard_deviations_of_what_is_normal() -> None:
    chart = control_chart(np.random.default_rng(1).normal(800.0, 5.0, 20_000).tolist())
    assert chart.high == pytest.approx(815.0, abs=0.3)
    assert chart.low == pytest.approx(785.0, abs=0.3)
    assert len(chart.outliers) / 20_000 == pytest.approx(0.0027, abs=0.0012)  # of the normal law


def test_what_is_out_of_the_ordinary_is_named() -> None:
    steady = [800.0 + each for each in (0, 2, -1, 1, -2, 0, 1, -1, 2, 0, -2, 1)]
    chart = control_chart([*steady, 830.0, *steady])
    assert chart.outliers == (12,)
    assert chart.jumps == (12, 13)
    assert control_chart(steady).ordinary


def test_a_shift_and_a_climb_are_named_from_where_they_begin() -> None:
    shifted = control_chart([1.0, -1.0] * 5 + [3.0, 5.0] * 5)
    assert shifted.runs == (Stretch(0, 9, upward=False), Stretch(10, 19, upward=True))
    climbing = control_chart([3.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 4.0, 5.0, 3.0])
    assert climbing.climbs == (Stretch(1, 6, upward=True),)
    falling = control_chart([5.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0])
    assert falling.climbs == (Stretch(1, 6, upward=False),)


@pytest.mark.slow
def test_a_slow_drift_is_told_and_chance_is_not() -> None:
    random = np.random.default_rng(2)
    drifting = random.normal(0, 1, 24) + 0.25 * np.arange(24)
    line = control_chart(drifting.tolist()).slope
    assert line is not None
    assert line.slope == pytest.approx(0.25, abs=0.1)
    told = sum(
        control_chart(random.normal(0, 1, 24).tolist()).slope is not None for _ in range(2000)
    )
    assert told / 2000 == pytest.approx(0.01, abs=0.007)  # 99 % of chance is left alone


def test_few_values_are_told_as_far_as_they_go() -> None:
    one = control_chart([5.0])
    assert (one.mean, one.sd, one.low, one.ordinary) == (5.0, None, None, True)
    two = control_chart([5.0, 7.0])
    assert two.moving_range == 2.0
    assert two.provisional
    assert not control_chart([5.0] * LEAST_VALUES).provisional
    assert all(control_chart([each] * 20).ordinary for each in (5.0, 0.1, 838.7, -0.3))


@pytest.mark.parametrize("values", [[], [1.0, math.nan], [math.inf]])
def test_what_is_no_number_is_refused(values: list[float]) -> None:
    with pytest.raises(ValueError, match="all of them finite"):
        control_chart(values)


numbers = st.lists(st.integers(-20, 20).map(float), min_size=1, max_size=60)


def plainly(values: list[float], mean: float) -> tuple[set[int], set[int]]:
    """Which values lie in runs and climbs, told the long way."""
    runs: set[int] = set()
    climbs: set[int] = set()
    for first in range(len(values)):
        for last in range(first, len(values)):
            some = values[first : last + 1]
            if len(some) >= RUN_LENGTH and (
                all(v > mean for v in some) or all(v < mean for v in some)
            ):
                runs |= set(range(first, last + 1))
            if len(some) >= CLIMB_LENGTH and (
                all(b > a for a, b in pairwise(some)) or all(b < a for a, b in pairwise(some))
            ):
                climbs |= set(range(first, last + 1))
    return runs, climbs


@given(numbers)
def test_the_rules_are_what_they_say(values: list[float]) -> None:
    chart = control_chart(values)
    runs, climbs = plainly(values, chart.mean)
    assert covered(chart.runs) == runs
    assert covered(chart.climbs) == climbs
    if chart.low is not None and chart.high is not None:
        beyond = {n for n, v in enumerate(values) if not chart.low <= v <= chart.high}
        assert set(chart.outliers) == beyond


def covered(stretches: tuple[Stretch, ...]) -> set[int]:
    return {n for each in stretches for n in range(each.first, each.last + 1)}


@given(numbers)
def test_turned_over_everything_is_turned_over(values: list[float]) -> None:
    chart, other = control_chart(values), control_chart([-each for each in values])
    assert turned(other) == (chart.outliers, chart.jumps, chart.runs, chart.climbs)


def turned(chart: ControlChart) -> tuple[object, ...]:
    def over(stretches: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
        return tuple(Stretch(each.first, each.last, not each.upward) for each in stretches)

    return chart.outliers, chart.jumps, over(chart.runs), over(chart.climbs)
