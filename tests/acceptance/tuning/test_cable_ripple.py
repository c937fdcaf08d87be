"""The ripple of a cable against numpy's own least squares, and what is none."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.tuning.cable_ripple import RIPPLE_TERMS, _fits, _turns, is_cable
from acquire.sweep import ComplexArray


def cable(points: int, turns: float, seed: int) -> tuple[np.ndarray, ComplexArray]:
    """A connector's reflection and a far end's behind some turns of cable, with noise [derived]."""
    rng = np.random.default_rng(seed)
    x = np.linspace(-1, 1, points)
    once = np.exp(-1j * np.pi * turns * x)
    noise = 1e-3 * (rng.standard_normal(points) + 1j * rng.standard_normal(points))
    return x, 0.1j + 0.6 * (1 + 0.1 * x) * once + 0.05 * once**2 + noise


@pytest.mark.parametrize("points", [12, 161, 1601])
@pytest.mark.parametrize("turns", [1.4, 6.3, 19.0])
def test_what_is_left_over_is_what_least_squares_leave(points: int, turns: float) -> None:
    """numpy.linalg.lstsq on the long matrix [run]."""
    x, reflection = cable(points, turns, seed=points)
    tries = np.array([turns - 0.02, turns, turns + 0.02])
    found = _fits(x, reflection, tries)[0]
    for got, each in zip(found, tries, strict=True):
        e = np.exp(-1j * np.pi * each * x)
        rows = np.stack([x**m * e**k for k, m in RIPPLE_TERMS], axis=1)
        parts = np.linalg.lstsq(rows, reflection, rcond=None)[0]
        rms = np.sqrt(np.mean(np.abs(reflection - rows @ parts) ** 2))
        assert got == np.inf or got == pytest.approx(rms, rel=1e-6, abs=1e-9)
    if points > 12:
        assert np.isfinite(found).any()


def test_the_delay_is_tried_around_the_transform_s_peak() -> None:
    x, reflection = cable(401, 6.3, seed=1)
    tries = _turns(x, reflection)
    assert np.abs(tries - 6.3).min() <= 1 / 16


def test_a_cable_is_told_from_a_resonance() -> None:
    f = np.linspace(0.7e9, 1.2e9, 401)
    _, reflection = cable(401, 6.3, seed=2)
    assert is_cable(f, reflection, 1e-3)
    z = 45 * (1 + 6j * (f / 0.9e9 - 0.9e9 / f))
    assert not is_cable(f, (z - 50) / (z + 50), 1e-3)
