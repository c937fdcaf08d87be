"""The bench: one moment at a time, marks only where they hold, commands that say why not."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest

from acceptance.bands.load import load_bands
from acceptance.limits.decision import State
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import parse_recipe
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.record_folder import load_record
from acceptance.verdict.plan_verdict import judge
from acquire.sweep import Plane
from calibration.errors import CalibrationError
from calibration.files.store import load_calibration, load_kit
from calibration.guided.verification_session import RemeasureStandard
from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.bench.composed_bench import Bench
from dashboard.bench.make_bench import live_bench
from dashboard.bench.snapshot import Snapshot
from dashboard.bench.steady_reading import steady_moment
from dashboard.command_line.main import main
from dashboard.demo import scenario
from dashboard.errors import NotNowError
from dashboard.feed.frame import header
from dashboard.feed.sentence import sentence
from dashboard.page.plan_form import read_plan
from replay.clock import AcceleratedClock, FastClock
from replay.errors import BenchError
from replay.virtual_bench import simulated_bench
from tests.counts import PATIENCE_S
from tests.dashboard.conftest import (
    TO_PASS,
    UnitClock,
    Unplugged,
    calibrate,
    capture,
    plan_text,
    settled,
    until,
)
from tests.wording import missing_words

ONE_BAND = 'name = "one"\n[[band]]\nlte = 20\nreturn_loss_db = 8\n'


def test_without_a_calibration_the_raw_trace_is_shown_and_no_mark(bench: Bench) -> None:
    now = until(bench, lambda now: now.sequence > 0)
    assert now.shown is now.sweep
    assert now.shown is not None
    assert now.shown.plane is Plane.RAW
    assert now.verdict is None
    with pytest.raises(NotNowError, match="Uncalibrated"):
        bench.acceptance.sign_off(AntennaDetails("weir-3"))


def test_the_whole_job_leaves_a_record_that_can_be_recomputed(bench: Bench) -> None:
    now = calibrate(bench)
    assert now.verdict is not None
    assert now.verdict.overall is State.FAIL  # as delivered
    for dimension, delta_mm in TO_PASS:
        bench.hands.bend(dimension, delta_mm)
    settled(bench)
    now = until(bench, lambda now: now.verdict is not None and now.verdict.words == "pass")
    assert now.verdict is not None

    folder = bench.acceptance.sign_off(
        AntennaDetails("weir-3", "river-watch", "upstream gauge")
    ).path
    found = recheck_folder(folder)
    assert found.holds
    acceptance = found.record.acceptance
    assert (acceptance.antenna, acceptance.operator) == ("weir-3", "river-watch")
    assert acceptance.invented
    assert len(acceptance.conditions[0].raw) >= 4
    assert found.examined is not None
    verdict = found.examined.conditions[0].verdict
    assert verdict.words == "pass"
    for ours, theirs in zip(verdict.bands, now.verdict.bands, strict=True):
        assert ours.state is theirs.state
        assert ours.margin_db == pytest.approx(theirs.margin_db, abs=0.05)


def test_what_is_shown_is_what_a_perfect_laboratory_would_measure(bench: Bench) -> None:
    # The virtual bench's own truth [derived]; a 30 dB load and definition errors stand between.
    now = calibrate(bench)
    assert now.corrected is not None
    assert bench.virtual_bench is not None
    truth = bench.virtual_bench.true_reflection(now.corrected.frequency_hz)
    assert np.abs(now.corrected.reflection - truth).max() < 0.06


@pytest.mark.calibrated
def test_curve_and_verdict_are_always_of_one_sweep(bench: Bench) -> None:
    settled(bench)
    seen = []
    stop = threading.Event()

    def look() -> None:
        now = bench.snapshot()
        seen.append(now)
        if len(seen) >= 12:
            stop.set()

    forget = bench.watch(look)
    for _ in range(3):
        bench.hands.bend("arm_a", 0.5)
        bench.holds.hold()
    assert stop.wait(PATIENCE_S)
    forget()
    for now in seen:
        assert now.sweep is not None
        assert now.corrected is not None
        assert now.plan is not None
        assert now.verdict is not None
        assert now.corrected.sequence == now.sweep.sequence == now.sequence
        assert now.uncertainty is not None
        assert np.array_equal(now.uncertainty.reflection, np.abs(now.corrected.reflection))
        again = judge(now.plan, now.corrected, uncertainty=now.uncertainty)
        assert again.as_json() == now.verdict.as_json()
    versions = [now.version for now in seen]
    assert versions == sorted(versions)


def test_a_standard_left_on_twice_is_refused_by_name_and_only_it_is_asked_again(
    bench: Bench,
) -> None:
    until(bench, lambda now: now.sequence > 0)
    bench.calibration.begin()
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
    bench.calibration.begin()
    capture(bench, "open", "open")
    bench.calibration.redo("open")
    session = bench.snapshot().calibration.session
    assert session is not None
    assert session.taken == ()
    with pytest.raises(CalibrationError, match="There is no spanner here"):
        bench.calibration.redo("spanner")
    with pytest.raises(NotNowError, match="bands cannot be changed"):
        bench.use_plan(read_plan(plan_text("other", ["lte 8"], "vswr", 2.0)))
    bench.calibration.leave()
    assert bench.snapshot().calibration.phase == "none"
    with pytest.raises(NotNowError, match="No calibration is in progress"):
        bench.calibration.standard_is_on()


def test_a_calibration_is_kept_and_holds_on_a_bench_started_with_it(
    bench: Bench, tmp_path: Path
) -> None:
    now = calibrate(bench)
    path = now.calibration.path
    assert path is not None
    assert path.parent == tmp_path / "calibrations"
    bench.close()
    later = live_bench("virtual:?speed=10", plan=now.plan, calibration=path, clock=UnitClock())
    later.start()
    try:
        held = until(later, lambda now: now.sequence > 0)
    finally:
        later.close()
    assert held.calibration.phase == "held"
    assert held.verdict is not None


def test_a_bench_begun_with_a_calibration_sweeps_what_was_calibrated(
    bench: Bench, tmp_path: Path
) -> None:
    """Also where its unit corrects itself, and is believed on just those frequencies."""
    path = tmp_path / "even.json"
    arguments = [
        "calibrate",
        "--port",
        "virtual:prompted",
        "--even",
        "700-900",
        "--step-khz",
        "2000",
    ]
    assert main([*arguments, "--unattended", "--out", str(path)], AcceleratedClock()) == 0
    later = live_bench(
        "virtual:prompted?speed=10",
        plan=parse_plan(ONE_BAND, "plan", load_bands()),
        calibration=path,
        clock=UnitClock(),
    )
    later.start()
    try:
        held = until(later, lambda now: now.sequence > 0)
        assert held.calibration.phase == "held"
        assert held.sweep is not None
        assert held.sweep.request == load_calibration(path).request
        assert held.coverage is not None
        assert held.coverage.words.endswith("as calibrated")
        later.use_plan(parse_plan(scenario.PLAN, "plan", load_bands()))
        wider = until(later, lambda now: now.coverage is not held.coverage)
    finally:
        later.close()
    assert wider.coverage is not None
    assert "as calibrated" not in wider.coverage.words


def test_nothing_is_calibrated_before_the_standards_are_said(tmp_path: Path) -> None:
    made = Bench(
        Unplugged(FastClock(5)).open,
        address="/dev/test",
        kit=None,
        plan=read_plan(scenario.PLAN),
        calibrations_folder=tmp_path,
        records_folder=tmp_path,
        clock=FastClock(5),
    )
    made.start()
    try:
        assert until(made, lambda now: now.sequence > 0).calibration.kit == ""
        with pytest.raises(NotNowError, match="what your standards are"):
            made.calibration.begin()
        made.calibration.use_kit(load_kit("ideal"))
        now = made.snapshot().calibration
    finally:
        made.close()
    assert now.kit == "ideal"
    assert now.kit_words.startswith("Nothing real is ideal")


@pytest.mark.calibrated
def test_marks_are_withheld_where_a_new_plan_leaves_the_calibrated_range(bench: Bench) -> None:
    """And it says which of its bands that are, not a frequency of their surroundings."""
    settled(bench)
    bench.use_plan(read_plan(plan_text("far", ["lte 7", "lte 20", "nr 40"], "return_loss_db", 10)))
    now = until(bench, lambda now: now.calibration.phase == "misfit")
    assert now.verdict is None
    assert now.corrected is None
    message = now.calibration.message
    assert not missing_words(message, "LTE 7 and NR n40", "not calibrated", "(key c)", "(key p)")


def test_what_lies_around_a_band_is_swept_as_far_as_it_was_calibrated(bench: Bench) -> None:
    """LTE 8 was calibrated as what lies around LTE 20, and some of what lies around it was not."""
    before = calibrate(bench).coverage
    bench.use_plan(read_plan(plan_text("near", ["lte 8"], "return_loss_db", 10.0)))
    now = until(bench, lambda now: now.coverage is not before and now.verdict is not None)
    assert now.coverage is not None
    assert now.coverage.words.endswith("as far as was calibrated")
    now = until(
        bench,
        lambda now: now.verdict is not None and not any(each.reason for each in now.verdict.bands),
    )
    assert now.calibration.phase == "held"
    assert now.verdict is not None
    assert [each.name for each in now.verdict.bands] == ["LTE 8", "LTE 8"]
    highest_hz = max(request.stop_hz for request in now.coverage.passes)
    bench.calibration.begin()
    session = bench.snapshot().calibration.session
    assert session is not None
    anew = until(bench, lambda now: now.sweep is not None and now.sweep.frequency_hz[-1] > 1.1e9)
    assert anew.sweep is not None
    assert highest_hz < 1.02e9 < anew.sweep.frequency_hz[-1]


def test_bands_that_the_unit_cannot_sweep_are_named_and_not_measured(bench: Bench) -> None:
    until(bench, lambda now: now.sequence > 0)
    bench.use_plan(read_plan(plan_text("far", ["nr 46"], "return_loss_db", 10.0)))
    now = bench.snapshot()
    assert "5150" in now.coverage_problem
    headline = sentence(now)
    assert (headline.text, headline.aside) == (now.coverage_problem, "")
    assert header(now, bench.clock.monotonic())["plan"]["wanted"]
    bench.use_plan(read_plan(plan_text("half", ["lte 20", "nr 46"], "return_loss_db", 10.0)))
    now = bench.snapshot()
    assert now.coverage_problem == ""
    assert now.coverage is not None
    assert [span[0] for span in now.coverage.beyond] == [5150e6]


def test_hold_keeps_the_trace_and_undo_brings_the_one_before_back(bench: Bench) -> None:
    with pytest.raises(NotNowError, match="No trace is held"):
        bench.holds.undo()
    first = until(bench, lambda now: now.sequence > 0)
    bench.holds.hold()
    until(bench, lambda now: now.sequence > first.sequence)
    bench.holds.hold()
    held = [hold.sweep.sequence for hold in bench.snapshot().holds]
    assert held == sorted(set(held))
    assert len(held) == 2
    bench.holds.undo()
    assert [hold.sweep.sequence for hold in bench.snapshot().holds] == held[:1]


@pytest.mark.calibrated
def test_a_moving_antenna_is_not_accepted(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    settled(bench)
    monkeypatch.setattr(simulated_bench, "SCREWING_S", 1e9)  # the nut turns and turns
    bench.hands.screw_on("antenna")
    with pytest.raises(NotNowError, match="still moves"):
        bench.acceptance.sign_off(AntennaDetails("weir-3"))


@pytest.mark.calibrated
def test_a_verdict_that_turns_while_the_reading_settles_is_not_accepted(bench: Bench) -> None:
    begun = settled(bench)
    for dimension, delta_mm in TO_PASS:
        bench.hands.bend(dimension, delta_mm)
    passing = settled(bench)
    assert passing.verdict is not None
    with pytest.raises(NotNowError, match='turned from "fail" to "pass'):
        steady_moment(begun, lambda _: settled(bench))


@pytest.mark.calibrated
def test_an_antenna_without_a_name_is_not_accepted(bench: Bench, tmp_path: Path) -> None:
    settled(bench)
    with pytest.raises(Exception, match="needs a name"):
        bench.acceptance.sign_off(AntennaDetails("  "))
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
        bench.acceptance.sign_off(AntennaDetails("weir-3"))
    unit.there = True
    again = until(bench, lambda now: now.fresh and now.sequence > lost.sequence)
    assert again.port.message == ""
    assert header(again, bench.clock.monotonic())["trouble"].startswith(
        "On the line since it was opened: the analyzer was lost"
    )


def test_a_capture_ends_with_the_unit_and_takes_another_press(
    cable: tuple[Bench, Unplugged],
) -> None:
    bench, unit = cable
    until(bench, lambda now: now.sequence > 0)
    bench.calibration.begin()
    bench.calibration.standard_is_on()
    unit.pull()
    lost = until(bench, lambda now: now.port.phase == "lost")
    until(bench, _waits)
    with pytest.raises(NotNowError, match="nothing can be captured"):
        bench.calibration.standard_is_on()
    unit.put_back()
    now = until(bench, lambda now: now.fresh and now.sequence > lost.sequence + 2)
    assert _waits(now)


def _waits(now: Snapshot) -> bool:
    """True where a standard is asked for, and none captured."""
    session = now.calibration.session
    return session is not None and session.phase == "screw on" and session.taken == ()


def test_bending_what_is_not_there_is_refused(bench: Bench) -> None:
    with pytest.raises(BenchError, match="no dimension"):
        bench.hands.bend("spanner", 1.0)
    with pytest.raises(BenchError, match="on the bench"):
        bench.hands.screw_on("kettle")


def test_a_bench_closes_at_once_also_before_it_has_met_its_unit(
    cable: tuple[Bench, Unplugged],
) -> None:
    bench, _ = cable
    bench.close()
    bench.close()
    assert bench.snapshot().version >= 1


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
@pytest.mark.calibrated
def test_a_fault_of_the_program_itself_leaves_no_verdict_standing(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert settled(bench).verdict is not None

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("acceptance.verdict.judged_sweep.judge", broken)
    now = until(bench, lambda now: now.verdict is None)
    assert not now.fresh
    assert "fault of this program" in now.port.message


@pytest.mark.slow
def test_a_slow_unit_watches_the_band_being_tuned_and_accepts_whole_sweeps_alone(
    tmp_path: Path,
) -> None:
    """Half as fast as the profile says: a whole sweep takes about two seconds."""
    slow = live_bench(
        "virtual:registers?speed=0.5",
        plan=parse_plan(scenario.PLAN, "plan", load_bands()),
        recipe=parse_recipe(scenario.RECIPE, "recipe"),
        records_folder=tmp_path,
        calibrations_folder=tmp_path,
        clock=UnitClock(30),
    )
    slow.start()
    try:
        calibrate(slow)
        slow.hands.screw_on("antenna")
        now = until(slow, lambda now: now.watched is not None and now.tuning is not None)
        assert now.watched is not None
        assert now.sweep is not None
        rounded_hz = now.watched.request.points  # the unit's step is in whole hertz
        inside = (now.sweep.frequency_hz >= now.watched.span[0]) & (
            now.sweep.frequency_hz <= now.watched.span[1] + rounded_hz
        )
        assert np.count_nonzero(inside) >= now.watched.request.points
        assert now.verdict is not None
        assert any("different moments" in note for note in header(now, 1e9)["notes"])
        until(slow, lambda now: now.watched is not None and now.whole_at_s is not None)
        stored = load_record(slow.acceptance.sign_off(AntennaDetails("weir-3")).path).acceptance
        assert {each.points for each in stored.conditions[0].raw} == {
            sum(request.points for request in now.coverage.passes) if now.coverage else 0
        }
    finally:
        slow.close()


def test_a_load_connected_once_is_doubted_until_it_is_put_back(bench: Bench) -> None:
    until(bench, lambda now: now.sequence > 0)
    bench.calibration.begin()
    for name in ("open", "short", "load"):
        now = capture(bench, name, name)
    session = header(now, 1e9)["session"]
    assert session["step"]["optional"]
    assert [each["state"] for each in session["standards"]] == ["taken"] * 3 + ["now"]
    bench.calibration.skip()
    held = until(bench, lambda now: now.calibration.phase == "held")
    (words,) = header(held, 1e9)["calibration"]["warnings"]
    assert not missing_words(words, "only once", "second load")
    assert "No earlier calibration" in header(held, 1e9)["calibration"]["detail"]
    bench.hands.screw_on("antenna")
    judged = until(bench, lambda now: now.verdict is not None)
    assert judged.verdict is not None
    assert words in judged.verdict.notes
    bench.calibration.begin_check(RemeasureStandard("load"))
    capture(bench, "load", "load")
    after = until(bench, lambda now: now.calibration.outcome is not None)
    assert header(after, 1e9)["calibration"]["warnings"] == []


def test_the_next_calibration_is_held_against_the_one_before(bench: Bench) -> None:
    calibrate(bench)
    now = calibrate(bench)
    assert not missing_words(now.calibration.message, "held against the last calibration")
    assert now.calibration.calibration is not None
    assert now.calibration.calibration.warnings == ()
