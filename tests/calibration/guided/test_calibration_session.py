"""The guided calibration, as the page and the terminal drive it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from acquire.sweep import Reading, SweepRequest
from calibration.capture.guided_captures import SessionState
from calibration.errors import CalibrationError, OtherAnalyzerError, RangeError, StandardError
from calibration.files.store import load_kit
from calibration.guided.calibration_session import CalibrationSession
from calibration.standards.kit import Kit
from calibration.standards.standard import DataStandard, IdealStandard

SPANS = ((700e6, 2700e6),)
NOON = datetime(2025, 6, 1, 12, tzinfo=UTC)


@pytest.fixture
def kit() -> Kit:
    return load_kit("n-plug-50")


@pytest.fixture
def session(kit: Kit, unit: Any) -> CalibrationSession:
    return CalibrationSession(kit, unit.request, SPANS)


def measure(session: CalibrationSession, unit: Any, truth: Any, sweeps: int = 50) -> SessionState:
    """Say that something is on and sweep until the capture ends."""
    state = session.begin()
    for _ in range(sweeps):
        if state.phase != "capturing":
            break
        state = session.add(unit.sweep(truth))
    return state


def test_it_leads_from_the_first_standard_to_a_calibration_that_corrects(
    session: CalibrationSession, kit: Kit, unit: Any
) -> None:
    for number, name in enumerate(("open", "short", "load"), start=1):
        state = session.state
        assert state.phase == "screw on"
        assert state.step is not None
        assert (state.step.standard, state.step.number, state.step.of) == (name, number, 3)
        assert f"Screw the {name} on" in state.step.instruction
        assert "type N plug" in state.step.instruction
        assert any("nut" in caution for caution in state.step.cautions)
        assert any("transmitter" in caution for caution in state.step.cautions)
        assert any("static" in caution for caution in state.step.cautions)
        measure(session, unit, kit.standards[name].reflection(unit.frequency_hz))
    state = session.state
    assert (state.phase, state.step, state.remaining) == ("complete", None, ())
    assert state.taken == ("open", "short", "load")
    calibration = session.finish(NOON, "bandwright test")
    assert (calibration.taken_at, calibration.software) == (NOON, "bandwright test")
    corrected = calibration.correct(unit.sweep(0.3j))
    assert np.abs(corrected.reflection - 0.3j).max() < 1e-3


def test_what_is_shown_while_a_standard_is_captured(
    session: CalibrationSession, kit: Kit, unit: Any
) -> None:
    session.begin()
    state = session.add(unit.sweep(kit.standards["open"].reflection(unit.frequency_hz)))
    assert state.phase == "capturing"
    assert state.capture is not None
    assert (state.capture.sweeps, state.capture.wanted) == (1, 8)
    assert state.remaining == ("open", "short", "load")


def test_sweeps_before_the_person_says_go_change_nothing(
    session: CalibrationSession, unit: Any
) -> None:
    before = session.state
    for _ in range(20):
        session.add(unit.sweep(1.0))
    assert session.state == before


def test_the_open_left_on_is_refused_at_the_second_standard(
    session: CalibrationSession, kit: Kit, unit: Any
) -> None:
    f = unit.frequency_hz
    measure(session, unit, kit.standards["open"].reflection(f))
    state = measure(session, unit, kit.standards["open"].reflection(f))
    assert state.phase == "refused"
    assert "Open and short read alike" in state.message
    assert state.step is not None
    assert state.step.standard == "short"
    assert state.taken == ("open",)
    assert isinstance(session.refusal, StandardError)
    state = measure(session, unit, kit.standards["short"].reflection(f))
    assert (state.phase, state.taken) == ("screw on", ("open", "short"))
    assert session.refusal is None


def test_where_the_earlier_one_was_wrong_only_that_is_asked_for_again(
    session: CalibrationSession, kit: Kit, unit: Any
) -> None:
    """The load was on for the open: it shows once the load is measured."""
    f = unit.frequency_hz
    for piece in ("load", "short"):
        measure(session, unit, kit.standards[piece].reflection(f))
    state = measure(session, unit, kit.standards["load"].reflection(f))
    assert state.phase == "refused"
    assert state.step is not None
    assert state.step.standard == "open"
    assert set(state.taken) == {"short", "load"}, "the right ones stay"
    state = measure(session, unit, kit.standards["open"].reflection(f))
    assert state.phase == "complete"


def test_a_forgotten_load_is_refused(session: CalibrationSession, kit: Kit, unit: Any) -> None:
    f = unit.frequency_hz
    for piece in ("open", "short"):
        measure(session, unit, kit.standards[piece].reflection(f))
    state = measure(session, unit, 1.0)  # an empty port
    assert state.phase == "refused"
    assert state.message.endswith("Measure the load again.")
    assert measure(session, unit, 0.0).phase == "complete"


def test_an_unsteady_standard_is_refused_by_name(session: CalibrationSession, unit: Any) -> None:
    session.begin()
    for number in range(60):
        state = session.add(unit.sweep(1.0 + 0.02 * (number % 2)))
    assert state.phase == "refused"
    assert state.message.startswith("The open is unsteady")
    assert state.taken == ()
    assert measure(session, unit, 1.0).taken == ("open",)


def test_exchanged_open_and_short_are_warned_of_when_complete(
    session: CalibrationSession, kit: Kit, unit: Any
) -> None:
    for piece in ("short", "open", "load"):
        state = measure(session, unit, kit.standards[piece].reflection(unit.frequency_hz))
    assert state.phase == "complete"
    assert len(state.warnings) == 1
    assert "exchanged" in state.warnings[0]
    assert session.finish(NOON, "test").warnings == state.warnings


def test_one_standard_can_be_taken_again(session: CalibrationSession, kit: Kit, unit: Any) -> None:
    f = unit.frequency_hz
    for piece in ("open", "short", "load"):
        measure(session, unit, kit.standards[piece].reflection(f))
    state = session.redo("short")
    assert state.phase == "screw on"
    assert state.step is not None
    assert state.step.standard == "short"
    assert state.remaining == ("short",)
    with pytest.raises(CalibrationError, match="short has not been measured"):
        session.finish(NOON, "test")
    assert measure(session, unit, kit.standards["short"].reflection(f)).phase == "complete"
    with pytest.raises(CalibrationError, match="There is no thru here"):
        session.redo("thru")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"analyzer": "weir-3 bench"}, "'weir-3 bench' now"),
        ({"profile": "another"}, "with 'another' now"),
        ({"analyzer_corrected": True}, "with the analyzer's own correction now"),
        ({"kind": "replay"}, "a replay now"),
    ],
)
def test_another_unit_or_another_state_of_it_halfway_is_refused(
    *,
    session: CalibrationSession,
    kit: Kit,
    unit: Any,
    new_unit: Callable[..., Any],
    change: dict[str, Any],
    words: str,
) -> None:
    measure(session, unit, kit.standards["open"].reflection(unit.frequency_hz))
    stranger = new_unit(source=dataclasses.replace(unit.source, **change))
    state = measure(session, stranger, -1.0)
    assert state.phase == "refused"
    assert words in state.message
    assert isinstance(session.refusal, OtherAnalyzerError)
    assert state.taken == ("open",)


def test_a_kit_that_says_nothing_at_these_frequencies_is_refused_at_once(unit: Any) -> None:
    load = DataStandard("load", Reading(np.array([0.0, 2e9]), np.zeros(2, complex)), "load.s1p")
    kit = Kit(
        "half",
        "half",
        "any",
        "invented",
        {"open": IdealStandard(kind="open"), "short": IdealStandard(kind="short"), "load": load},
    )
    with pytest.raises(RangeError, match=r"load\.s1p describes the load from 0 to 2000 MHz"):
        CalibrationSession(kit, [SweepRequest(700e6, 2700e6, 11)], SPANS)
