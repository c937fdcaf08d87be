"""The reference plane of what is shown: where it was declared to be, and what moving it did."""

from __future__ import annotations

from typing import Literal

from acceptance.cable.verdict_through_cable import Wanted, check_cable
from acceptance.plan.acceptance_plan import Plan
from acceptance.record.acceptance_record import touchstone_of
from acceptance.verdict.judged_sweep import CorrectedReading, JudgedReading
from acceptance.version import software
from acquire.sweep import Sweep
from calibration.cable.measured_line import MeasuredLine
from calibration.error_terms.interpolation import same_grid
from calibration.errors import CalibrationError
from calibration.files.plane_file import NOT_MOVED, PlaneText, plane_text
from calibration.files.store import plane_again
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import CONNECTOR, ReferencePlane
from calibration.uncertainty.budget import Budget
from dashboard.bench.engine import Engine
from dashboard.bench.parts.calibration import BenchCalibration
from dashboard.bench.parts.passes import BenchPasses
from dashboard.bench.parts.recent_sweeps import RecentSweeps
from dashboard.bench.parts.touch_test import BenchTouchTest
from dashboard.bench.parts.tuning import Tuning
from dashboard.bench.snapshot import PlaneState
from dashboard.bench.steady_reading import sweep_at_rest
from dashboard.errors import NotNowError

EndedBy = Literal["bare", "kit"]


class BenchPlane:
    """Moves corrected readings to the declared plane.

    What a person does takes the engine's lock itself and may be called from any thread; all else
    is called by the bench's other parts under it.
    """

    def __init__(
        self,
        engine: Engine,
        *,
        passes: BenchPasses,
        recent: RecentSweeps,
        calibration: BenchCalibration,
        tuning: Tuning,
        touch_test: BenchTouchTest,
        declared: PlaneText = NOT_MOVED,
    ) -> None:
        """declared : what lies between connector and feed, if anything."""
        self.declared = declared
        """As it was declared last; looked at under the lock."""
        self._engine = engine
        self._passes = passes
        self._recent = recent
        self._calibration = calibration
        self._tuning = tuning
        self._touch_test = touch_test
        self._for: Calibration | None = None
        self._plane: ReferencePlane = CONNECTOR
        self._effect = self._problem = ""
        self._ends: dict[str, Sweep] = {}
        self._ends_by = ""
        self._cable: tuple[str, ...] = ()

    # ------------------------------------------------------ what a person does

    def use(self, declared: PlaneText) -> None:
        """Judge at another plane from now on. Raises PlaneError; the one before it stays then."""
        with self._engine.changing():
            self._use(declared, self._calibration.held)
            self._judge_anew()

    def take_end(self, name: str) -> str:
        """Take what rests from now on as a pigtail with its far end "open" or "short", in words.

        Raises NotNowError where nothing is calibrated, or the reading keeps moving.
        """
        with self._engine.locked():
            self._held_calibration()
        with self._recent.whole_alone():
            raw = sweep_at_rest(self._engine.snapshot(), self._engine.after)
        with self._engine.changing():
            calibration = self._held_calibration()
            self._keep_end(name, calibration.correct(raw), calibration)
            return f"Taken: the pigtail with its end {'open' if name == 'open' else 'shorted'}."

    def use_ends(self, ended_by: EndedBy) -> str:
        """Judge at the far end of the pigtail whose ends were taken, in words.

        ended_by : "bare", an end left open or shorted by hand, or "kit", the kit's open and short.
        Raises NotNowError where none was, PlaneError where they do not tell it.
        """
        with self._engine.changing():
            calibration = self._held_calibration()
            self._use(self._measured_pigtail(calibration, ended_by), calibration)
            whole = self._recent.whole
            if whole is not None:
                corrected = calibration.correct(whole.sweep)
                reading_budget, swept = self._calibration.reading_budget, self._recent.swept
                self._check_cable(reading_budget.budget(calibration, corrected, swept=swept))
            self._judge_anew()
            return f"Verdicts now apply {self._plane.words}."

    # ----------------------------------------------------------- under the lock

    @property
    def plane(self) -> ReferencePlane:
        """Where readings are moved to; under the lock."""
        return self._plane

    @property
    def state(self) -> PlaneState:
        """How it stands; under the lock."""
        return PlaneState(
            self._plane.words,
            bool(self.declared.toml),
            self._effect,
            self._problem,
            tuple(sorted(self._ends)),
            self._cable,
        )

    def judged(
        self, corrected: CorrectedReading[Sweep], plan: Plan | None, calibration: Calibration
    ) -> JudgedReading[Sweep] | None:
        """A corrected reading judged there; None where it cannot be moved there; under the lock."""
        try:
            if self._for is not calibration:
                self._use(self.declared, calibration)
            found = corrected.judged(self._plane, plan)
        except CalibrationError as error:
            self._problem, self._effect = str(error), ""
            return None
        self.rest()
        self._effect = "" if found.de_embedding is None else found.de_embedding.sentence
        return found

    def rest(self) -> None:
        """There is nothing to move, so nothing stands against it; under the lock."""
        self._problem = ""

    def _judge_anew(self) -> None:
        """Margins of two planes are not compared."""
        self._tuning.begin_anew()
        self._touch_test.drop()

    def _held_calibration(self) -> Calibration:
        """The one that holds. Raises NotNowError while there is none."""
        held = self._calibration.held
        if held is None or self._calibration.guided is not None:
            raise NotNowError("A pigtail's ends need a calibration first.")
        return held

    def _use(self, declared: PlaneText, calibration: Calibration | None) -> None:
        self._plane = plane_again(declared, calibration)
        self.declared, self._for = declared, calibration
        self._effect = self._problem = ""
        self._cable = ()

    def _keep_end(self, name: str, corrected: Sweep, calibration: Calibration) -> None:
        """A pigtail was swept with its end open, or shorted.

        corrected : at the connector, by that calibration. What was taken by another calibration, or
        on another grid, goes: two ends tell one cable only together.
        """
        if self._ends_by != calibration.made:
            self._ends, self._ends_by = {}, calibration.made
        kept = {
            each: sweep
            for each, sweep in self._ends.items()
            if same_grid(sweep.frequency_hz, corrected.frequency_hz)
        }
        self._ends = {**kept, name: corrected}

    def _measured_pigtail(self, calibration: Calibration, ended_by: EndedBy) -> PlaneText:
        """What the ends declare. Raises NotNowError where none was swept."""
        if not self._ends or self._ends_by != calibration.made:
            raise NotNowError(
                "The pigtail has not been measured yet. Leave its far end open and measure it. "
                "Then short that end and measure it again."
            )
        table = {
            **{name: f"{name}.s1p" for name in self._ends},
            "ended_by": ended_by,
            "calibration": calibration.made,
        }
        files = {
            f"{name}.s1p": touchstone_of(sweep, "", software())
            for name, sweep in self._ends.items()
        }
        return plane_text(table, files.__getitem__)

    def _check_cable(self, budget: Budget) -> None:
        """Say what the measured pigtail does to verdicts; nothing of one that was not measured.

        budget : of readings at the connector.
        """
        line, plan = self._plane.between, self._passes.plan
        if isinstance(line, MeasuredLine):
            wanted = () if plan is None else Wanted.of_plan(plan)
            found = check_cable(line, budget, wanted)
            bands = sorted(found.bands, key=lambda each: each.floor_far_db - each.wanted.limit_db)
            worst = [f"{each.wanted.name}: {each.words}" for each in bands[:1]]
            self._cable = (*found.sentences, *worst)
