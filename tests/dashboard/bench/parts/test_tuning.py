"""What is done is matched to what is seen, learned from, and the advice stays still."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from acceptance.bands.load import load_bands
from acceptance.errors import RecipeError
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import Recipe, parse_recipe
from acceptance.verdict.judged_sweep import JudgedReading
from acceptance.verdict.plan_verdict import judge
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.errors import PortError
from acquire.sweep import ComplexArray, Plane, Source, Sweep, SweepRequest
from calibration.capture.averaging import Averaging
from calibration.uncertainty.budget import Budget, Contribution
from calibration.uncertainty.interval import Interval
from dashboard.bench import learned_effects
from dashboard.bench.engine import Engine
from dashboard.bench.parts.tuning import Tuning
from dashboard.bench.snapshot import TuningState
from dashboard.errors import NotNowError
from replay.clock import AcceleratedClock
from tests.wording import missing_words

REQUEST = SweepRequest(0.65e9, 1.05e9, 161)
F = REQUEST.grid_hz()
RECIPE = parse_recipe(
    'name = "one arm"\n[[dimension]]\nname = "arm"\nlabel = "the arm"\nlength_mm = 80.0\n'
    'moves = 1\n[[dimension]]\nname = "gap"\nlabel = "the gap"\nstep_mm = 0.2\n',
    "r.toml",
)
PLAN = parse_plan('name = "x"\n[[band]]\nlte = 20\nreturn_loss_db = 8\n', "plan.toml", load_bands())
SOURCE = Source("virtual", "invented", "invented", "virtual:")


def no_analyzer() -> Analyzer:
    raise PortError("There is none here. It is never asked for.")


def noisy(sweeps: int) -> Budget:
    """What so many sweeps of 1e-3 rms average to."""
    sizes = np.zeros((3, F.size), complex)
    sizes[0] = 1e-3 / np.sqrt(2 * sweeps)
    noise = Contribution(
        "noise in this reading", "measured", "", False, sizes, part="reading noise"
    )
    return Budget(F, (noise,))


class Bench:
    """An arm that does three quarters of what scaling says; ten sweeps a second."""

    def __init__(self, folder: Path | None = None, recipe: Recipe = RECIPE) -> None:
        self.clock = AcceleratedClock()
        self.tuning = Tuning(Engine(no_analyzer, address="", clock=self.clock), recipe, folder)
        self.rng = np.random.default_rng(1)
        self.averaging = Averaging()
        self.arm_mm, self.number = 0.0, 0
        self.present = True

    @property
    def now_s(self) -> float:
        return self.clock.monotonic()

    def true(self) -> ComplexArray:
        if not self.present:
            return np.full(F.size, 0.01 + 0j)
        f0 = 0.896e9 * np.exp(-0.75 * self.arm_mm / 80)
        z = 45 * (1 + 6j * (F / f0 - f0 / F))
        reflection: ComplexArray = (z - 50) / (z + 50)
        return reflection

    def sweep(self, count: int = 1) -> TuningState:
        for _ in range(count):
            self.number += 1
            self.clock.advance(0.1 * self.number - self.clock.monotonic())
            real, imaginary = self.rng.standard_normal((2, F.size)) * 1e-3 / np.sqrt(2)
            when = datetime(2026, 5, 1, 9, tzinfo=UTC) + timedelta(seconds=self.now_s)
            values = self.true() + real + 1j * imaginary
            raw = Sweep(F, values, Plane.RAW, when, self.number, SOURCE, (REQUEST,))
            averaged = self.averaging.add(raw)
            size = np.abs(averaged.sweep.reflection)
            uncertainty = Interval(F, size, size - 0.01, size + 0.01, np.full(F.size, 0.01))
            corrected = Sweep(
                F, averaged.sweep.reflection, Plane.CONNECTOR, when, self.number, SOURCE, ()
            )
            verdict = judge(PLAN, corrected, uncertainty=uncertainty)
            judged = JudgedReading(corrected, noisy(averaged.sweeps), uncertainty, None, verdict)
            self.tuning.take(judged, averaged, plan=PLAN, now_s=self.now_s)
        return self.tuning.shown()

    def bend(self, delta_mm: float) -> None:
        self.arm_mm += delta_mm

    def learned(self) -> float:
        """The arm's effect on the dip, as a part of what scaling says."""
        return -80 * self.tuning._effects.effect("arm", 1).shift.mean


def test_what_is_said_after_it_was_seen_is_learned_from() -> None:
    bench = Bench()
    first = bench.sweep(10).advice
    assert first is not None
    assert "dip is at 896 MHz" in first.reason
    bench.bend(3.0)
    bench.sweep(10)
    assert bench.learned() == pytest.approx(1.0), "nobody has said anything yet"
    assert bench.tuning.report_change("arm", 3.0) == "the arm +3 mm"
    assert bench.learned() == pytest.approx(0.75, abs=0.08)
    after = bench.sweep(10)
    assert after.waiting == ""
    assert after.marks[0].words == "the arm +3 mm"


def test_what_is_said_before_it_is_done_waits_for_it() -> None:
    bench = Bench()
    bench.sweep(10)
    bench.tuning.report_change("arm", 3.0)
    assert "the arm +3 mm" in bench.sweep(5).waiting
    bench.bend(3.0)
    assert bench.sweep(10).waiting == ""
    assert bench.learned() == pytest.approx(0.75, abs=0.08)


def test_taps_add_up_and_the_sum_is_what_is_waited_for() -> None:
    bench = Bench()
    bench.sweep(10)
    for _ in range(3):
        bench.tuning.report_change("arm", 0.1, beforehand=True)
    assert bench.sweep(5).waiting == "the arm +0.3 mm"


def test_an_antenna_screwed_on_is_not_what_was_said_to_be_done() -> None:
    bench = Bench()
    bench.present = False
    bench.sweep(10)
    bench.present = True
    bench.sweep(10)
    bench.tuning.report_change("arm", 3.0)
    assert "the arm +3 mm" in bench.sweep(5).waiting
    bench.bend(3.0)
    assert bench.sweep(10).waiting == ""
    assert bench.learned() == pytest.approx(0.75, abs=0.08)


def test_just_bent_it_teaches_nothing_and_spoils_nothing() -> None:
    bench = Bench()
    bench.sweep(10)
    bench.bend(2.0)
    bench.sweep(10)
    bench.tuning.report_change("", None)
    assert bench.learned() == pytest.approx(1.0)
    bench.bend(2.0)
    bench.sweep(10)
    bench.tuning.report_change("arm", 2.0)
    assert bench.learned() == pytest.approx(0.75, abs=0.1)


def test_two_taps_of_one_dimension_add_up_and_of_two_are_a_muddle() -> None:
    bench = Bench()
    bench.sweep(10)
    for _ in range(2):
        bench.tuning.report_change("arm", 1.5, beforehand=True)
    bench.bend(3.0)
    bench.sweep(10)
    assert bench.learned() == pytest.approx(0.75, abs=0.08)
    bench.tuning.report_change("arm", 1.0, beforehand=True)
    bench.tuning.report_change("gap", 0.2, beforehand=True)
    before = bench.learned()
    bench.bend(2.0)
    bench.sweep(10)
    assert bench.learned() == before


def test_what_was_said_by_mistake_is_taken_back() -> None:
    bench = Bench()
    bench.sweep(10)
    bench.tuning.report_change("arm", 5.0, beforehand=True)
    assert bench.tuning.undo() == "the arm +5 mm"
    bench.bend(1.0)
    shown = bench.sweep(10)
    assert shown.marks == ()
    assert bench.learned() == pytest.approx(1.0)
    with pytest.raises(NotNowError, match="What was learned stays learned"):
        bench.tuning.undo()


def test_following_the_advice_it_says_how_right_it_was_and_when_to_stop() -> None:
    bench = Bench()
    advice = bench.sweep(10).advice
    for _ in range(4):
        assert advice is not None
        if advice.delta_mm is None:
            break
        bench.bend(advice.delta_mm)
        bench.sweep(10)
        bench.tuning.report_change("arm", advice.delta_mm)
        shown = bench.sweep(10)
        assert not missing_words(shown.checked, "predicted", "got", "MHz")
        assert shown.step.startswith("the arm ")
        advice = shown.advice
    assert advice is not None
    assert advice.kind == "good"


def test_the_advice_stays_still_while_only_noise_changes() -> None:
    bench = Bench()
    bench.sweep(10)
    texts = {shown.advice.text for _ in range(100) if (shown := bench.sweep()).advice}
    assert len(texts) == 1


def test_the_best_state_is_kept_by_itself_with_what_was_done_since() -> None:
    bench = Bench()
    bench.sweep(10)
    bench.bend(4.0)
    best = bench.sweep(10).best
    assert best is not None
    assert best.since == ()
    bench.tuning.report_change("arm", -3.0, beforehand=True)
    bench.bend(-3.0)
    worse = bench.sweep(10).best
    assert worse is not None
    assert worse.worst_db == pytest.approx(best.worst_db, abs=0.1)
    assert worse.since == ("the arm −3 mm",)


def test_the_margin_s_history_is_kept_for_some_minutes_and_no_longer() -> None:
    bench = Bench()
    history = bench.sweep(200).history
    assert history.shape == (40, 2)
    assert np.diff(history[:, 0]).min() > 0.4
    assert bench.tuning._history.maxlen == 1200


def test_a_load_on_the_port_is_no_best_and_the_dips_are_counted_anew() -> None:
    bench = Bench()
    bench.sweep(10)
    bench.present = False
    shown = bench.sweep(10)
    assert shown.dips == ()
    assert shown.best is not None
    assert shown.best.worst_db < 0
    bench.present = True
    assert [each.number for each in bench.sweep(10).dips] == [1]


def test_what_was_learned_serves_the_next_antenna_and_a_damaged_file_does_no_harm(
    tmp_path: Path,
) -> None:
    bench = Bench(tmp_path)
    bench.sweep(10)
    bench.bend(3.0)
    bench.sweep(10)
    bench.tuning.report_change("arm", 3.0)
    (path,) = tmp_path.iterdir()
    assert json.loads(path.read_text())["recipe"] == "one arm"
    assert Bench(tmp_path).learned() == pytest.approx(bench.learned())
    for damage in ("", "{", '{"what": "learned dimensions", "version": 2}', "[1]"):
        path.write_text(damage)
        assert Bench(tmp_path).learned() == pytest.approx(1.0)
    blocked = tmp_path / "file"
    blocked.write_text("")
    learned_effects.keep(blocked / "below", RECIPE, {})


@pytest.mark.parametrize("millimetres", [0.0, float("nan"), 5000.0])
def test_a_bend_of_no_sense_is_refused(millimetres: float) -> None:
    bench = Bench()
    bench.sweep(10)
    with pytest.raises(NotNowError, match="by how many millimetres"):
        bench.tuning.report_change("arm", millimetres)
    with pytest.raises(RecipeError, match="has no tail"):
        bench.tuning.report_change("tail", 1.0)
