"""Yield, and how far so few units can tell."""

from __future__ import annotations

import pytest
import scipy.stats

from acceptance.batch.yield_interval import Share, share
from acceptance.limits.decision import State


@pytest.mark.parametrize(("passed", "of"), [(0, 1), (1, 1), (3, 7), (20, 24), (24, 24), (1, 900)])
def test_the_interval_is_wilson_s(passed: int, of: int) -> None:
    """scipy.stats.binomtest(...).proportion_ci(method="wilson") [run]."""
    other = scipy.stats.binomtest(passed, of).proportion_ci(0.95, method="wilson")
    assert Share(passed, of).interval == pytest.approx((other.low, other.high), abs=1e-6)


def test_nothing_tells_nothing() -> None:
    assert Share(0, 0).interval == (0.0, 1.0)


def test_only_a_pass_passes() -> None:
    assert share(State) == Share(1, 5)
