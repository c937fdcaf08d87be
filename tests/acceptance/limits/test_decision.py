"""The five states. ILAC-G8:09/2019, sections 4.1 to 4.2.3 [read], on |reflection|."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.limits.decision import DECIDED, State, decide, most_severe
from acceptance.limits.limit import Limit

sizes = st.floats(0, 1.2)
limits = st.floats(0.02, 0.9)
guards = st.floats(0, 0.5)


def state(size: float, limit: float, guard: float) -> State:
    return DECIDED[int(decide(size, limit, guard))]


@pytest.mark.parametrize(
    ("size", "expected"),
    [
        (0.0, State.PASS),
        (0.25, State.PASS),  # at TL - w: pass
        (0.2501, State.CONDITIONAL_PASS),
        (0.30, State.CONDITIONAL_PASS),  # at TL: still conditional pass
        (0.3001, State.CONDITIONAL_FAIL),
        (0.35, State.CONDITIONAL_FAIL),  # at TL + w: still conditional fail
        (0.3501, State.FAIL),
        (1.0, State.FAIL),
    ],
)
def test_the_four_zones_lie_around_the_limit_and_their_edges_count_as_better(size, expected):
    assert state(size, 0.30, 0.05) is expected


def test_without_a_guard_band_there_is_only_pass_and_fail():
    assert {state(size, 0.3, 0.0) for size in np.linspace(0, 1, 101)} == {State.PASS, State.FAIL}


@pytest.mark.parametrize("limit", [Limit.return_loss(10), Limit.return_loss(9.5), Limit("vswr", 2)])
def test_a_value_at_its_limit_passes_however_it_was_rounded(limit):
    assert state(limit.reflection, limit.reflection, 0.0) is State.PASS
    assert state(10 ** (-limit.return_loss_db / 20), limit.reflection, 0.0) is State.PASS
    assert state(limit.reflection * (1 + 1e-6), limit.reflection, 0.0) is State.FAIL


def test_a_guard_band_wider_than_the_limit_leaves_no_pass():
    assert state(0.0, 0.1, 0.2) is State.CONDITIONAL_PASS


def test_an_unbounded_uncertainty_leaves_only_the_conditional_states():
    assert state(0.0, 0.1, np.inf) is State.CONDITIONAL_PASS
    assert state(1.0, 0.1, np.inf) is State.CONDITIONAL_FAIL


@given(size=sizes, limit=limits, narrow=guards, more=guards)
def test_a_wider_guard_band_never_moves_a_reading_across_the_limit(size, limit, narrow, more):
    before, after = state(size, limit, narrow), state(size, limit, narrow + more)
    conforms = {State.PASS, State.CONDITIONAL_PASS}
    assert (before in conforms) == (after in conforms)
    if after is State.PASS or after is State.FAIL:
        assert before is after


@given(size=sizes, worse=st.floats(0, 0.5), limit=limits, guard=guards)
def test_a_worse_reading_is_never_in_a_better_state(size, worse, limit, guard):
    assert decide(size + worse, limit, guard) >= decide(size, limit, guard)


def test_each_point_is_decided_by_its_own_guard_band():
    decided = decide([0.28, 0.28], 0.3, np.array([0.01, 0.05]))
    assert [DECIDED[i] for i in decided] == [State.PASS, State.CONDITIONAL_PASS]


@pytest.mark.parametrize(("size", "guard"), [(0.1, -0.01), (np.nan, 0.0), (0.1, np.nan)])
def test_what_is_no_number_is_never_decided(size, guard):
    with pytest.raises(ValueError, match="A decision needs numbers"):
        decide(size, 0.3, guard)


def test_any_fail_fails_the_whole_and_anything_not_measured_is_no_pass():
    order = [
        State.PASS,
        State.CONDITIONAL_PASS,
        State.CONDITIONAL_FAIL,
        State.NOT_MEASURED,
        State.FAIL,
    ]
    for one, other in itertools.product(order, order):
        assert most_severe([one, other]) is order[max(order.index(one), order.index(other))]


def test_the_states_are_written_as_the_documents_write_them():
    assert [str(state) for state in State] == [
        "pass",
        "conditional pass",
        "conditional fail",
        "fail",
        "not measured",
    ]
