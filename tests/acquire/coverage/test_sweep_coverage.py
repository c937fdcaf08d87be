"""Coverage: every wanted edge between points, passes a unit can sweep, said in words."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.coverage.spans import Span, continuous_spans
from acquire.coverage.sweep_coverage import Coverage, cover, even, join
from acquire.coverage.sweep_limits import Limits
from acquire.errors import CoverageError
from acquire.sweep import Reading, SweepRequest

# Uplink and downlink of operating bands 20, 3 and 28 [3GPP TS 36.101 table 5.5-1, memory].
BAND_20 = [(832e6, 862e6), (791e6, 821e6)]
BAND_3 = [(1710e6, 1785e6), (1805e6, 1880e6)]
BAND_28 = [(703e6, 748e6), (758e6, 803e6)]

SMALL_UNIT = Limits(50e3, 3000e6, 101, range_steps_hz=(300e6, 1200e6))
LARGE_UNIT = Limits(300e3, 6000e6, 1601)
FIXED_UNIT = Limits(50e3, 3000e6, 101, fewest_points=101)


def covered(wanted: list[Span], limits: Limits, **options: float) -> Coverage:
    return cover(wanted, limits=limits, seconds_per_point=0.004, **options)


@st.composite
def wanted_spans(draw: st.DrawFn) -> list[Span]:
    spans = []
    for _ in range(draw(st.integers(1, 8))):
        low = draw(st.integers(1_000_000, 3_200_000_000))
        width = draw(st.sampled_from([1_000, 180_000, 1_400_000, 30_000_000, 500_000_000]))
        spans.append((float(low), float(low + draw(st.integers(1_000, width)))))
    return spans


@st.composite
def units(draw: st.DrawFn) -> Limits:
    points = draw(st.sampled_from([11, 101, 201, 1601]))
    ends = [draw(st.integers(0, 900_000_000))]
    for gap in draw(st.lists(st.sampled_from([10_000, 2_000_000, 900_000_000]), max_size=3)):
        ends.append(ends[-1] + gap)
    high = max(1_000_000_000, ends[-1] + draw(st.integers(10_000, 2_000_000_000)))
    return Limits(
        float(ends[0]),
        float(high),
        points,
        tuple(float(hz) for hz in ends[1:]),
        draw(st.sampled_from([2, 11, points])),
    )


@given(
    wanted=wanted_spans(),
    limits=units(),
    step_hz=st.sampled_from([None, 100e3, 2e6]),
    margin=st.sampled_from([0.0, 0.05, 1.0]),
)
def test_every_wanted_edge_lies_between_points_no_further_apart_than_the_step(
    wanted: list[Span], limits: Limits, step_hz: float | None, margin: float
) -> None:
    try:
        coverage = cover(
            wanted, limits=limits, step_hz=step_hz, margin=margin, seconds_per_point=0.004
        )
    except CoverageError:
        assert not any(low < limits.high_hz and high > limits.low_hz for low, high in wanted)
        return
    grid = coverage.grid_hz
    assert (np.diff(grid) > 0).all()
    assert grid[0] >= limits.low_hz
    assert grid[-1] <= limits.high_hz
    for request in coverage.passes:
        assert limits.fewest_points <= request.points <= limits.points
        assert not any(request.start_hz <= hz <= request.stop_hz for hz in limits.range_steps_hz)
    for span in wanted:
        low, high = max(span[0], limits.low_hz), min(span[1], limits.high_hz)
        if low >= high:
            continue
        within = grid[max(np.searchsorted(grid, low) - 1, 0) :]
        within = within[: np.searchsorted(within, high, "right") + 1]
        assert within[0] < low or low == limits.low_hz
        assert within[-1] > high or high == limits.high_hz
        step = step_hz or min(max((high - low) / 20, 10e3), 5e6)
        if (low, high) == span:
            assert np.diff(within).max() <= step + 2.0  # ends are rounded to whole hertz
    assert coverage.beyond == tuple(
        span for span in wanted if span[0] < limits.low_hz or span[1] > limits.high_hz
    )


@given(
    low_hz=st.sampled_from([300e6, 868e6]),
    off_hz=st.sampled_from([0.4, 0.5, 1.0, 2.0, 700.0]),
    width_hz=st.sampled_from([50e3, 200e3, 2e6]),
    points=st.integers(5, 51),
    fixed=st.booleans(),
    step_hz=st.sampled_from([None, 1e3, 10e3, 100e3]),
    margin=st.sampled_from([0.0, 0.05, 0.1, 0.15, 1.0]),
    seconds_per_point=st.sampled_from([1e-4, 1e-3, 0.05, 0.5]),
)
def test_ranges_that_are_nearly_the_same_make_no_pass_too_narrow_to_set(
    *,
    low_hz: float,
    off_hz: float,
    width_hz: float,
    points: int,
    fixed: bool,
    step_hz: float | None,
    margin: float,
    seconds_per_point: float,
) -> None:
    limits = Limits(50e3, 3e9, points, (300e6,), points if fixed else 2)
    high_hz = low_hz + width_hz
    coverage = cover(
        [(low_hz, high_hz), (low_hz + off_hz, high_hz + off_hz)],
        limits=limits,
        step_hz=step_hz,
        margin=margin,
        seconds_per_point=seconds_per_point,
    )
    grid = coverage.grid_hz
    assert np.diff(grid).min() >= 20.0
    assert grid[0] < low_hz
    assert grid[-1] > high_hz + off_hz


def test_two_ranges_less_than_a_hertz_apart_are_swept_as_one() -> None:
    one, other = (868e6, 870e6), (868e6 + 0.4, 870e6 + 0.4)
    eleven = Limits(50e3, 3e9, 11)
    alone, both = (
        cover(wanted, limits=eleven, seconds_per_point=0.001) for wanted in ([one], [one, other])
    )
    assert both.words == alone.words


def test_a_range_that_ends_a_fraction_of_a_hertz_below_a_range_step_keeps_off_it() -> None:
    (swept,) = covered([(1199_990e3 - 1.4, 1199_990e3 - 0.4)], SMALL_UNIT).passes
    assert swept.stop_hz < 1200e6


@given(wanted=wanted_spans(), limits=units())
def test_continuous_spans_hold_every_pass_and_cross_no_range_step(
    wanted: list[Span], limits: Limits
) -> None:
    wanted = [*wanted, (950e6, 960e6)]
    coverage = covered(wanted, limits)
    spans = continuous_spans(coverage.passes, limits.range_steps_hz)
    for request in coverage.passes:
        assert sum(low <= request.start_hz and request.stop_hz <= high for low, high in spans) == 1
    for (_, high), (low, _) in itertools.pairwise(spans):
        assert high <= low
    for low, high in spans:
        assert not any(low < hz < high for hz in limits.range_steps_hz)


def test_a_small_unit_covers_three_bands_in_a_few_short_passes() -> None:
    coverage = covered(BAND_20 + BAND_3 + BAND_28, SMALL_UNIT, margin=0.05)
    assert coverage.words == "3 passes of 40 to 51 points, about 0.71 s"
    assert coverage.seconds == pytest.approx(0.004 * coverage.grid_hz.size + 0.05 * 3)


def test_a_step_finer_than_a_pass_can_hold_is_split_into_equal_passes() -> None:
    coverage = covered([(700e6, 800e6)], SMALL_UNIT, step_hz=0.25e6)
    assert [request.points for request in coverage.passes] == [101] * 4
    assert coverage.words == "4 passes of 101 points, about 1.8 s"
    assert continuous_spans(coverage.passes) == (
        pytest.approx((700e6 - 0.25e6, 800e6 + 0.25e6), abs=0.25e6 / 20),
    )


def test_a_unit_that_knows_one_number_of_points_gets_it_every_time() -> None:
    coverage = covered([*BAND_20, (2400e6, 2401e6)], FIXED_UNIT)
    assert [request.points for request in coverage.passes] == [101, 101]


def test_bands_share_a_pass_where_sweeping_the_gap_is_quicker_than_setting_another() -> None:
    apart = cover(BAND_28 + BAND_3, limits=LARGE_UNIT, seconds_per_point=0.004)
    together = cover(BAND_28 + BAND_3, limits=LARGE_UNIT, seconds_per_point=0.0001)
    assert (len(apart.passes), len(together.passes)) == (2, 1)
    assert together.grid_hz.size > 3 * apart.grid_hz.size


def test_bands_far_apart_are_not_swept_in_one_go() -> None:
    coverage = covered([(868e6, 870e6), *BAND_3], LARGE_UNIT)
    assert len(coverage.passes) == 2
    assert coverage.grid_hz.size < 80


def test_no_pass_crosses_a_frequency_where_the_unit_switches_range() -> None:
    coverage = covered([(1150e6, 1250e6)], SMALL_UNIT)
    below, above = coverage.passes
    assert below.stop_hz < 1200e6 < above.start_hz
    assert above.start_hz - below.stop_hz <= 5e6
    assert len(continuous_spans(coverage.passes, SMALL_UNIT.range_steps_hz)) == 2


def test_a_pass_set_by_hand_across_a_range_step_is_cut_there_for_interpolation() -> None:
    spans = continuous_spans([SweepRequest(200e6, 400e6, 101)], (300e6, 1200e6))
    assert len(spans) == 2
    assert spans[0][1] == 300e6 == spans[1][0]


def test_a_band_beyond_the_unit_is_named_and_the_rest_still_covered() -> None:
    coverage = covered([*BAND_20, (3400e6, 3600e6)], SMALL_UNIT)
    assert coverage.beyond == ((3400e6, 3600e6),)
    assert coverage.words.endswith("; beyond the analyzer's 0.05 to 3000 MHz: 3400 to 3600 MHz")
    assert coverage.grid_hz[-1] < 900e6


def test_the_reachable_part_of_a_band_is_swept_up_to_the_units_last_hertz() -> None:
    coverage = covered([(2990e6, 3010e6)], SMALL_UNIT)
    assert coverage.beyond == ((2990e6, 3010e6),)
    assert coverage.grid_hz[-1] == 3000e6


@pytest.mark.parametrize(
    ("wanted", "options", "words"),
    [
        (
            [(3400e6, 3600e6)],
            {},
            "3400 to 3600 MHz cannot be swept: the analyzer covers 0.05 to 3000 MHz",
        ),
        ([], {}, "nothing cannot be swept"),
        ([(800e6, 700e6)], {}, "the lower one first"),
        ([(float("nan"), 700e6)], {}, "the lower one first"),
        ([(700e6, 800e6)], {"step_hz": 1.0}, "ask for 1000 Hz or more"),
        ([(1e6, 2900e6)], {"step_hz": 1e3}, "Choose a wider step"),
    ],
)
def test_what_cannot_be_covered_is_refused_in_words(
    wanted: list[Span], options: dict[str, float], words: str
) -> None:
    with pytest.raises(CoverageError, match=words):
        covered(wanted, SMALL_UNIT, **options)


def reading(*frequencies_mhz: float) -> Reading:
    hz = np.array(frequencies_mhz) * 1e6
    return Reading(hz, hz * 1e-9 + 0.1j)


def test_passes_are_joined_in_order_of_frequency_whatever_order_they_came_in() -> None:
    joined = join([reading(3, 4), reading(1, 2)])
    assert joined.frequency_hz.tolist() == [1e6, 2e6, 3e6, 4e6]
    assert joined.reflection.real == pytest.approx([1e-3, 2e-3, 3e-3, 4e-3])


def test_a_point_shared_by_two_passes_counts_once() -> None:
    assert join([reading(1, 2), reading(2, 3)]).frequency_hz.tolist() == [1e6, 2e6, 3e6]


def test_overlapping_passes_are_refused() -> None:
    with pytest.raises(CoverageError, match=r"ends at 3 MHz and the next begins at 2 MHz"):
        join([reading(1, 3), reading(2, 4)])


@pytest.mark.parametrize(
    ("limits", "high_hz"),
    [
        (Limits(50e3, 3e9, 101), 2.5e9),
        (Limits(50e3, 3e9, 101, (300e6, 1.2e9)), 2.5e9),
        (Limits(1e6, 3e9, 401, fewest_points=401), 4.01e9 / 2),
    ],
)
def test_an_even_grid_is_even_across_passes_and_range_steps(limits: Limits, high_hz: float) -> None:
    """Every frequency a multiple of the step, none twice, none missing."""
    found = even((5e6, high_hz), 5e6, limits=limits, seconds_per_point=0.001)
    grid = found.grid_hz
    assert np.array_equal(grid, 5e6 * np.arange(1, grid.size + 1))
    assert grid[-1] >= high_hz
    assert all(limits.fewest_points <= each.points <= limits.points for each in found.passes)
    # joined, as the analyzer does it, the passes are the grid
    joined = join([Reading(each.grid_hz(), 0j * each.grid_hz()) for each in found.passes])
    assert np.array_equal(joined.frequency_hz, grid)


@pytest.mark.parametrize(
    ("span", "step_hz", "why"),
    [
        ((5e6, 9e9), 5e6, "the analyzer covers"),
        ((5e6, 2e9), 100.0, "no even grid"),
        ((0.0, 2e9), 5e6, "begins at the step or above"),
        ((5e6, 2.999e9), 1e6, "Ask for a few points less"),
    ],
)
def test_an_even_grid_that_is_none_is_refused(span: Span, step_hz: float, why: str) -> None:
    limits = Limits(1e6, 3e9, 1001, fewest_points=1001)
    with pytest.raises(CoverageError, match=why):
        even(span, step_hz, limits=limits, seconds_per_point=0.001)
