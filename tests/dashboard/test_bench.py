"""The bench: one moment at a time, marks only where they hold, commands that say why not."""

from __future__ import annotations

import dataclasses
import json
import threading
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from acceptance.decision import State
from acceptance.store import load_plan
from acceptance.verdict import judge
from acquire.sweep import Plane
from acquire.touchstone import parse_touchstone
from calibration.budget import Assumptions
from calibration.contributions import budget_of
from calibration.errors import CalibrationError
from calibration.one_port import correct
from calibration.store import load_calibration
from calibration.uncertainty import interval
from dashboard.accepting import steady_moment
from dashboard.bench import Bench
from dashboard.benches import live_bench
from dashboard.errors import NotNowError
from dashboard.planning import plan_text, read_plan
from replay.clock import FastClock
from replay.errors import BenchError
from tests.dashboard.conftest import TO_PASS, Unplugged, calibrate, capture, settled, until


def test_without_a_calibration_the_raw_trace_is_shown_and_no_mark(bench: Bench) -> None:
    now = until(bench, lambda now: now.sequence > 0)
    assert now.shown is now.sweep
    assert now.shown is not None
    assert now.shown.plane is Plane.RAW
    assert now.verdict is None
    with pytest.raises(NotNowError, match="Uncalibrated"):
        bench.accept("weir-3")


def test_the_whole_job_leaves_a_record_that_can_be_recomputed(bench: Bench) -> None:
    now = calibrate(bench)
    assert now.verdict is not None
    assert now.verdict.overall is State.FAIL  # as delivered
    for dimension, delta_mm in TO_PASS:
        bench.bend(dimension, delta_mm)
    now = settled(bench)
    assert now.verdict is not None
    assert now.verdict.words == "pass"

    folder = bench.accept("weir-3", "river-watch", "upstream gauge")
    assert sorted(path.name for path in folder.iterdir()) == [
        "calibration.json",
        "corrected.s1p",
        "plan.toml",
        "raw.s1p",
        "verdict.json",
    ]
    raw, corrected = (
        parse_touchstone((folder / name).read_bytes(), name).reading
        for name in ("raw.s1p", "corrected.s1p")
    )
    calibration = load_calibration(folder / "calibration.json")
    again = correct(calibration.terms, raw.reflection)
    # The files hold nine digits or more: what is left is their rounding.
    np.testing.assert_allclose(again, corrected.reflection, atol=1e-8)
    written = json.loads((folder / "verdict.json").read_text(encoding="utf-8"))
    age = datetime.fromisoformat(written["taken_at"]) - calibration.taken_at
    budget = budget_of(
        calibration, Assumptions(**written["assumptions"]), age_s=age.total_seconds()
    )
    trust = interval(budget, corrected.reflection)
    trust = dataclasses.replace(trust, frequency_hz=corrected.frequency_hz)
    verdict = judge(
        load_plan(folder / "plan.toml"),
        corrected,
        Plane.CONNECTOR,
        calibration.source,
        trust=trust,
    )
    assert written["invented"] is True
    assert written["operator"] == "river-watch"
    for ours, theirs in zip(verdict.bands, written["verdict"]["bands"], strict=True):
        assert theirs["state"] == str(ours.state)
        assert theirs["margin_db"] == pytest.approx(ours.margin_db, abs=1e-6)


def test_what_is_shown_is_what_a_perfect_laboratory_would_measure(bench: Bench) -> None:
    # The virtual bench's own truth [derived]; a 30 dB load and definition errors stand between.
    now = calibrate(bench)
    assert now.corrected is not None
    assert bench.virtual_bench is not None
    truth = bench.virtual_bench.true_reflection(now.corrected.frequency_hz)
    assert np.abs(now.corrected.reflection - truth).max() < 0.06


def test_curve_and_verdict_are_always_of_one_sweep(bench: Bench) -> None:
    calibrate(bench)
    seen = []
    stop = threading.Event()

    def look() -> None:
        now = bench.snapshot()
        seen.append(now)
        if len(seen) >= 12:
            stop.set()

    forget = bench.watch(look)
    for _ in range(3):
        bench.bend("arm_a_mm", 0.5)
        bench.hold()
    assert stop.wait(20)
    forget()
    for now in seen:
        assert now.sweep is not None
        assert now.corrected is not None
        assert now.plan is not None
        assert now.verdict is not None
        assert now.corrected.sequence == now.sweep.sequence == now.sequence
        assert now.trust is not None
        assert np.array_equal(now.trust.reflection, np.abs(now.corrected.reflection))
        again = judge(now.plan, now.corrected, trust=now.trust)
        assert again.as_json() == now.verdict.as_json()
    versions = [now.version for now in seen]
    assert versions == sorted(versions)


def test_a_standard_left_on_twice_is_refused_by_name_and_only_it_is_asked_again(
    bench: Bench,
) -> None:
    until(bench, lambda now: now.sequence > 0)
    bench.begin_calibration()
    capture(bench, "open", "open")
    now = capture(bench, "open", "short")  # forgotten: the open is still on
    session = now.calibration.session
    assert session is not None
    assert session.phase == "refused"
    assert session.step is not None
    assert session.step.standard == "short"
    assert session.taken == ("open",)
    assert "short" in session.message
    assert now.verdict is None
    now = capture(bench, "short", "short")
    assert now.calibration.session is not None
    assert now.calibration.session.taken == ("open", "short")


def test_a_standard_can_be_measured_again_and_a_calibration_left(bench: Bench) -> None:
    until(bench, lambda now: now.sequence > 0)
    bench.begin_calibration()
    capture(bench, "open", "open")
    bench.redo("open")
    session = bench.snapshot().calibration.session
    assert session is not None
    assert session.taken == ()
    with pytest.raises(CalibrationError, match="has no spanner"):
        bench.redo("spanner")
    with pytest.raises(NotNowError, match="bands cannot be changed"):
        bench.use_plan(read_plan(plan_text("other", ["lte 8"], "vswr", 2.0)))
    bench.leave_calibration()
    assert bench.snapshot().calibration.phase == "none"
    with pytest.raises(NotNowError, match="No calibration is in progress"):
        bench.standard_is_on()


def test_a_calibration_is_kept_and_holds_on_a_bench_started_with_it(
    bench: Bench, tmp_path: Path
) -> None:
    now = calibrate(bench)
    path = now.calibration.path
    assert path is not None
    assert path.parent == tmp_path / "calibrations"
    bench.close()
    later = live_bench(
        "virtual:registers?speed=10", plan=now.plan, calibration=path, clock=FastClock(5)
    )
    later.start()
    try:
        held = until(later, lambda now: now.sequence > 0)
    finally:
        later.close()
    assert held.calibration.phase == "held"
    assert held.verdict is not None


def test_marks_are_withheld_where_a_new_plan_leaves_the_calibrated_range(bench: Bench) -> None:
    calibrate(bench)
    bench.use_plan(read_plan(plan_text("far", ["lte 7"], "return_loss_db", 10.0)))
    now = until(bench, lambda now: now.calibration.phase == "misfit")
    assert now.verdict is None
    assert now.corrected is None
    assert "2" in now.calibration.message  # it says where


def test_bands_that_the_unit_cannot_sweep_are_named_and_not_measured(bench: Bench) -> None:
    until(bench, lambda now: now.sequence > 0)
    bench.use_plan(read_plan(plan_text("far", ["nr 46"], "return_loss_db", 10.0)))
    assert "5150" in bench.snapshot().coverage_problem
    bench.use_plan(read_plan(plan_text("half", ["lte 20", "nr 46"], "return_loss_db", 10.0)))
    now = bench.snapshot()
    assert now.coverage_problem == ""
    assert now.coverage is not None
    assert [span[0] for span in now.coverage.beyond] == [5150e6]


def test_hold_keeps_the_trace_and_undo_brings_the_one_before_back(bench: Bench) -> None:
    with pytest.raises(NotNowError, match="Nothing is held"):
        bench.undo_hold()
    first = until(bench, lambda now: now.sequence > 0)
    bench.hold()
    until(bench, lambda now: now.sequence > first.sequence)
    bench.hold()
    held = [hold.sweep.sequence for hold in bench.snapshot().holds]
    assert held == sorted(set(held))
    assert len(held) == 2
    bench.undo_hold()
    assert [hold.sweep.sequence for hold in bench.snapshot().holds] == held[:1]


def test_a_moving_antenna_is_not_accepted(bench: Bench) -> None:
    calibrate(bench)
    stop = threading.Event()

    def fidget() -> None:
        while not stop.is_set():
            bench.screw_on("antenna")  # the reading wanders while the nut turns
            stop.wait(0.02)

    hand = threading.Thread(target=fidget)
    hand.start()
    try:
        with pytest.raises(NotNowError, match="still moves"):
            bench.accept("weir-3")
    finally:
        stop.set()
        hand.join(20)


def test_a_verdict_that_turns_while_the_reading_settles_is_not_accepted(bench: Bench) -> None:
    asked = calibrate(bench)
    for dimension, delta_mm in TO_PASS:
        bench.bend(dimension, delta_mm)
    passing = settled(bench)
    assert passing.verdict is not None
    with pytest.raises(NotNowError, match='turned from "fail" to "pass'):
        steady_moment(asked, lambda _: settled(bench))


def test_an_antenna_without_a_name_is_not_accepted(bench: Bench, tmp_path: Path) -> None:
    calibrate(bench)
    with pytest.raises(Exception, match="needs a name"):
        bench.accept("  ")
    assert not (tmp_path / "records").exists()


def test_a_pulled_cable_is_told_and_the_unit_found_again(cable: tuple[Bench, Unplugged]) -> None:
    bench, unit = cable
    before = until(bench, lambda now: now.sequence > 0)
    assert before.fresh
    unit.pull()
    lost = until(bench, lambda now: now.port.phase == "lost")
    assert not lost.fresh
    assert lost.sequence >= before.sequence  # the last picture stays, and grows old
    with pytest.raises(NotNowError, match="No sweeps come in"):
        bench.accept("weir-3")
    unit.there = True
    again = until(bench, lambda now: now.fresh and now.sequence > lost.sequence)
    assert again.port.message == ""


def test_bending_what_is_not_there_is_refused(bench: Bench) -> None:
    with pytest.raises(BenchError, match="no dimension"):
        bench.bend("spanner", 1.0)
    with pytest.raises(BenchError, match="on the bench"):
        bench.screw_on("kettle")


def test_a_bench_closes_at_once_also_before_it_has_met_its_unit(
    cable: tuple[Bench, Unplugged],
) -> None:
    bench, _ = cable
    bench.close()
    bench.close()
    assert bench.snapshot().version >= 1


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_fault_of_the_program_itself_leaves_no_verdict_standing(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert calibrate(bench).verdict is not None

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("dashboard.bench.judge", broken)
    now = until(bench, lambda now: now.verdict is None)
    assert not now.fresh
    assert "fault of this program" in now.port.message
