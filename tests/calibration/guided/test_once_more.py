"""The guided calibration asks for one standard once more, where nothing else speaks for it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray
from calibration.capture.guided_captures import SessionState
from calibration.errors import CalibrationError
from calibration.files.store import load_kit
from calibration.guided.calibration_session import CalibrationSession
from calibration.guided.verification_session import RemeasureStandard, captures_for, concluded
from calibration.one_port_calibration import Calibration
from calibration.standards.kit import Kit
from tests.calibration.guided.test_calibration_session import NOON, SPANS, measure
from tests.wording import missing_words


def kit_with(load_db: float | None) -> Kit:
    return replace(load_kit("n-plug-50"), load_return_loss_db=load_db)


def loose(frequency_hz: FloatArray, henry: float = 1e-9, ohm: float = 2.0) -> ComplexArray:
    """A perfect load behind a bad contact."""
    impedance = (ohm + 2j * np.pi * frequency_hz * henry) / 50
    reflection: ComplexArray = impedance / (2 + impedance)
    return reflection


def session(
    unit: Any, past: list[Calibration] | None, load_db: float | None = 30.0, **more: Any
) -> CalibrationSession:
    return CalibrationSession(kit_with(load_db), unit.request, SPANS, past=past, **more)


def three(made: CalibrationSession, unit: Any, load: Any = 0.0) -> SessionState:
    """Measure open, short and load."""
    kit = kit_with(None)
    for name in ("open", "short"):
        measure(made, unit, kit.standards[name].reflection(unit.frequency_hz))
    return measure(made, unit, load)


def calibration(unit: Any, load: Any = 0.0) -> Calibration:
    """One made a day ago, of which nobody asks anything."""
    made = session(unit, None)
    three(made, unit, load)
    return made.finish(NOON - timedelta(days=1), "test")


def test_without_a_history_the_load_is_asked_for_once_more(unit: Any) -> None:
    made = session(unit, [])
    state = three(made, unit)
    assert state.phase == "screw on"
    assert state.step is not None
    assert (state.step.standard, state.step.optional) == ("load", True)
    assert (state.step.number, state.step.of) == (4, 4)
    assert not missing_words(state.step.instruction, "load", "off", "once more", "skipped")
    assert measure(made, unit, 0.0).phase == "complete"
    done = made.finish(NOON, "test")
    assert done.warnings == ()
    assert list(done.readings) == ["open", "short", "load"]


def test_a_skip_is_kept_as_a_doubt_and_the_load_put_back_takes_it_away(unit: Any) -> None:
    made = session(unit, [])
    three(made, unit)
    assert made.skip().phase == "complete"
    done = made.finish(NOON, "test")
    (words,) = done.warnings
    assert not missing_words(words, "only once", "loose", "second load")
    check = RemeasureStandard("load")
    captures = captures_for(done, check)
    captures.begin()
    while captures.state.phase == "capturing":
        captures.add(unit.sweep(0.0))
    after = concluded(done, check, captures.readings(), NOON + timedelta(minutes=3))
    assert after.warnings == ()


def test_nothing_else_can_be_skipped(unit: Any) -> None:
    made = session(unit, [])
    with pytest.raises(CalibrationError, match="skip"):
        made.skip()


def test_two_connections_that_differ_are_named_until_two_agree(unit: Any) -> None:
    made = session(unit, [])
    three(made, unit, loose(unit.frequency_hz))
    state = measure(made, unit, 0.0)
    assert state.phase == "refused"
    assert not missing_words(state.message, "load", "once more", "MHz", "two in a row")
    assert measure(made, unit, 0.0).phase == "complete"
    done = made.finish(NOON, "test")
    assert done.warnings == ()
    corrected = done.correct(unit.sweep(0.3)).reflection
    assert np.abs(corrected - 0.3).max() < 2e-3, "the loose one is forgotten"


def test_a_difference_that_is_skipped_is_named_in_the_doubt(unit: Any) -> None:
    made = session(unit, [])
    three(made, unit, loose(unit.frequency_hz))
    measure(made, unit, 0.0)
    made.skip()
    (words,) = made.finish(NOON, "test").warnings
    assert not missing_words(words, "once more", "otherwise by", "MHz")


def test_with_a_history_that_agrees_nothing_is_asked_again(unit: Any) -> None:
    made = session(unit, [calibration(unit)])
    assert three(made, unit).phase == "complete"
    done = made.finish(NOON, "test")
    assert done.warnings == ()
    assert made.comparison is not None
    assert made.comparison.known


def test_a_load_that_hangs_loose_now_is_found_and_put_right_on_the_spot(unit: Any) -> None:
    made = session(unit, [calibration(unit)])
    state = three(made, unit, loose(unit.frequency_hz))
    assert state.step is not None
    assert not missing_words(state.step.instruction, "load", "otherwise than the last time")
    assert measure(made, unit, 0.0).phase == "refused"
    assert measure(made, unit, 0.0).phase == "complete"
    assert made.finish(NOON, "test").warnings == ()


def test_a_load_that_stays_other_than_it_was_stays_in_doubt(unit: Any) -> None:
    """75 ohm in place of 50, off and on again."""
    made = session(unit, [calibration(unit)])
    three(made, unit, 0.2)
    assert measure(made, unit, 0.2).phase == "complete"
    *_, words = made.finish(NOON, "test").warnings
    assert not missing_words(words, "load", "25.0 ohm", "in series", "now", "second load")


def test_where_the_last_calibration_was_the_wrong_one_the_new_one_is_not_doubted(
    unit: Any,
) -> None:
    made = session(unit, [calibration(unit, loose(unit.frequency_hz))])
    three(made, unit)
    assert measure(made, unit, 0.0).phase == "complete"
    assert made.finish(NOON, "test").warnings == ()


def test_a_load_too_good_to_decide_is_not_asked_for_again(unit: Any) -> None:
    assert three(session(unit, [], load_db=60.0), unit).phase == "complete"


def test_a_load_of_which_nobody_said_anything_is(unit: Any) -> None:
    assert three(session(unit, [], load_db=None), unit).phase == "screw on"


def test_a_standard_measured_again_starts_the_comparison_anew(unit: Any) -> None:
    made = session(unit, [])
    three(made, unit)
    measure(made, unit, 0.0)
    state = made.redo("load")
    assert state.remaining == ("load",)
    assert measure(made, unit, 0.0).remaining == ("load, once more",)


def test_the_cable_s_name_is_kept_and_keeps_histories_apart(unit: Any) -> None:
    made = session(unit, [calibration(unit)], cable="blue")
    assert three(made, unit).phase == "screw on", "nothing is known of the blue one"
    measure(made, unit, 0.0)
    assert made.finish(NOON, "test").cable == "blue"
