"""The tour: the whole job on the virtual bench, told in the terminal.

It goes through the same code as a real bench: the unit is asked over its wire, calibrated with
the guided session, and what is decided is decided from what the unit sent. Only the hand that
screws and bends is simulated, and so is the time, which costs nothing. All data is invented.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
from rich.console import Console

from acceptance.plan import parse_plan
from acceptance.record import compose_record
from acceptance.store import load_bands, load_plan, load_presets, software, write_record
from acceptance.verdict import Verdict, judge
from acquire.analyzer import Analyzer
from acquire.coverage import Coverage, continuous_spans
from acquire.sweep import Plane, Source, Sweep
from acquire.touchstone import parse_touchstone
from calibration.budget import Assumptions
from calibration.calibrated import Calibration
from calibration.contributions import budget_of
from calibration.interpolation import terms_at
from calibration.one_port import correct
from calibration.session import CalibrationSession, Step
from calibration.store import calibration_text, load_calibration, load_kit, save_calibration
from calibration.trust import Trust
from calibration.uncertainty import interval
from dashboard import scenario
from dashboard.bending import Bender, worst_band
from dashboard.guided import INDENT, guide, spoken
from dashboard.terminal import band_title, megahertz, say, show_verdict
from dashboard.unit import Wanted, connected, coverage_for, steady_sweep
from replay.clock import AcceleratedClock
from replay.virtual_bench import VirtualBench

ADDRESS = "virtual:prompted"
MOST_BENDS = 20
ARMS = {"arm_a_mm": "long arm", "arm_b_mm": "short arm"}


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
        self._bench = VirtualBench(self._clock, antenna=scenario.UNIT)
        self._trust = Trust(Assumptions())
        self._plan = parse_plan(scenario.PLAN, scenario.PLAN_NAME, load_bands(), load_presets())

    def run(self) -> Verdict:
        """Do the whole job and return the verdict that was recorded.

        Raises OSError or BandwrightError where the folder cannot be written to.
        """
        self._folder.mkdir(parents=True, exist_ok=True)
        self._say(
            f"The whole job on the virtual bench: the antenna {scenario.UNIT} of the river-watch "
            "group's flood gauges, from the box to its record. Unit, standards and antenna are "
            "simulated, and all data is invented; the program is the one you would use."
        )
        with connected(
            ADDRESS, profile=None, record=None, bench=self._bench, clock=self._clock
        ) as unit:
            coverage = self._find(unit)
            calibration = self._calibrate(unit, coverage)

            def measured() -> Sweep:
                return steady_sweep(lambda: unit.sweep(coverage.passes))

            self._tune(measured, calibration)
            record = self._accept(measured, calibration)
        return self._check_again(record)

    def _find(self, unit: Analyzer) -> Coverage:
        self._chapter("1. The unit")
        self._bench_note(
            "plug the unit in, `bandwright ports` lists where it is, and --port names it. "
            "Disconnect the modem: nothing that transmits and no DC on the unit's port."
        )
        self._say(f"{ADDRESS} answers: {unit.identity}")
        limits = unit.profile.limits
        self._say(
            f"Profile {unit.profile.name}: {limits.words}, at most {limits.points} points a pass."
        )
        want = Wanted(self._plan.spans, self._plan.margin, self._plan)
        coverage = coverage_for(want, unit.profile, None)
        self._say(
            f'The plan "{self._plan.name}" wants {len(self._plan.targets)} ranges: '
            f"{coverage.words}."
        )
        return coverage

    def _calibrate(self, unit: Analyzer, coverage: Coverage) -> Calibration:
        self._chapter("2. Calibrate")
        self._bench_note("screw each standard on, let go of the cable, and press Enter.")
        kit = load_kit(self._bench.kit_name)
        session = CalibrationSession(
            replace(kit, load_return_loss_db=self._bench.load_return_loss_db),
            coverage.passes,
            continuous_spans(coverage.passes, unit.profile.limits.range_steps_hz),
        )
        hand = ForgetfulHand(self._bench, "short", self._console)
        guide(session, lambda: unit.sweep(coverage.passes), hand, self._console)
        calibration = session.finish(self._clock.now(), software())
        save_calibration(calibration, self._calibration_path)
        for warning in calibration.warnings:
            self._say(warning)
        self._say(f"The calibration is kept in {self._calibration_path}.")
        return calibration

    def _tune(self, measured: Callable[[], Sweep], calibration: Calibration) -> None:
        self._chapter("3. The antenna as delivered")
        self._bench_note("screw the antenna on and look: `bandwright live` shows it all the while.")
        self._bench.screw_on("antenna")
        verdict = self._judged(calibration, calibration.correct(measured()))
        show_verdict(verdict, console=self._console)
        self._chapter("4. Bend until every band passes")
        self._bench_note(
            "bend a little, look, bend again. Where a band is worst at its lower edge the dip "
            "lies too high, and the arm wants to be longer; at its upper edge, shorter."
        )
        bender = Bender()
        for number in range(1, MOST_BENDS + 1):
            worst, bend = worst_band(verdict), bender.next_bend(verdict)
            if worst is None or bend is None:
                break
            arm, delta_mm = bend
            state = self._bench.bend(arm, delta_mm)
            verdict = self._judged(calibration, calibration.correct(measured()))
            passing = sum(band.state == "pass" for band in verdict.bands)
            self._say(
                f"Bend {number}. {band_title(worst)} is worst at "
                f"{megahertz(worst.worst_frequency_hz)} MHz: the {ARMS[arm]} "
                f"{abs(delta_mm):g} mm {'longer' if delta_mm > 0 else 'shorter'}, now "
                f"{state.dimensions_mm[arm]:g} mm. {passing} of {len(verdict.bands)} ranges pass."
            )

    def _accept(self, measured: Callable[[], Sweep], calibration: Calibration) -> Path:
        self._chapter("5. Accept")
        self._bench_note("box it up, seal it, screw it on once more, and accept it.")
        self._bench.screw_on("antenna")
        raw = measured()
        corrected = calibration.correct(raw)
        verdict = self._judged(calibration, corrected)
        show_verdict(verdict, console=self._console)
        record = compose_record(
            unit=scenario.UNIT,
            operator=scenario.OPERATOR,
            note="the tour; invented data",
            accepted_at=self._clock.now(),
            raw=raw,
            corrected=corrected,
            calibration=calibration_text(calibration),
            plan=self._plan,
            verdict=verdict,
            assumptions=self._trust.assumptions,
            software=software(),
        )
        written = write_record(record, self._folder)
        self._say(f"The record is in {written}: {', '.join(sorted(record.files))}.")
        return written

    def _check_again(self, record: Path) -> Verdict:
        """Read the record back as someone else would, and come to the verdict again."""
        self._chapter("6. Someone else checks the record")
        self._bench_note(
            f"bandwright check {record / 'corrected.s1p'} --plan {record / 'plan.toml'}"
        )
        calibration = load_calibration(record / "calibration.json")
        raw, corrected = (
            parse_touchstone((record / name).read_bytes(), name).reading
            for name in ("raw.s1p", "corrected.s1p")
        )
        again = correct(
            terms_at(calibration.terms, raw.frequency_hz, calibration.spans), raw.reflection
        )
        difference = float(np.abs(again - corrected.reflection).max())
        agreement = "exactly" if difference == 0 else f"within {difference:.0e}"
        self._say(
            "The raw readings, corrected anew with the calibration in the record, give the "
            f"corrected ones {agreement}."
        )
        source = Source("file", "corrected.s1p", "", str(record / "corrected.s1p"))
        told = json.loads((record / "verdict.json").read_text(encoding="utf-8"))
        taken_at = datetime.fromisoformat(told["taken_at"])
        budget = budget_of(
            calibration,
            Assumptions(**told["assumptions"]),
            age_s=(taken_at - calibration.taken_at).total_seconds(),
            frequency_hz=corrected.frequency_hz,
        )
        verdict = judge(
            load_plan(record / "plan.toml"),
            corrected,
            Plane.CONNECTOR,
            source,
            trust=interval(budget, corrected.reflection),
        )
        self._say(f"The verdict from the record alone: {verdict.words}.")
        self._console.print()
        self._say("Next: `bandwright demo` shows the same on the page, with your own hand to bend.")
        return verdict

    def _judged(self, calibration: Calibration, corrected: Sweep) -> Verdict:
        trust = self._trust.interval(calibration, corrected, corrected.taken_at)
        return judge(self._plan, corrected, trust=trust)

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
