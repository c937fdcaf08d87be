"""The touch test can be left, looks at what is new, and its result belongs to one antenna."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.record.record_folder import load_record
from acceptance.tuning.shifted_curve import Curve
from calibration.files.plane_file import NOT_MOVED
from calibration.guided.verification_session import RemeasureStandard
from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.acceptance_run.touch_test import TouchTest
from dashboard.bench.composed_bench import Bench
from dashboard.demo.scenario import PLAN
from dashboard.errors import NotNowError
from dashboard.page.plan_form import read_plan
from tests.dashboard.conftest import calibrate, capture, settled, touched, until


def curve() -> Curve:
    none = np.zeros(0)
    return Curve.of(none, none.astype(complex), none, (), ())


def test_the_same_look_does_not_count_twice() -> None:
    test, rests = TouchTest(), curve()
    test.begin()
    test.next(rests)
    test.next(rests)
    test.offer(rests)
    assert test.state.phase == "grip"
    test.offer(curve())
    assert test.state.phase == "let go"
    assert "only counts if your hand was on the cable" in test.state.aside
    test.offer(curve())
    assert test.result is None  # nobody said that the hand was off
    test.next(curve())
    assert test.result is not None


def test_a_look_that_is_asked_for_too_early_waits_and_says_so() -> None:
    test = TouchTest()
    with pytest.raises(NotNowError, match="No touch test"):
        test.next(curve())
    test.begin()
    asked = test.state.message
    test.next(None)
    assert test.state.phase == "hands off"
    assert test.state.message != asked
    assert "as soon as it is steady" in test.state.message
    test.next(None)  # pressed again: it waits once
    test.offer(None)
    test.offer(curve())
    assert test.state.phase == "grip"
    test.offer(curve())
    assert test.state.phase == "grip"
    test.next(None)
    test.leave()
    test.begin()
    test.offer(curve())  # what was asked for before is forgotten
    assert test.state.phase == "hands off"


def test_leaving_keeps_the_last_result_and_forgetting_drops_it() -> None:
    test = TouchTest()
    test.begin()
    for _ in range(3):
        test.next(curve())
    test.begin()
    test.leave()
    assert test.state.phase == "idle"
    assert test.result is not None
    test.forget()
    assert test.result is None


@pytest.mark.calibrated
def test_what_was_found_goes_with_another_plan_and_another_calibration(bench: Bench) -> None:
    settled(bench)
    touched(bench)
    bench.touch_test.begin()
    bench.plane.use(NOT_MOVED)  # margins of two planes are not compared
    now = until(bench, lambda now: now.touch.phase == "idle")
    assert now.touch.result is not None
    bench.use_plan(read_plan(PLAN))
    assert bench.snapshot().touch.result is None

    until(bench, lambda now: now.verdict is not None)
    touched(bench)
    bench.touch_test.begin()
    bench.calibration.begin()
    assert bench.snapshot().touch.phase == "idle"
    bench.calibration.leave()
    assert bench.snapshot().touch.result is not None  # the calibration before it holds again
    calibrate(bench)
    assert bench.snapshot().touch.result is None


@pytest.mark.calibrated
def test_a_check_of_the_calibration_leaves_what_was_found(bench: Bench) -> None:
    settled(bench)
    touched(bench)
    bench.calibration.begin_check(RemeasureStandard("load"))
    capture(bench, "load", "load")
    until(bench, lambda now: now.calibration.outcome is not None)
    assert bench.snapshot().touch.result is not None


@pytest.mark.calibrated
def test_a_result_is_written_into_the_record_of_one_name_alone(bench: Bench) -> None:
    settled(bench)
    touched(bench)
    first = bench.acceptance.sign_off(AntennaDetails("weir-3"))
    assert load_record(first.path).acceptance.touch_test is not None
    again = bench.acceptance.sign_off(AntennaDetails("weir-3"))
    assert load_record(again.path).acceptance.touch_test is not None
    other = bench.acceptance.sign_off(AntennaDetails("mill-lane-7"))
    assert load_record(other.path).acceptance.touch_test is None


@pytest.mark.calibrated
def test_a_plan_that_wants_a_touch_test_wants_one_of_every_unit(bench: Bench) -> None:
    settled(bench)
    bench.use_plan(read_plan("touch_test = true\n" + PLAN))
    until(bench, lambda now: now.verdict is not None)
    touched(bench)
    bench.acceptance.sign_off(AntennaDetails("weir-3"))
    with pytest.raises(NotNowError, match="wants a touch test first"):
        bench.acceptance.sign_off(AntennaDetails("mill-lane-7"))


@pytest.mark.calibrated
def test_what_was_forgotten_is_in_no_unfinished_record_either(bench: Bench) -> None:
    settled(bench)
    bench.use_plan(read_plan('conditions = ["bare", "sealed"]\n' + PLAN))
    until(bench, lambda now: now.verdict is not None)
    touched(bench)
    bench.acceptance.sweep_condition("bare", AntennaDetails("weir-3"))
    bench.acceptance.forget_touch_test()
    bench.acceptance.sweep_condition("sealed", AntennaDetails("weir-3"))
    assert (
        load_record(bench.acceptance.sign_off(AntennaDetails("weir-3")).path).acceptance.touch_test
        is None
    )
