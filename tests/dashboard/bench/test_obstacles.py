"""A touch test that a plan wants is done until it tells."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from acceptance.bands.load import load_bands
from acceptance.plan.plan_file import parse_plan
from acceptance.tuning.touch_test import Current, Touch
from calibration.plane.reference_plane import CONNECTOR
from dashboard.bench.obstacles import touch_wanted
from dashboard.errors import SetupError
from dashboard.terminal.acceptance_guide import TOUCHES, AcceptanceGuide

PLAN = parse_plan(
    'name = "x"\ntouch_test = true\n[[band]]\nlte = 20\nvswr = 2.0\n', "plan.toml", load_bands()
)


def found(current: Current) -> Touch:
    return Touch(current, 0.0, 0.0, 0.0, 0.0, current)


@pytest.mark.parametrize(
    ("result", "words"),
    [
        (None, "The plan wants a touch test first: key g"),
        (found("unclear"), "The touch test told nothing, and the plan wants one: again, key g"),
        (found("none"), ""),
        (found("strong"), ""),
    ],
)
def test_the_page_leads_to_it_until_it_tells(result: Touch | None, words: str) -> None:
    now: Any = SimpleNamespace(plan=PLAN, touch=SimpleNamespace(result=result))
    against = touch_wanted(now)
    if not words:
        assert against is None
        return
    assert against is not None
    assert against.words.startswith(words)
    assert against.mended_at == "touch"


def test_the_terminal_asks_again_and_not_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    nothing: Any = None
    guide = AcceptanceGuide(
        PLAN, nothing, nothing, plane=CONNECTOR, sweep=nothing, clock=nothing, console=nothing
    )
    answers = iter([found("unclear"), found("some"), *[found("unclear")] * TOUCHES])
    monkeypatch.setattr(AcceptanceGuide, "touch_test", lambda _: next(answers))
    assert guide.touch_test_that_tells().current == "some"
    with pytest.raises(SetupError, match="told nothing 3 times"):
        guide.touch_test_that_tells()
