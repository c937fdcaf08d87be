"""Yield, and how far so few units can tell."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acceptance.batch.yield_interval import Share, share
from acceptance.limits.decision import State

Z = statistics.NormalDist().inv_cdf(0.975)


@pytest.mark.parametrize(
    ("passed", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_is_the_published_one(passed: int, of: int, low: float, high: float) -> None:
    """Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3 [memory]."""
    assert Share(passed, of).interval == pytest.approx((low, high), abs=5e-5)


@settings(deadline=None)  # the first one imports scipy
@given(st.integers(1, 900), st.floats(0, 1))
def test_the_interval_ends_where_the_share_seen_is_just_still_likely(of: int, part: float) -> None:
    """Wilson: |p - end| = z sqrt(end (1 - end) / n) at both ends."""
    passed = round(part * of)
    low, high = Share(passed, of).interval
    p = passed / of
    assert 0 <= low <= p <= high <= 1
    assert p - low == pytest.approx(Z * (low * (1 - low) / of) ** 0.5, abs=1e-9)
    assert high - p == pytest.approx(Z * (high * (1 - high) / of) ** 0.5, abs=1e-9)


def test_nothing_tells_nothing() -> None:
    assert Share(0, 0).interval == (0.0, 1.0)


def test_only_a_pass_passes() -> None:
    assert share(State) == Share(1, 5)
