"""Pieces in each other's place are told by the steps that are gone once they are put back."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.analyzer.exchanged_pieces import exchanged
from acquire.analyzer.outliers import ReferenceSweeps, Take
from acquire.sweep import ComplexArray, Reading, SweepRequest

POINTS = 101
AT = np.arange(POINTS)


def noise(rng: np.random.Generator, rms: float) -> ComplexArray:
    scattered: ComplexArray = rms * (rng.standard_normal((POINTS, 2)) @ np.array([1, 1j]))
    return scattered


def curve(rng: np.random.Generator) -> ComplexArray:
    """A line with a dip in it."""
    dip = 1 - 0.8 / (1 + 1j * (AT - rng.uniform(10, 90)) / rng.uniform(6, 20))
    turned: ComplexArray = 0.9 * np.exp(-1j * rng.uniform(0.02, 0.15) * AT) * dip
    return turned


def swapped(reflection: ComplexArray, begin: int, length: int) -> ComplexArray:
    """Numbers, real and imaginary in turn, with two pieces in each other's place."""
    numbers = reflection.view(np.float64)
    one, two = numbers[begin : begin + length], numbers[begin + length : begin + 2 * length]
    behind = numbers[begin + 2 * length :]
    return np.concatenate([numbers[:begin], two, one, behind]).view(np.complex128)


@pytest.mark.parametrize("length", [8, 16, 32, 64])
@pytest.mark.parametrize("rms", [0.0, 1e-4])
def test_pieces_in_each_other_s_place_are_told(length: int, rms: float) -> None:
    rng = np.random.default_rng(length)
    for _ in range(60):
        sound = curve(rng) + noise(rng, rms)
        begin = int(rng.integers(2 * POINTS - 2 * length + 1))
        came = swapped(sound, begin, length)
        least = np.abs(np.diff(came)).min(initial=1.0)
        assert exchanged(came) or least > 0.1 or np.abs(came - sound).max() < 0.02


def test_what_an_antenna_and_a_hand_do_is_not_taken_for_it() -> None:
    rng = np.random.default_rng(5)
    for _ in range(300):
        reflection = curve(rng) + noise(rng, float(rng.choice([0.0, 1e-5, 1e-3, 1e-2])))
        for at in rng.integers(POINTS, size=int(rng.integers(4))):
            reflection[at:] *= np.exp(0.3j)  # a hand that moved
        assert exchanged(reflection) == []


def test_a_reply_with_exchanged_pieces_is_asked_again() -> None:
    request = SweepRequest(700e6, 800e6, POINTS)
    sound = curve(np.random.default_rng(6))
    references = ReferenceSweeps()
    spoilt, right = (
        Take(Reading(request.grid_hz(), each), 0.0, 1.0) for each in (swapped(sound, 60, 32), sound)
    )
    whole, points = references.suspect(request, spoilt)
    assert not whole
    assert set(range(30, 62)) <= set(points)  # two numbers a point
    assert references.suspect(request, right) == (False, [])


def test_records_in_any_order_are_never_taken_for_exchanged_ones() -> None:
    """Each tells its own place; a hand that moves in steps draws just such a curve."""
    request = SweepRequest(700e6, 800e6, POINTS)
    steps = swapped(curve(np.random.default_rng(6)), 60, 32)
    taken = Take(Reading(request.grid_hz(), steps), 0.0, 1.0)
    _, points = ReferenceSweeps(any_order=True).suspect(request, taken)
    assert not set(range(34, 58)) <= set(points)


def test_steps_of_an_analyzer_s_own_at_equal_distances_are_not_taken_for_it() -> None:
    rng = np.random.default_rng(8)
    for _ in range(300):
        reflection = 0.5 * np.exp(-0.02j * AT)
        for at in range(20, POINTS, 20):
            reflection[at:] *= np.exp(1j * rng.uniform(0.3, 3))
        assert exchanged(reflection) == []


def test_pieces_exchanged_twice_and_over_one_another_are_told() -> None:
    rng = np.random.default_rng(9)
    for _ in range(60):
        length, other = (int(each) for each in rng.choice([8, 16], 2))
        sound = 0.5 * np.exp(-1j * rng.uniform(0.02, 0.1) * AT) + noise(rng, 1e-6)
        first = int(rng.integers(20, 80))
        over = first + 4 * int(rng.integers(-4, 5))  # beside it, in it, or right on it
        came = swapped(swapped(sound, first, length), over, other)
        assert exchanged(came) or np.abs(came - sound).max() < 2e-3
