"""What is read off a dip is what the circuit's own formulae say."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.tuning.dip_reading import read_dip
from acceptance.tuning.dips import find_dips
from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.interval import Interval

F = np.linspace(0.6e9, 1.3e9, 701)


def series(f: FloatArray, f0: float, q: float, ohm: float) -> ComplexArray:
    """A series RLC of its own Q."""
    z = ohm * (1 + 1j * q * (f / f0 - f0 / f))
    reflection: ComplexArray = (z - 50) / (z + 50)
    return reflection


@pytest.mark.parametrize("f0", [0.85e9, 0.9004e9])
@pytest.mark.parametrize("q", [12.0, 30.0])
@pytest.mark.parametrize("ohm", [35.0, 50.0, 72.0])
def test_a_series_circuit_s_figures_are_found(f0: float, q: float, ohm: float) -> None:
    """With x = Q (f/f0 - f0/f): loaded Q is Q R / (R + 50); |G|^2 is 0.1 where
    (R x)^2 = (0.1 (R + 50)^2 - (R - 50)^2) / 0.9; and points at x and -x lie f0 x / Q apart
    [derived]."""
    g = series(F, f0, q, ohm)
    (dip,) = find_dips(F, g)
    found = read_dip(dip, F, g)
    depth = abs(ohm - 50) / (ohm + 50)
    x = np.sqrt((0.1 * (ohm + 50) ** 2 - (ohm - 50) ** 2) / 0.9) / ohm
    assert found.bandwidth_hz == pytest.approx(f0 * x / q, rel=0.01)
    assert found.loaded_q == pytest.approx(q * ohm / (ohm + 50), rel=0.02)
    if depth > 0.03:
        assert found.depth_db == pytest.approx(-20 * np.log10(depth), abs=0.2)
    assert not found.cut_below
    assert not found.cut_above


def test_a_shallow_dip_has_no_bandwidth() -> None:
    g = series(F, 0.9e9, 20, 150)
    (dip,) = find_dips(F, g)
    found = read_dip(dip, F, g)
    assert found.bandwidth_hz is None
    assert "shallower than 10 dB" in found.bandwidth_words
    assert found.loaded_q == pytest.approx(20 * 150 / 200, rel=0.02)


def test_where_the_sweep_ends_first_it_is_said() -> None:
    f = np.r_[np.linspace(0.84e9, 0.918e9, 79), np.linspace(1.7e9, 1.9e9, 51)]
    g = series(f, 0.9e9, 12, 50)
    (dip,) = [each for each in find_dips(f, g) if not each.beyond]
    found = read_dip(dip, f, g)
    assert found.high_hz == pytest.approx(0.918e9)
    assert found.cut_above
    assert found.bandwidth_words.startswith("at least ")
    assert found.loaded_q is None


def test_without_half_of_the_power_in_sight_q_comes_from_what_is() -> None:
    """f0 x / width at the level of the nearer end serves in place of half [derived]."""
    f = np.linspace(0.80e9, 0.94e9, 141)
    g = series(f, 0.9e9, 12, 50)
    (dip,) = [each for each in find_dips(f, g) if not each.beyond]
    found = read_dip(dip, f, g)
    assert found.loaded_q == pytest.approx(6, rel=0.03)
    assert not found.half_in_sight
    assert found.q_words.startswith("about 6.0")


def test_deeper_than_the_floor_only_a_bound_is_told() -> None:
    g = series(F, 0.9e9, 20, 50.5)
    (dip,) = find_dips(F, g)
    size = np.abs(g)
    floor = np.full(F.size, 0.05)
    bounds = Interval(F, size, np.maximum(size - 0.05, 0.0), size + 0.05, floor)
    found = read_dip(dip, F, g, bounds)
    assert found.depth_db is None
    assert found.proven_db == pytest.approx(25.3, abs=0.8)
    assert found.depth_words.startswith("better than 25")
