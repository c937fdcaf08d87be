"""Conversions between the trade's ways of writing one match."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.limits.match import (
    average_return_loss_db,
    impedance_ohm,
    mismatch_loss_db,
    reflection_from_return_loss,
    reflection_from_vswr,
    return_loss_db,
    vswr,
)

# VSWR, |G|, return loss dB, reflected %, mismatch loss dB, as printed in Pozar and in the ARRL
# Handbook [memory]; every row follows from the definitions [derived].
ROWS = [
    (1.02, 0.00990, 40.086, 0.010, 0.0004),
    (1.05, 0.02439, 32.256, 0.059, 0.0026),
    (1.10, 0.04762, 26.444, 0.227, 0.0099),
    (1.20, 0.09091, 20.828, 0.826, 0.0360),
    (1.25, 0.11111, 19.085, 1.235, 0.0540),
    (1.40, 0.16667, 15.563, 2.778, 0.1223),
    (1.50, 0.20000, 13.979, 4.000, 0.1773),
    (1.75, 0.27273, 11.285, 7.438, 0.3357),
    (2.00, 0.33333, 9.542, 11.111, 0.5115),
    (2.50, 0.42857, 7.360, 18.367, 0.8814),
    (3.00, 0.50000, 6.021, 25.000, 1.2494),
    (5.00, 0.66667, 3.522, 44.444, 2.5527),
    (10.0, 0.81818, 1.743, 66.942, 4.8073),
]


@pytest.mark.parametrize(("ratio", "size", "loss_db", "percent", "mismatch_db"), ROWS)
def test_the_published_rows_come_out_to_their_last_digit(
    ratio, size, loss_db, percent, mismatch_db
):
    exact = (ratio - 1) / (ratio + 1)
    assert float(reflection_from_vswr(ratio)) == pytest.approx(size, abs=6e-6)
    assert float(return_loss_db(exact)) == pytest.approx(loss_db, abs=6e-4)
    assert float(vswr(exact)) == pytest.approx(ratio, rel=1e-12)
    assert 100 * exact**2 == pytest.approx(percent, abs=6e-4)
    assert float(mismatch_loss_db(exact)) == pytest.approx(mismatch_db, abs=6e-5)


@pytest.mark.parametrize(
    ("loss_db", "ratio"),
    [
        (10, 1.9250),
        (14, 1.4985),
        (15, 1.4326),
        (20, 1.2222),
        (25, 1.1192),
        (30, 1.0653),
        (40, 1.0202),
    ],
)  # the inverse table [derived]
def test_a_return_loss_gives_the_published_vswr(loss_db, ratio):
    assert float(vswr(reflection_from_return_loss(loss_db))) == pytest.approx(ratio, abs=6e-5)


def test_no_reflection_is_infinite_return_loss_and_a_vswr_of_one_without_a_warning():
    assert float(return_loss_db(0)) == np.inf
    assert float(vswr(0)) == 1
    assert float(mismatch_loss_db(0)) == 0


def test_total_reflection_is_no_return_loss_and_infinite_vswr():
    assert float(return_loss_db(1)) == 0
    assert np.copysign(1, return_loss_db(1)) == 1  # never printed as -0.0
    np.testing.assert_array_equal(vswr([1, -1j, 1.05]), np.inf)
    np.testing.assert_array_equal(mismatch_loss_db([1, 1.05]), np.inf)


def test_impedance_follows_from_the_reflection_and_an_open_is_infinite():
    reflection = np.array([0, 0.2, -1, 1j, 1])
    expected = [50, 75, 0, 50j]
    np.testing.assert_allclose(impedance_ohm(reflection)[:4], expected, atol=1e-12)
    assert np.isinf(impedance_ohm(reflection)[4])


def test_the_average_is_of_power_over_frequency_not_of_decibels_or_points():
    # |G|^2 rises from .01 to .09 in a straight line: the mean is .05, 13.01 dB [derived];
    # crowding points at one end changes nothing.
    frequency = np.concatenate((np.linspace(800e6, 801e6, 500), np.linspace(802e6, 900e6, 40)))
    power = 0.01 + 0.08 * (frequency - 800e6) / 100e6
    assert average_return_loss_db(frequency, np.sqrt(power)) == pytest.approx(13.0103, abs=1e-4)


@given(st.floats(1e-6, 0.999))
def test_every_conversion_is_undone_by_its_inverse(size):
    assert float(reflection_from_vswr(vswr(size))) == pytest.approx(size, rel=1e-9)
    assert float(reflection_from_return_loss(return_loss_db(size))) == pytest.approx(size)
