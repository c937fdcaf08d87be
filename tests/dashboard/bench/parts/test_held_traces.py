"""Held traces: by name, several at once, each let go of by itself."""

from __future__ import annotations

import pytest

from dashboard.bench.composed_bench import Bench
from dashboard.bench.parts.held_traces import MOST_DRAWN
from dashboard.errors import NotNowError
from tests.dashboard.conftest import until


def numbers(bench: Bench, *, shown: bool) -> list[int]:
    return sorted(each.number for each in bench.snapshot().holds if each.shown is shown)


def test_several_are_drawn_and_the_last_one_drawn_is_compared_with(bench: Bench) -> None:
    until(bench, lambda now: now.sequence > 0)
    for name in ("bare", "  in its enclosure  ", ""):
        bench.holds.hold(name)
    now = bench.snapshot()
    assert [each.name for each in now.holds] == ["bare", "in its enclosure", ""]
    assert now.held is not None
    assert now.held.number == 3
    bench.holds.show(1)
    held = bench.snapshot().held
    assert held is not None
    assert held.name == "bare"
    bench.holds.hide(1)
    held = bench.snapshot().held
    assert held is not None
    assert held.number == 3
    bench.holds.rename(2, "in rain")
    bench.holds.remove(3)
    assert {each.name for each in bench.snapshot().holds} == {"bare", "in rain"}
    bench.holds.undo()
    assert [each.name for each in bench.snapshot().holds] == ["bare"]
    assert bench.snapshot().held is None
    for gone in (bench.holds.show, bench.holds.hide, bench.holds.remove):
        with pytest.raises(NotNowError, match="Hold 3 is not there"):
            gone(3)


def test_no_more_are_drawn_than_can_be_told_apart(bench: Bench) -> None:
    until(bench, lambda now: now.sequence > 0)
    for _ in range(MOST_DRAWN + 2):
        bench.holds.hold()
    assert numbers(bench, shown=True) == [3, 4, 5, 6]
    bench.holds.show(1)
    assert numbers(bench, shown=True) == [1, 4, 5, 6]
    assert numbers(bench, shown=False) == [2, 3]
