"""A marker reads what the sweep says there, and never more than is known."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.verdict.point_reading import read_point
from calibration.uncertainty.interval import Interval
from tests.acceptance.tuning.test_dip_reading import series

F = np.r_[np.linspace(0.7e9, 1.0e9, 121), np.linspace(1.7e9, 1.8e9, 41)]
DELAY_S = 3e-9


def fed(f: np.ndarray) -> np.ndarray:
    """A resonance behind half a metre of cable."""
    turned: np.ndarray = series(f, 0.9e9, 15, 40) * np.exp(-4j * np.pi * f * DELAY_S)
    return turned


def bounds(half_width: float) -> Interval:
    size = np.abs(fed(F))
    low = np.where(size > half_width, size - half_width, 0.0)
    return Interval(
        F, size, low, np.maximum(size + half_width, half_width), np.full(F.size, half_width)
    )


def test_between_two_points_it_follows_the_curve() -> None:
    for at_hz in (0.8012e9, 0.90111e9, 0.99991e9, 1.71e9):
        found = read_point(F, fed(F), at_hz)
        assert found is not None
        assert abs(found.reflection - fed(np.array([at_hz]))[0]) < 1e-3
        assert found.error < 5e-3
        assert (found.low, found.high, found.interval_words) == (None, None, "")


def test_on_a_point_it_is_that_point_with_its_interval() -> None:
    uncertainty = bounds(0.02)
    found = read_point(F, fed(F), float(F[20]), uncertainty)
    assert found is not None
    assert (found.reflection, found.error) == (complex(fed(F)[20]), 0.0)
    assert (found.low, found.high) == pytest.approx((uncertainty.low[20], uncertainty.high[20]))
    low, high = uncertainty.return_loss_db
    assert found.interval_words == f"{low[20]:.1f} to {high[20]:.1f} dB"


def test_what_following_may_be_off_widens_the_interval() -> None:
    found = read_point(F, fed(F), 0.90111e9, bounds(0.02))
    assert found is not None
    assert found.low is not None
    assert found.high is not None
    assert found.high - found.low == pytest.approx(0.04 + 2 * found.error)


def test_where_nothing_was_swept_nothing_is_read() -> None:
    g = fed(F)
    for at_hz in (0.6e9, 1.3e9, 1.69e9, 1.9e9):
        assert read_point(F, g, at_hz) is None
    g[60] = np.nan
    assert read_point(F, g, float(F[60])) is None
    assert read_point(F, g, float(F[60]) + 1e5) is None
    assert read_point(F[:0], g[:0], 0.9e9) is None


def test_deeper_than_the_floor_it_has_no_number_of_its_own() -> None:
    found = read_point(F, fed(F), 0.9e9, bounds(0.2))
    assert found is not None
    assert found.beyond_floor
    assert found.return_loss_words.startswith("better than ")
    assert found.interval_words.endswith("or more")
    assert found.vswr_words.endswith("or less")
    assert found.impedance_words == ""


def test_its_words_are_the_textbook_s() -> None:
    """|G| 1/3 is 9.54 dB and VSWR 2; 100 ohm in 50; -j50 ohm alone reflects all [derived]."""
    f = np.array([1e9])
    found = read_point(f, np.array([1 / 3 + 0j]), 1e9)
    assert found is not None
    assert (found.return_loss_words, found.vswr_words) == ("9.5 dB", "2.00")
    assert found.impedance_words == "100 + j0.0 Ω"
    found = read_point(f, np.array([(-1j - 1) / (-1j + 1)]), 1e9)
    assert found is not None
    assert found.vswr_words == "above 100"
    assert found.impedance_words == "0.0 − j50.0 Ω"
    found = read_point(f, np.array([1 + 0j]), 1e9)
    assert found is not None
    assert found.impedance_words == ""
