"""The tour: the whole job on the virtual bench, told in the terminal.

It goes through the same code as a real bench: the analyzer is asked over its wire, calibrated with
the guided session, and what is decided is decided from what the analyzer sent. Only the hand that
screws and bends is simulated, and so is the time, which costs nothing. All data is invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from rich.console import Console

from acceptance.bands.load import load_bands
from acceptance.errors import RecordError
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import parse_recipe
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Condition
from acceptance.record.check_after_sweep import StandardCheck
from acceptance.record.checksums import CHECKSUMS
from acceptance.tuning.advice import how_right
from acceptance.tuning.dimension_effect import DimensionEffects, pairs_of
from acceptance.tuning.dip_tracking import DipTracker
from acceptance.tuning.shifted_curve import Curve, curve_of
from acceptance.tuning.trim_advice import advise
from acceptance.verdict.judged_sweep import JudgedReading, judged_sweep
from acceptance.verdict.plan_verdict import Verdict
from acceptance.version import software
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.coverage.spans import continuous_spans
from acquire.coverage.sweep_coverage import Coverage
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from calibration.capture.guided_captures import Step
from calibration.files.store import load_kit, save_calibration
from calibration.guided.calibration_session import CalibrationSession
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.put_back import asked, standards_to_put_back
from calibration.verification.reading_budget import ReadingBudget
from dashboard.acceptance_run.running_acceptance import (
    PUT_BACK_PATIENCE,
    PUT_BACK_SWEEPS,
    AntennaDetails,
    RunningAcceptance,
)
from dashboard.demo import scenario
from dashboard.sweeping.agreeing_sweeps import agreeing_sweeps
from dashboard.sweeping.connection import connected
from dashboard.sweeping.sweep_margins import target_with_margins
from dashboard.sweeping.sweep_plan import coverage_for
from dashboard.terminal.acceptance_guide import BenchPutsBack
from dashboard.terminal.calibration_guide import INDENT, guide, spoken
from dashboard.terminal.output import say, show_verdict
from replay.clock import AcceleratedClock
from replay.virtual_bench.simulated_bench import VirtualBench

ADDRESS = "virtual:prompted"
MOST_BENDS = 20


class ForgetfulHand:
    """Screws the standards on, and once leaves the one before on the port."""

    attended = False

    def __init__(self, bench: VirtualBench, forgets: str, console: Console) -> None:
        self._bench = bench
        self._forgets: str | None = forgets
        self._console = console

    def put_on(self, step: Step) -> str:
        """Put the standard on, or forget to."""
        if step.standard == self._forgets:
            self._forgets = None
            words = f"(The hand forgets: the {spoken(self._bench.on_port)} is still on.)"
        else:
            self._bench.screw_on(step.standard)
            words = f"(The virtual bench screws its {spoken(step.standard)} on.)"
        say(words, style="dim", indent=INDENT, console=self._console)
        return ""


class Tour:
    """One antenna from the box to its record."""

    def __init__(self, folder: Path, console: Console) -> None:
        """folder : where calibration and record are left; made if it is not there."""
        self._folder = folder
        self._console = console
        self._clock = AcceleratedClock()
        self._bench = VirtualBench(self._clock, antenna=scenario.ANTENNA)
        self._reading_budget = ReadingBudget(Assumptions())
        self._plan = parse_plan(scenario.PLAN, scenario.PLAN_NAME, load_bands(), load_presets())
        self._recipe = parse_recipe(scenario.RECIPE, scenario.RECIPE_NAME)

    def run(self) -> Verdict:
        """Do the whole job and return the verdict that was recorded.

        Raises OSError or BandwrightError where the folder cannot be written to.
        """
        self._folder.mkdir(parents=True, exist_ok=True)
        self._say(
            f"The whole job on the virtual bench: the antenna {scenario.ANTENNA} of the "
            "river-watch group's flood gauges, from the box to its record. Analyzer, standards and "
            "antenna are simulated, and all data is invented; the program is the one you would use."
        )
        with connected(
            ADDRESS, profile=None, record=None, bench=self._bench, clock=self._clock
        ) as analyzer:
            coverage = self._find(analyzer)
            calibration = self._calibrate(analyzer, coverage)

            def measured() -> Averaged:
                return agreeing_sweeps(lambda: analyzer.sweep(coverage.passes), self._plan.sweeps)

            self._tune(measured, calibration)
            record = self._accept(measured, calibration, lambda: analyzer.sweep(coverage.passes))
        return self._check_again(record)

    def _find(self, analyzer: Analyzer) -> Coverage:
        self._chapter("1. The analyzer")
        self._bench_note(
            "plug the analyzer in, `bandwright ports` lists where it is, and --port names it. "
            "Disconnect the modem: nothing that transmits and no DC on the analyzer's port."
        )
        self._say(f"{ADDRESS} answers: {analyzer.identity}")
        limits = analyzer.profile.limits
        self._say(
            f"Profile {analyzer.profile.name}: {limits.words}, at most "
            f"{limits.points} points a pass."
        )
        coverage = coverage_for(target_with_margins(self._plan, limits), analyzer.profile, None)
        self._say(
            f'The plan "{self._plan.name}" wants {len(self._plan.targets)} ranges: '
            f"{coverage.words}, a little around them included: a dip on its way is seen there."
        )
        return coverage

    def _calibrate(self, analyzer: Analyzer, coverage: Coverage) -> Calibration:
        self._chapter("2. Calibrate")
        self._bench_note("screw each standard on, let go of the cable, and press Enter.")
        kit = load_kit(self._bench.kit_name)
        session = CalibrationSession(
            replace(kit, load_return_loss_db=self._bench.load_return_loss_db),
            coverage.passes,
            continuous_spans(coverage.passes, analyzer.profile.limits.range_steps_hz),
        )
        hand = ForgetfulHand(self._bench, "short", self._console)
        guide(session, lambda: analyzer.sweep(coverage.passes), hand, self._console)
        calibration = session.finish(self._clock.now(), software())
        save_calibration(calibration, self._calibration_path)
        for warning in calibration.warnings:
            self._say(warning)
        self._say(f"The calibration is kept in {self._calibration_path}.")
        return calibration

    def _tune(self, measured: Callable[[], Averaged], calibration: Calibration) -> None:
        self._chapter("3. The antenna as delivered")
        self._bench_note("screw the antenna on and look: `bandwright live` shows it all the while.")
        self._bench.screw_on("antenna")
        judged = self._judge(calibration, measured())
        show_verdict(judged.decided, console=self._console)
        self._chapter("4. Bend until every band passes")
        self._bench_note(
            "bend as the advice says, tell the page what you did, and look again: it learns what "
            "each dimension does. The virtual hand does just what it is told."
        )
        effects, tracker = DimensionEffects(self._recipe), DipTracker()
        curve = self._curve(judged, tracker)
        for number in range(1, MOST_BENDS + 1):
            advice = advise(curve, effects)
            if advice.dimension is None or advice.delta_mm is None:
                self._say(advice.text)
                break
            delta_mm = round(advice.delta_mm, 1)
            self._bench.bend(advice.dimension, delta_mm)
            before, judged = curve, self._judge(calibration, measured())
            curve = self._curve(judged, tracker)
            effects.learn(advice.dimension, delta_mm, pairs_of(before.dips, curve.dips))
            meant = [each for each in advice.expected if each.number == advice.target_dip]
            checked = how_right(meant, curve.dips)
            self._say(f"Bend {number}. {advice.text}{' Then: ' + checked + '.' if checked else ''}")
        bands = judged.decided.bands
        passing = sum(band.state == "pass" for band in bands)
        self._say(f"{passing} of {len(bands)} ranges pass.")

    def _curve(self, judged: JudgedReading[Sweep], tracker: DipTracker) -> Curve:
        at_feed = self._recipe.feed_at_connector
        return curve_of(judged, tracker, self._plan.targets, at_feed=at_feed)

    def _accept(
        self,
        measured: Callable[[], Averaged],
        calibration: Calibration,
        sweep: Callable[[], Sweep],
    ) -> Path:
        self._chapter("5. Accept")
        self._bench_note("box it up, seal it, screw it on once more, and accept it.")
        self._bench.screw_on("antenna")
        running = RunningAcceptance(self._folder)
        details = AntennaDetails(
            scenario.ANTENNA,
            scenario.OPERATOR,
            "the tour; invented data",
            self._recipe,
            self._bench.state().dimensions_mm,
        )
        assumptions = self._reading_budget.assumptions
        for name in self._plan.conditions:
            examined = running.keep(
                Condition(name, measured().of),
                details,
                plan=self._plan,
                calibration=calibration,
                assumptions=assumptions,
                at=self._clock.now().astimezone(),
            )
            show_verdict(examined.conditions[-1].verdict, console=self._console)
        self._put_back(running, calibration, sweep)
        signed = running.sign_off(
            details,
            calibration=calibration,
            assumptions=assumptions,
            at=self._clock.now().astimezone(),
        )
        written = signed.path
        files = sorted(
            each.relative_to(written).as_posix() for each in written.rglob("*.*") if each.is_file()
        )
        self._say(f"The record is in {written}: {', '.join(files)}, {CHECKSUMS}.")
        if signed.remark:
            self._say(signed.remark)
        return written

    def _put_back(
        self, running: RunningAcceptance, calibration: Calibration, sweep: Callable[[], Sweep]
    ) -> None:
        """See that the calibration still held while the antenna was swept."""
        self._say(f"After the sweep. {asked(calibration)}")
        BenchPutsBack(self._bench, self._console)(standards_to_put_back(calibration)[0])
        self._say(
            running.put_back(
                StandardCheck(agreeing_sweeps(sweep, PUT_BACK_SWEEPS, PUT_BACK_PATIENCE).of)
            ).words
        )

    def _check_again(self, record: Path) -> Verdict:
        """Read the record back as someone else would, and come to the verdict again."""
        self._chapter("6. Someone else checks the record")
        self._bench_note(f"bandwright recheck {record}")
        found = recheck_folder(record, self._clock.now())
        for line in found.lines:
            self._say(line)
        if found.examined is None or not found.holds:
            raise RecordError("The tour's own record does not hold. Please report this.")
        self._console.print()
        self._say("Next: `bandwright demo` shows the same on the page, with your own hand to bend.")
        return found.examined.deciding[-1].verdict

    def _judge(self, calibration: Calibration, raw: Averaged) -> JudgedReading[Sweep]:
        return judged_sweep(raw, calibration, self._reading_budget, plan=self._plan)

    @property
    def _calibration_path(self) -> Path:
        return self._folder / "calibration.json"

    def _chapter(self, title: str) -> None:
        self._console.print()
        say(title, style="bold", console=self._console)

    def _say(self, text: str) -> None:
        say(text, console=self._console)

    def _bench_note(self, text: str) -> None:
        say(f"On your bench: {text}", style="italic", console=self._console)
