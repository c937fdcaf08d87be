"""Nothing is reflected before it was sent, whichever way an antenna's reflection turns."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray
from calibration.error_terms.time_order import MOST_EARLY, early_share, without_early
from tests.counts import LONG

TIMES = 4000 if LONG else 300


def resonance(frequency_hz: FloatArray, centre_hz: float, q: float, beta: float) -> ComplexArray:
    """A series circuit, under-coupled (beta < 1), matched or over-coupled: causal [derived]."""
    off = (frequency_hz - centre_hz) / centre_hz
    reflection: ComplexArray = 1 - 2 * beta / (1 + beta) / (1 + 2j * q / (1 + beta) * off)
    return reflection


def antenna(rng: np.random.Generator, frequency_hz: FloatArray) -> ComplexArray:
    reflection = np.exp(-2j * np.pi * frequency_hz * rng.uniform(0, 2e-9))
    width_hz = np.ptp(frequency_hz)
    for _ in range(int(rng.integers(1, 4))):
        centre_hz = frequency_hz.mean() + rng.uniform(-0.6, 0.6) * width_hz
        sizes = 10 ** rng.uniform((0.5, -1), (3, 1))
        reflection = reflection * resonance(frequency_hz, centre_hz, *sizes)
    return reflection


def test_no_antenna_answers_early_though_its_reflection_turns_either_way() -> None:
    rng = np.random.default_rng(1)
    turned_back = 0
    for _ in range(TIMES):
        points, width_hz = int(rng.choice([21, 41, 101, 401])), 10 ** rng.uniform(7, 9)
        frequency_hz = 1e9 + np.linspace(-0.5, 0.5, points) * width_hz
        reflection = antenna(rng, frequency_hz)
        turned_back += bool((np.diff(np.unwrap(np.angle(reflection))) > 0.01).any())
        scattered = 1e-3 * (rng.standard_normal((points, 2)) @ np.array([1, 1j]))
        assert early_share(reflection + scattered) < MOST_EARLY / 2
    assert turned_back > TIMES // 20


def order_doubts(frequency_hz: FloatArray, reflection: ComplexArray) -> tuple[str, ...]:
    kept, doubts = without_early(frequency_hz, reflection)
    assert bool(doubts) == (not np.array_equal(kept, reflection, equal_nan=True))
    return doubts


SPOILT = {
    "in reverse": lambda raw: raw[::-1],
    "without its minus signs": lambda raw: np.abs(raw.real) + 1j * np.abs(raw.imag),
    "stuck": lambda raw: np.full(raw.size, raw[50]),
}


@pytest.mark.parametrize("how", SPOILT)
def test_a_spoilt_reply_is_told_by_the_calibration_s_own_delay(how: str) -> None:
    """A way of 5 ns there and back, seen in a gigahertz: five times what that resolves."""
    rng = np.random.default_rng(2)
    frequency_hz = np.linspace(0.5e9, 1.5e9, 201)
    way = 0.95 * np.exp(-2j * np.pi * frequency_hz * 5e-9)
    for _ in range(100):
        reflection = antenna(rng, frequency_hz)
        assert order_doubts(frequency_hz, reflection) == ()
        if np.abs(reflection).min() < 0.3:  # stuck in a dip reflects nothing to speak of
            continue
        (doubt,) = order_doubts(frequency_hz, SPOILT[how](way * reflection) / way)
        assert "1000 MHz" in doubt
        assert "before it was sent" in doubt


def test_what_is_too_small_too_short_or_not_measured_is_not_doubted() -> None:
    rng = np.random.default_rng(3)
    noise = 0.02 * (rng.standard_normal((201, 2)) @ np.array([1, 1j]))
    frequency_hz = np.linspace(0.5e9, 1.5e9, 201)
    early = np.exp(2j * np.pi * frequency_hz * 9e-9)
    assert order_doubts(frequency_hz, noise) == ()
    assert order_doubts(frequency_hz, np.full(201, complex(np.nan, np.nan))) == ()
    assert order_doubts(frequency_hz[:20], early[:20]) == ()
    assert order_doubts(frequency_hz[:1], early[:1]) == ()
    assert len(order_doubts(frequency_hz, early)) == 1


def test_stretches_of_different_steps_are_looked_at_apart() -> None:
    low, high = np.linspace(0.5e9, 1.5e9, 201), np.linspace(2e9, 4e9, 101)
    frequency_hz = np.concatenate([low, high])
    early = np.concatenate([np.exp(2j * np.pi * low * 9e-9), np.exp(-2j * np.pi * high * 1e-9)])
    (doubt,) = order_doubts(frequency_hz, early)
    assert "1000 MHz" in doubt
    kept, _ = without_early(frequency_hz, early)
    assert np.isfinite(kept).tolist() == [False] * 201 + [True] * 101
