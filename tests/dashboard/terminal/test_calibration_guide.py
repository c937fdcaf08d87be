"""The guided calibration says what to do, shows what is wrong, and asks for that one again."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import numpy as np
import pytest
from rich.console import Console

from acquire.sweep import Plane, Source, Sweep, SweepRequest
from calibration.capture.guided_captures import Step
from calibration.capture.standard_capture import CaptureState
from calibration.errors import StandardError
from calibration.files.store import load_kit
from calibration.guided.calibration_session import CalibrationSession
from dashboard.errors import UnattendedError
from dashboard.terminal.calibration_guide import BenchHand, Person, guide, steadiness
from replay.clock import AcceleratedClock
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.wording import missing_words

REQUEST = (SweepRequest(780e6, 900e6, 61),)
SPANS = ((780e6, 900e6),)
SWEEP_S = 0.5


class Workplace:
    """A virtual bench whose port is read without a unit: no errors but those of the hand."""

    def __init__(self) -> None:
        self.clock = AcceleratedClock(datetime(2026, 1, 31, 12, tzinfo=UTC))
        self.bench = VirtualBench(self.clock)
        self.screen = io.StringIO()
        self.console = Console(file=self.screen, width=100)
        self.session = CalibrationSession(load_kit("3.5mm-plug-50"), REQUEST, SPANS)
        self.sweeps = 0

    def sweep(self) -> Sweep:
        self.clock.advance(SWEEP_S)
        self.sweeps += 1
        grid_hz = REQUEST[0].grid_hz()
        noise = np.random.default_rng(self.sweeps).normal(0, 3e-4, (2, grid_hz.size))
        seen = self.bench.port_reflection(grid_hz, np.full(grid_hz.size, self.clock.monotonic()))
        source = Source("virtual", "a bench", "none", "virtual:")
        return Sweep(
            grid_hz,
            seen + noise[0] + 1j * noise[1],
            Plane.RAW,
            self.clock.now(),
            self.sweeps,
            source,
            REQUEST,
        )

    def shown(self) -> str:
        return " ".join(self.screen.getvalue().split())


@pytest.fixture
def workplace() -> Workplace:
    return Workplace()


class Scripted:
    """A hand that puts on what its script says."""

    def __init__(self, bench: VirtualBench, script: list[str], *, attended: bool = True) -> None:
        self.attended = attended
        self.asked: list[str] = []
        self._bench = bench
        self._script = iter(script)

    def put_on(self, step: Step) -> str:
        self.asked.append(step.standard)
        self._bench.screw_on(next(self._script))
        return ""


def test_three_standards_make_a_calibration(workplace: Workplace) -> None:
    hand = Scripted(workplace.bench, ["open", "short", "load"])
    guide(workplace.session, workplace.sweep, hand, workplace.console)
    assert hand.asked == ["open", "short", "load"]
    calibration = workplace.session.finish(workplace.clock.now(), "test")
    assert list(calibration.readings) == ["open", "short", "load"]
    shown = workplace.shown()
    assert shown.index("1 of 3. Screw the open on") < shown.index("The open is taken")
    assert "Touch earthed metal before a centre pin" in shown
    assert shown.count("Touch earthed metal") == 1
    assert "8 steady sweeps averaged" in shown


def test_a_standard_left_on_twice_is_asked_for_once_more_and_only_that_one(
    workplace: Workplace,
) -> None:
    hand = Scripted(workplace.bench, ["open", "open", "short", "load"])
    guide(workplace.session, workplace.sweep, hand, workplace.console)
    assert hand.asked == ["open", "short", "short", "load"]
    assert "alike" in workplace.shown()


def test_without_a_person_the_same_mistake_ends_it(workplace: Workplace) -> None:
    hand = Scripted(workplace.bench, ["open"] * 9, attended=False)
    with pytest.raises(StandardError, match="alike"):
        guide(workplace.session, workplace.sweep, hand, workplace.console)
    assert hand.asked == ["open", "short", "short", "short"]


def answers(*lines: str) -> Callable[..., str]:
    """Stand in for a person at the keyboard; afterwards the terminal is gone."""
    script: Iterator[str] = iter(lines)

    def answer(*_: object) -> str:
        try:
            return next(script)
        except StopIteration:
            raise EOFError from None

    return answer


def test_a_person_can_go_back_to_a_standard_by_its_name(
    workplace: Workplace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builtins.input", answers("", "open", "", "", ""))
    person = Person(workplace.console)
    hand = BenchHand(workplace.bench, person, workplace.console)
    guide(workplace.session, workplace.sweep, hand, workplace.console)
    assert workplace.shown().count("The open is taken") == 2
    assert list(workplace.session.finish(workplace.clock.now(), "test").readings) == [
        "open",
        "short",
        "load",
    ]


def test_an_unknown_name_is_answered_by_those_there_are(
    workplace: Workplace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builtins.input", answers("thru\x1b[2J", "", "", ""))
    hand = BenchHand(workplace.bench, Person(workplace.console), workplace.console)
    guide(workplace.session, workplace.sweep, hand, workplace.console)
    assert "is no standard of this kit" in workplace.shown()
    assert "open, short, load" in workplace.shown()
    assert "\x1b[2J" not in workplace.screen.getvalue()


def test_no_terminal_to_press_enter_at_is_said(
    workplace: Workplace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("builtins.input", answers())
    with pytest.raises(UnattendedError, match="Run it in a terminal"):
        guide(workplace.session, workplace.sweep, Person(workplace.console), workplace.console)


def test_steadiness_is_shown_as_bar_and_number() -> None:
    state = CaptureState("steady", 3, 8, 0.0012, 0.0004, 1.0, "Steady: 3 of 8 sweeps.")
    assert not missing_words(steadiness(state), "■■■·····", "0.12 %", "3 of 8 sweeps")
    assert (
        steadiness(CaptureState("waiting", 0, 4, None, None, None, "Waiting.")) == "····  Waiting."
    )
