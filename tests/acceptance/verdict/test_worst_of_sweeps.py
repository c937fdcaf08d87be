"""Where the antenna moves, the worst sweep decides, and nothing is averaged."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.bands.load import load_bands
from acceptance.errors import VerdictError
from acceptance.limits.decision import State, most_severe
from acceptance.plan.plan_file import parse_plan
from acceptance.verdict.plan_verdict import Verdict, judge
from acceptance.verdict.worst_of_sweeps import worst_of
from acquire.sweep import Plane, Source, Sweep, SweepRequest

PLAN = parse_plan(
    'name = "gauge"\n[[band]]\nlte = 20\nreturn_loss_db = 10\n', "plan.toml", load_bands()
)
REQUEST = SweepRequest(780e6, 870e6, 91)
SOURCE = Source("virtual", "invented", "invented", "virtual:")


def verdict_of(reflection: complex) -> Verdict:
    values = np.full(91, reflection)
    when = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
    return judge(
        PLAN, Sweep(REQUEST.grid_hz(), values, Plane.CONNECTOR, when, 1, SOURCE, (REQUEST,))
    )


def test_two_fails_whose_mean_would_pass_stay_a_fail() -> None:
    """9 dB in two states 90 degrees apart: their mean is 12 dB [derived: 1/sqrt(2)]."""
    size = 10 ** (-9 / 20)
    states = [verdict_of(size), verdict_of(1j * size)]
    assert verdict_of((size + 1j * size) / 2).overall is State.PASS
    found = worst_of(states)
    assert found.overall is State.FAIL
    assert found.bands[0].worst_return_loss_db == pytest.approx(9.0)
    assert "the worst of 2 sweeps" in found.notes[-1]


@given(st.lists(st.floats(0.05, 0.9), min_size=1, max_size=6))
def test_it_is_never_better_than_any_of_the_sweeps(sizes: list[float]) -> None:
    found = worst_of([verdict_of(size) for size in sizes])
    assert found.overall is verdict_of(max(sizes)).overall
    assert found.bands[0].margin_db == verdict_of(max(sizes)).bands[0].margin_db


def test_a_band_that_one_sweep_missed_is_not_measured_unless_another_failed_it() -> None:
    good = verdict_of(0.1)
    missed = replace(
        good, bands=tuple(replace(band, state=State.NOT_MEASURED) for band in good.bands)
    )
    assert worst_of([good, missed]).overall is State.NOT_MEASURED
    assert worst_of([good, missed, verdict_of(0.9)]).overall is State.FAIL
    assert most_severe([State.NOT_MEASURED, State.FAIL]) is State.FAIL


def test_no_sweep_is_refused() -> None:
    with pytest.raises(VerdictError, match="no sweep"):
        worst_of([])
