"""One standard captured: averaged while steady, and only then."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from acquire.sweep import Plane, Source, SweepRequest
from calibration.capture.movement import change_between
from calibration.capture.standard_capture import CaptureState, StandardCapture
from calibration.errors import CalibrationError, StandardError


def drive(
    unit: Any, moved: Callable[[int], complex], sweeps: int = 32, wanted: int = 8
) -> tuple[StandardCapture, list[CaptureState]]:
    """Feed sweeps of a short that is off by `moved` of its sweep's number."""
    capture = StandardCapture("short", unit.request, wanted)
    states = []
    for number in range(1, sweeps + 1):
        states.append(capture.add(unit.sweep(-1.0 + moved(number))))
        if states[-1].phase == "done":
            break
    return capture, states


def still(number: int) -> complex:
    return 0.0 * number


QUIET_TO_NOISY = pytest.mark.parametrize("noise", [0.0, 1e-6, 1e-4, 1e-3, 3e-3])


@QUIET_TO_NOISY
def test_a_still_standard_is_done_after_as_many_sweeps_as_wanted(
    noise: float, new_unit: Callable[..., Any]
) -> None:
    capture, states = drive(new_unit(noise=noise), still)
    assert [state.phase for state in states] == ["settling", *["steady"] * 6, "done"]
    assert [state.sweeps for state in states] == list(range(1, 9))
    assert capture.result().sweeps == 8


@QUIET_TO_NOISY
def test_a_standard_still_being_screwed_on_settles_and_then_counts(
    noise: float, new_unit: Callable[..., Any]
) -> None:
    def screwed_on(number: int) -> complex:
        return 0.4j * max(0, 6 - number)

    capture, states = drive(new_unit(noise=noise), screwed_on)
    assert [state.phase for state in states[:5]] == ["settling"] * 5
    assert "still moves" in states[3].message
    assert states[-1].phase == "done"
    assert len(states) == 5 + 8, "only the sweeps after it came to rest are averaged"
    truth = new_unit(noise=0.0).raw(-1.0)
    assert np.abs(capture.result().reflection - truth).max() < 3 * noise + 1e-12


def test_a_quick_unit_leaves_a_hand_the_time_to_tighten_the_nut(
    new_unit: Callable[..., Any],
) -> None:
    unit = new_unit()
    capture = StandardCapture("short", unit.request, 8)

    def phase_at(second: float, reflection: complex) -> str:
        sweep = unit.sweep(reflection)
        at = sweep.taken_at.replace(minute=0, second=0) + timedelta(seconds=second)
        return capture.add(dataclasses.replace(sweep, taken_at=at)).phase

    moving = [phase_at(number / 20, -1.0 + 0.02j * (number % 2)) for number in range(160)]
    assert set(moving) == {"settling"}
    assert [phase_at(8 + number / 20, -1.0) for number in range(9)][-1] == "done"


@QUIET_TO_NOISY
@pytest.mark.parametrize(
    "moved",
    [
        lambda number: 0.01 * np.sin(1.7 * number),
        lambda number: 0.02j * (number % 2),
        lambda number: 2e-3 * number,
    ],
    ids=["wiggle", "loose contact", "drift"],
)
def test_a_standard_that_moves_is_never_done_and_called_unsteady(
    noise: float, moved: Callable[[int], complex], new_unit: Callable[..., Any]
) -> None:
    capture, states = drive(new_unit(noise=noise), moved, sweeps=40)
    assert {state.phase for state in states} <= {"settling", "steady", "unsteady"}
    assert states[-1].phase == "unsteady"
    assert states[-1].message.startswith("The short is unsteady: 40 sweeps came")
    assert "measure the short again" in states[-1].message
    with pytest.raises(StandardError, match="steady sweeps") as caught:
        capture.result()
    assert caught.value.standard == "short"


def test_a_drift_too_slow_to_show_between_neighbours_shows_over_the_capture(unit: Any) -> None:
    _, states = drive(unit, lambda number: 8e-4 * number)
    between_neighbours = change_between(unit.raw(-1.0), unit.raw(-1.0 + 8e-4))
    assert between_neighbours.steady
    assert any("moves" in state.message or "drifts" in state.message for state in states)
    assert all(state.phase != "done" for state in states)


def test_a_long_cable_does_not_hide_movement(new_unit: Callable[..., Any]) -> None:
    """Behind 20 m of cable the reading, and what moves in it, turns by 72 degrees a point."""
    unit = new_unit(noise=1e-3)
    turn = np.exp(-2j * np.pi * unit.frequency_hz * 20e-9)
    capture = StandardCapture("short", unit.request)
    for number in range(1, 25):
        state = capture.add(unit.sweep(-turn * (1 + 0.01 * np.sin(1.7 * number))))
    assert state.phase != "done"
    assert state.movement == pytest.approx(0.007, rel=0.5)


def test_scatter_that_no_unit_has_is_unsteady_too(new_unit: Callable[..., Any]) -> None:
    _, states = drive(new_unit(noise=0.05), still)
    assert states[-1].phase != "done"
    assert "scatter" in states[5].message


def test_a_burst_in_one_sweep_is_left_out_and_named(unit: Any) -> None:
    capture = StandardCapture("short", unit.request)
    for number in range(1, 9):
        raw = unit.raw(-1.0)
        raw[77] += 0.3 * (number == 5)
        state = capture.add(unit.stamped(raw))
    assert state.phase == "done"
    assert "A burst at" in state.message
    assert "(0.3) was left out of sweep 5: a transmitter nearby" in state.message
    truth = dataclasses.replace(unit, noise=0.0).raw(-1.0)
    assert np.abs(capture.result().reflection - truth).max() < 1e-3


def test_the_mean_and_the_noise_of_one_sweep_are_kept(new_unit: Callable[..., Any]) -> None:
    unit = new_unit(noise=1e-3)
    capture, states = drive(unit, still, wanted=16)
    reading = capture.result()
    truth = dataclasses.replace(unit, noise=0.0).raw(-1.0)
    rms = float(np.sqrt(np.mean(np.abs(reading.reflection - truth) ** 2)))
    assert rms == pytest.approx(1e-3 / 4, rel=0.2)
    assert reading.noise is not None
    assert reading.noise.shape == reading.reflection.shape
    assert float(np.sqrt(np.mean(reading.noise**2))) == pytest.approx(1e-3, rel=0.1)
    assert states[-1].noise == pytest.approx(1e-3, rel=0.2)


def test_other_passes_and_another_unit_start_the_capture_again(
    new_unit: Callable[..., Any],
) -> None:
    unit, other = new_unit(), new_unit(request=[SweepRequest(800e6, 900e6, 101)])
    stranger = new_unit(source=Source("virtual", "weir-3 bench", "invented", "virtual:"))
    for second in (other, stranger):
        capture = StandardCapture("short")
        for _ in range(5):
            assert capture.add(unit.sweep(-1.0)).phase in ("settling", "steady")
        second.sequence = unit.sequence
        state = capture.add(second.sweep(-1.0))
        assert (state.phase, state.sweeps) == ("settling", 1)
        assert "starts again" in state.message
        for _ in range(7):
            state = capture.add(second.sweep(-1.0))
        assert state.phase == "done"
        np.testing.assert_array_equal(capture.result().frequency_hz, second.frequency_hz)


def test_sweeps_of_passes_not_asked_for_are_left_aside(new_unit: Callable[..., Any]) -> None:
    """The sweep before may still be on its way when the passes are changed."""
    before = new_unit(request=[SweepRequest(800e6, 900e6, 101)])
    unit = new_unit()
    capture = StandardCapture("open", unit.request)
    assert capture.add(before.sweep(1.0)).phase == "waiting"
    for _ in range(4):
        state = capture.add(unit.sweep(1.0))
    assert state.sweeps == 4
    assert capture.add(before.sweep(1.0)).sweeps == 0, "what came before the change is let go"


def test_the_same_sweep_given_twice_counts_once(unit: Any) -> None:
    capture = StandardCapture("open", unit.request)
    sweep = unit.sweep(1.0)
    assert [capture.add(sweep).sweeps for _ in range(5)] == [1] * 5


def test_sweeps_counted_anew_after_reconnecting_start_the_capture_again(unit: Any) -> None:
    capture = StandardCapture("open", unit.request)
    for _ in range(5):
        capture.add(unit.sweep(1.0))
    unit.sequence = 0
    assert capture.add(unit.sweep(1.0)).sweeps == 1


def test_a_sweep_with_missing_points_is_not_averaged(unit: Any) -> None:
    capture = StandardCapture("open", unit.request)
    capture.add(unit.sweep(1.0))
    raw = unit.raw(1.0)
    raw[3:5] = np.nan
    state = capture.add(unit.stamped(raw))
    assert (state.phase, state.sweeps) == ("settling", 0)
    assert state.message.startswith("2 of 201 points were not measured")
    for _ in range(8):
        state = capture.add(unit.sweep(1.0))
    assert state.phase == "done"
    assert np.isfinite(capture.result().reflection).all()


def test_only_raw_sweeps_are_captured(unit: Any) -> None:
    corrected = dataclasses.replace(unit.sweep(1.0), plane=Plane.CONNECTOR)
    with pytest.raises(CalibrationError, match="raw sweeps"):
        StandardCapture("open").add(corrected)


def test_before_the_first_sweep_it_waits(unit: Any) -> None:
    assert StandardCapture("open", unit.request).state.phase == "waiting"
    with pytest.raises(ValueError, match="Four sweeps"):
        StandardCapture("open", unit.request, wanted_sweeps=3)


@pytest.mark.parametrize("points", [51, 201, 1601])
def test_noise_is_called_movement_less_than_once_in_a_thousand(points: int) -> None:
    random = np.random.default_rng(points)
    alarms = 0
    for _ in range(1000):
        scatter = 0.005 * random.standard_normal((4, points))
        alarms += not change_between(
            scatter[0] + 1j * scatter[1], scatter[2] + 1j * scatter[3]
        ).steady
    assert alarms <= 1
