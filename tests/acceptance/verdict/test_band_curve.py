"""The curve a band is judged by: edges, delay, error, and the reasons it cannot be told."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.verdict.band_curve import BandCurve, Gap, band_curve
from acquire.touchstone.reader import parse_touchstone
from tests.counts import examples
from tests.wording import missing_words

SPAN = (832e6, 862e6)
MEASURED = Path(os.environ.get("BANDWRIGHT_MEASURED", "absent"))


def grid(step_hz: float, offset_hz: float = 0.0, low_hz: float = 800e6, high_hz: float = 900e6):
    return np.arange(low_hz + offset_hz, high_hz, step_hz)


def resonance(frequency_hz, centre_hz=845e6, quality=8.0, size=0.95, delay_s=3e-9):
    """A single resonance seen through a line: what an antenna's dip looks like [derived]."""
    detuning = quality * (frequency_hz / centre_hz - centre_hz / frequency_hz)
    return (1 - size / (1 + 1j * detuning)) * np.exp(-2j * np.pi * frequency_hz * delay_s)


def cut(frequency_hz, reflection, span=SPAN) -> BandCurve:
    curve = band_curve(frequency_hz, reflection, span)
    assert isinstance(curve, BandCurve), curve
    return curve


def reason(frequency_hz, reflection, span=SPAN) -> str:
    gap = band_curve(frequency_hz, reflection, span)
    assert isinstance(gap, Gap)
    return gap.reason


@pytest.mark.parametrize(("degrees", "optimistic_db"), [(20, 0.13), (36, 0.44), (60, 1.25)])
def test_delay_costs_nothing_where_straight_interpolation_flatters_the_edge(degrees, optimistic_db):
    # A reflection of .3 turning so far a step, an edge midway: the straight line between the
    # points loses cos(turn / 2), so the edge looks better by these figures [derived].
    step = 1e6
    frequency = grid(step, offset_hz=0.5 * step)
    delay = degrees / 360 / step
    reflection = 0.3 * np.exp(-2j * np.pi * frequency * delay)
    straight = np.interp(832e6, frequency, reflection.real) + 1j * np.interp(
        832e6, frequency, reflection.imag
    )
    assert -20 * np.log10(abs(straight) / 0.3) == pytest.approx(optimistic_db, abs=0.006)
    curve = cut(frequency, reflection)
    np.testing.assert_allclose(np.abs(curve.reflection), 0.3, rtol=1e-9)
    assert curve.error.max() < 1e-9
    edges = np.array(SPAN)
    np.testing.assert_allclose(
        curve.reflection[[0, -1]], 0.3 * np.exp(-2j * np.pi * edges * delay), rtol=1e-6
    )


def test_points_on_the_edges_are_taken_as_they_are():
    frequency = np.linspace(822e6, 872e6, 51)
    reflection = resonance(frequency)
    curve = cut(frequency, reflection)
    np.testing.assert_array_equal(curve.frequency_hz, frequency[10:41])
    np.testing.assert_array_equal(curve.reflection, reflection[10:41])
    assert not curve.error.any()


def test_a_unit_that_rounds_its_frequencies_still_covers_the_edge():
    frequency = np.linspace(832e6 + 0.4, 862e6 - 0.4, 31)
    curve = cut(frequency, resonance(frequency))
    assert curve.frequency_hz[0] == pytest.approx(832e6, abs=1)
    assert not curve.error.any()


def test_a_sweep_of_exactly_the_band_is_enough():
    frequency = np.linspace(*SPAN, 31)
    assert cut(frequency, resonance(frequency)).frequency_hz.size == 31


def test_the_stated_error_covers_the_true_one_on_random_antennas():
    # 600 random two-resonance antennas behind random lines [derived]: the true |reflection| at
    # the edge lies above estimate + error in at most 1 % and then by less than .002.
    rng = np.random.default_rng(11)
    excess = []
    for _ in range(600):
        centre, step = rng.uniform(0.7e9, 2.6e9), rng.uniform(1e6, 12e6)
        quality, size, delay = rng.uniform(3, 25), rng.uniform(0.5, 1.3), rng.uniform(0, 20e-9)
        low = centre * rng.uniform(0.93, 1.02)
        span = (low, low + rng.uniform(30e6, 120e6))

        def true(frequency, centre=centre, quality=quality, size=size, delay=delay):
            second = resonance(frequency, 1.3 * centre, 1.4 * quality, 0.5, 1.4 * delay)
            return resonance(frequency, centre, quality, size, delay) + 0.2 * second

        frequency = np.arange(low - rng.uniform(0, 1) * step, span[1] + step, step)
        curve = band_curve(frequency, true(frequency), span)
        if isinstance(curve, BandCurve):
            for edge in (0, -1):
                truth = abs(true(curve.frequency_hz[[edge]])[0])
                excess.append(truth - abs(curve.reflection[edge]) - curve.error[edge])
    assert len(excess) > 600
    assert np.mean(np.array(excess) > 1e-12) < 0.01
    assert max(excess) < 0.002


@examples(60)
@given(delay=st.floats(-20e-9, 20e-9), phase=st.floats(-3.2, 3.2), offset=st.floats(0, 1))
def test_turning_every_reading_by_a_delay_changes_no_magnitude(delay, phase, offset):
    frequency = grid(2e6, offset_hz=offset * 2e6)
    reflection = resonance(frequency)
    turned = reflection * np.exp(1j * phase - 2j * np.pi * frequency * delay)
    before, after = cut(frequency, reflection), cut(frequency, turned)
    np.testing.assert_allclose(np.abs(after.reflection), np.abs(before.reflection), atol=1e-9)
    np.testing.assert_allclose(after.error, before.error, atol=1e-9)


def test_what_lies_outside_the_points_next_to_the_band_changes_nothing():
    frequency = grid(2.7e6)
    reflection = resonance(frequency)
    outside = (frequency < 832e6 - 2.7e6) | (frequency > 862e6 + 2.7e6)
    spoiled = np.where(outside, complex("nan"), reflection)
    for other in (
        band_curve(frequency, spoiled, SPAN),
        band_curve(frequency[~outside], reflection[~outside], SPAN),
    ):
        assert isinstance(other, BandCurve)
        np.testing.assert_array_equal(other.reflection, cut(frequency, reflection).reflection)


@pytest.mark.parametrize(
    ("low_hz", "high_hz", "words"),
    [
        (800e6, 850e6, "850-862 MHz not covered"),
        (840e6, 900e6, "832-840 MHz not covered"),
        (840e6, 850e6, "832-840 MHz and 850-862 MHz not covered"),
        (600e6, 700e6, "832-862 MHz not covered: the readings run from 600 to 700 MHz"),
        (900e6, 950e6, "832-862 MHz not covered"),
        (832e6 + 2, 862e6, "832-832.000002 MHz not covered"),
    ],
)
def test_a_band_not_covered_edge_to_edge_is_a_gap_that_names_the_missing_part(
    low_hz, high_hz, words
):
    frequency = np.linspace(low_hz, high_hz, 101)
    assert words in reason(frequency, np.full(101, 0.1 + 0j))


@pytest.mark.parametrize("value", [complex("nan"), complex("inf"), complex(0.1, float("nan"))])
@pytest.mark.parametrize("at_hz", [831e6, 833e6, 847e6, 863e6])
def test_a_reading_missing_in_the_band_or_next_to_its_edge_is_a_gap(value, at_hz):
    frequency = grid(2e6, offset_hz=1e6)
    reflection = np.full(frequency.size, 0.1 + 0j)
    reflection[frequency == at_hz] = value
    assert f"No reading at {at_hz / 1e6:g} MHz" in reason(frequency, reflection)


def test_too_few_points_in_a_narrow_band_are_a_gap_with_the_step_to_use():
    frequency = grid(1.5e6)
    words = reason(frequency, np.full(frequency.size, 0.1 + 0j), (868e6, 870e6))
    assert not missing_words(words, "coarse", "1 measured point", "3 are needed", "0.5 MHz")


def test_the_step_a_gap_asks_for_is_fine_enough():
    for offset in np.linspace(0, 1, 20):
        frequency = grid(0.5e6, offset_hz=offset * 0.5e6)
        cut(frequency, np.full(frequency.size, 0.1 + 0j), (868e6, 870e6))


def test_a_hole_wider_than_a_resonance_is_a_gap():
    frequency = np.concatenate((grid(1e6, high_hz=840e6), grid(1e6, low_hz=860e6)))
    words = reason(frequency, np.full(frequency.size, 0.1 + 0j))
    assert "no reading between 839 and 860 MHz" in words


def test_a_delay_that_turns_too_far_a_step_is_a_gap():
    frequency = grid(5e6, high_hz=905e6)
    words = reason(frequency, 0.3 * np.exp(-2j * np.pi * frequency * 70e-9))
    assert "turns about 126 degrees a step, and 90 can be followed" in words
    assert "steps of 3.6 MHz or finer" in words


def test_what_reflects_next_to_nothing_may_turn_as_it_likes():
    """40 dB: however it turns between two points, it leaves the line by less than is allowed."""
    frequency = grid(5e6, high_hz=905e6)
    turned = np.exp(-2j * np.pi * frequency * 70e-9)
    assert isinstance(cut(frequency, 0.0099 * turned), BandCurve)
    assert "turns about" in reason(frequency, 0.0101 * turned)


def test_a_resonance_too_narrow_for_the_grid_is_a_gap_and_a_finer_grid_shows_it():
    def true(frequency):
        return resonance(frequency, 847e6, quality=60)

    coarse = grid(5e6, high_hz=905e6)
    assert "the reflection may leave the line between the points by" in reason(coarse, true(coarse))
    fine = grid(1e6, high_hz=905e6)
    assert cut(fine, true(fine)).reflection.size > 30


@pytest.mark.skipif(
    not MEASURED.is_dir(),
    reason="BANDWRIGHT_MEASURED is not set: published in edges-collab/edges-analysis",
)
def test_on_a_real_antenna_left_out_points_are_found_within_the_stated_error():
    # Raw readings of a real antenna, 40 to 200 MHz (MIT, 2020 Raul Monsalve). Every second point
    # is left out and asked for as a band edge; its noise is not in the error, hence the slack.
    path = MEASURED / "radiometer_antenna_2022/raw_ant.s1p"
    reading = parse_touchstone(path.read_bytes(), path.name).reading
    frequency, reflection = reading.frequency_hz, reading.reflection
    kept = slice(0, None, 2)
    tried = 0
    for at in range(21, 131, 2):
        curve = band_curve(frequency[kept], reflection[kept], (frequency[at], frequency[at] + 9e6))
        if isinstance(curve, BandCurve):
            tried += 1
            missed = abs(curve.reflection[0] - reflection[at])
            assert missed <= curve.error[0] + 1e-4
    assert tried > 30
