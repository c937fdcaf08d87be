"""What swings behind a long line tells directivity and source match."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.sweep import ComplexArray
from calibration.error_terms.one_port import ErrorTerms, embed
from calibration.errors import CalibrationError
from calibration.verification.ripple_method import directivity_from, ripple, source_match_from

F = np.linspace(0.7e9, 2.7e9, 1601)
DELAY_S = 4e-9  # 1.2 m of air: 16 turns over the sweep [derived: 2 tau B]


def read(directivity: complex, source_match: complex, reflection: ComplexArray) -> ComplexArray:
    """What is read of a reflection with these residual errors left: the model itself."""
    ones = np.ones(F.size)
    return embed(ErrorTerms(F, directivity * ones, source_match * ones, ones + 0j), reflection)


def behind(size: float) -> ComplexArray:
    return size * np.exp(-4j * np.pi * F * DELAY_S)


# Phase between D of .01 and M of .02, and half the swing of a short behind a long line [run].
SHORT = [(0.0, 0.0300), (1.2, 0.0254), (np.pi, 0.0100)]


@pytest.mark.parametrize(("phase", "half_swing"), SHORT)
def test_a_short_swings_as_directivity_and_source_match_add(
    phase: float, half_swing: float
) -> None:
    reading = read(0.01 * np.exp(1j * phase), 0.02, -behind(1.0))
    found = ripple(F, reading, DELAY_S)
    np.testing.assert_allclose(found.half_swing, half_swing, atol=6e-5)
    assert found.turns == pytest.approx(16.0)


@given(size=st.floats(0.001, 0.05), match=st.floats(0.001, 0.05), angle=st.floats(-np.pi, np.pi))
def test_a_short_s_swing_brackets_the_source_match(size: float, match: float, angle: float) -> None:
    """||M| - |D|| <= swing <= |M| + |D|, to second order in M."""
    reading = read(size * np.exp(1j * angle), match, -behind(1.0))
    found = ripple(F, reading, DELAY_S)
    least, most = source_match_from(found, np.full(F.size, size))
    slack = 0.01 * size + 2 * match**2
    assert (least <= match + slack).all()
    assert (most >= match - slack).all()
    assert (found.half_swing <= size + match + slack).all()
    assert (found.half_swing >= abs(size - match) - slack).all()


@given(size=st.floats(0.002, 0.06), angle=st.floats(-np.pi, np.pi), load=st.floats(1.3, 3.0))
def test_a_small_load_s_half_swing_is_the_directivity(
    size: float, angle: float, load: float
) -> None:
    """|D + G exp(jp)| runs from |G| - |D| to |G| + |D| [derived]."""
    found = ripple(F, read(size * np.exp(1j * angle), 0.0, behind(load * size)), DELAY_S)
    np.testing.assert_allclose(directivity_from(found), size, rtol=0.02)
    np.testing.assert_allclose(found.mean, load * size, rtol=0.02)


def test_a_load_smaller_than_the_directivity_is_refused() -> None:
    """Its swing is its own size: it would prove a directivity that is not there."""
    found = ripple(F, read(0.03, 0.02, behind(0.01)), DELAY_S)
    np.testing.assert_allclose(found.half_swing, 0.01, rtol=0.03)
    with pytest.raises(CalibrationError, match=r"radius of 0\.01 about 0\.03"):
        directivity_from(found)


def test_a_line_too_short_or_points_too_far_apart_are_refused() -> None:
    with pytest.raises(CalibrationError, match=r"turns 0\.4 times.*0\.15 m"):
        ripple(F, read(0.01, 0.02, behind(0.05)), 0.1e-9)
    with pytest.raises(CalibrationError, match="8 points a turn"):
        ripple(F[::40], read(0.01, 0.02, behind(0.05))[::40], 4e-9)
    broken = read(0.01, 0.02, behind(0.05))
    broken[7] = complex("nan")
    with pytest.raises(CalibrationError, match="not measured"):
        ripple(F, broken, DELAY_S)
