"""The bench's calibration: the one that holds, and the one in progress."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from acceptance.verdict.judged_sweep import CorrectedReading, corrected_sweep
from acceptance.version import software
from acquire.coverage.spans import continuous_spans
from acquire.errors import BandwrightError
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from calibration.capture.guided_captures import Captures, Guided
from calibration.files.store import save_calibration
from calibration.guided.calibration_session import CalibrationSession
from calibration.guided.verification_session import Check, Outcome, captures_for, concluded, outcome
from calibration.one_port_calibration import Calibration
from calibration.standards.kit import Kit
from calibration.standards.stated_load import require_stated_load
from calibration.uncertainty.budget import Assumptions
from calibration.verification.reading_budget import ReadingBudget
from calibration.verification.verified_budget import EvidenceResults, evidence_results
from dashboard.bench import calibration_folder
from dashboard.bench.capture_words import kit_words, sweeps_a_standard, sweeps_words
from dashboard.bench.engine import Engine
from dashboard.bench.parts.passes import BenchPasses
from dashboard.bench.snapshot import CalibrationState
from dashboard.errors import NotNowError
from dashboard.files.calibration_history import past_calibrations, remember
from dashboard.files.named_cable import cable_name

NEEDED = "Calibrate with open, short and load: raw readings carry the analyzer's own errors."

NO_KIT = (
    "Say first what your standards are: an open is never quite open, and each kit says how far."
)


@dataclass(frozen=True, slots=True, eq=False)
class Equipment:
    """What a calibration is made with, and the one that holds."""

    kit: Kit | None
    assumptions: Assumptions
    held: Calibration | None
    path: Path | None
    folder: Path
    """Where new ones are kept."""
    cable: str = ""
    """The test cable in use, by its name."""


class BenchCalibration:
    """What raw sweeps are corrected with, and how far that can be trusted.

    What a person does takes the engine's lock itself and may be called from any thread; all else
    is called by the bench's other parts under it, and says so.
    """

    def __init__(
        self,
        engine: Engine,
        passes: BenchPasses,
        kit: Kit | None,
        held: Calibration | None,
        path: Path | None,
        *,
        cable: str = "",
        folder: Path,
        assumptions: Assumptions,
    ) -> None:
        """Begin with a calibration made before, kept at `path`; or with none.

        cable : the test cable in use, by its name; empty takes the calibration's.
        folder : where new ones are kept. assumptions : by which checks are judged.
        """
        self.reading_budget = ReadingBudget(assumptions)
        """Works out intervals; asked under the lock."""
        self._engine = engine
        self._passes = passes
        self._kit = kit
        self._cable = cable or ("" if held is None else held.cable)
        self._hold(held)
        self._path = path
        self._folder = folder
        self._session: CalibrationSession | None = None
        self._captures: Captures | None = None
        self._check: Check | None = None
        self._outcome: Outcome | None = None
        self._problem = ""
        self._findings = ""
        """What the calibration made here was compared with; empty for one that was loaded."""

    # ------------------------------------------------------ what a person does

    def use_kit(self, kit: Kit) -> None:
        """Take other standards next time. Raises NotNowError while a calibration runs."""
        with self._engine.changing():
            if self.guided is not None:
                raise NotNowError(
                    "Cancel the calibration first: the kit cannot change while it runs."
                )
            self._kit = kit

    def name_cable(self, name: str) -> None:
        """The person says which test cable is in use; the next calibration belongs to it.

        Raises SetupError for a name that cannot be kept, NotNowError while a calibration runs.
        """
        cable = cable_name(name)
        with self._engine.changing():
            if self.guided is not None:
                raise NotNowError(
                    "The cable cannot be changed while a calibration runs. Finish or cancel it."
                )
            self._cable = cable

    def state_load(self, return_loss_db: float | None, source: str = "") -> None:
        """The person says what the load's maker states, dB; None: nothing is stated.

        source : where the figure is from. The next calibration states the load so. Raises
        CalibrationError where no load can be stated so.
        """
        require_stated_load(return_loss_db, source)
        with self._engine.changing():
            self.reading_budget = ReadingBudget(
                replace(self.assumptions, load_db=return_loss_db, load_source=source)
            )
            self._hold(self._held)

    def begin(self) -> None:
        """Start a guided calibration over all that is wanted.

        Raises NotNowError while the analyzer's limits are not known or no kit is chosen,
        CalibrationError where the kit does not describe its standards at these frequencies.
        """
        with self._engine.changing():
            limits, coverage = self._passes.limits, self._passes.to_calibrate
            if limits is None or coverage is None:
                raise NotNowError(
                    "There is nothing to calibrate before the analyzer has answered. Connect it "
                    "first."
                )
            kit = self._kit
            if kit is None:
                raise NotNowError(NO_KIT)
            self._drop()
            if self.assumptions.load_db is not None:
                kit = replace(
                    kit,
                    load_return_loss_db=self.assumptions.load_db,
                    load_source=self.assumptions.load_source,
                )
            passes = coverage.passes
            spans = continuous_spans(passes, limits.range_steps_hz)
            self._session = CalibrationSession(
                kit,
                passes,
                spans,
                wanted_sweeps=sweeps_a_standard(coverage.seconds),
                past=self._past(),
                cable=self._cable,
                assumptions=self.assumptions,
            )

    def begin_check(self, check: Check) -> None:
        """Start a guided check of the calibration, over the passes it was made with.

        Raises NotNowError where there is none, or another thing is in progress;
        CalibrationError where it cannot be checked so.
        """
        with self._engine.changing():
            if self.guided is not None:
                raise NotNowError("Something is being captured already. Finish it, or leave it.")
            if self._held is None:
                raise NotNowError("There is no calibration to check yet. Calibrate first.")
            coverage = self._passes.to_calibrate
            seconds = 0.0 if coverage is None else coverage.seconds
            wanted = sweeps_a_standard(seconds)
            self._captures = captures_for(self._held, check, wanted_sweeps=wanted)
            self._check, self._outcome = check, None
            self._passes.work_out(self._held)

    def standard_is_on(self) -> None:
        """The person says that the standard asked for is on: capture it.

        Raises NotNowError where none is asked for, or while no sweeps come in.
        """
        with self._engine.changing():
            if self._engine.port().phase == "lost":
                raise NotNowError(
                    "The analyzer is not there, so nothing can be captured. Plug it in, then press "
                    "again."
                )
            self._in_progress().begin()

    def redo(self, standard: str) -> None:
        """Measure one standard of the running calibration again.

        Raises NotNowError where none runs, CalibrationError where it has no such standard.
        """
        with self._engine.changing():
            self._in_progress().redo(standard)

    def skip(self) -> None:
        """Leave out the standard that is asked for once more.

        Raises NotNowError where nothing runs, CalibrationError where it cannot be left out.
        """
        with self._engine.changing():
            self._in_progress().skip()

    def use(self, calibration: Calibration, path: Path) -> None:
        """Correct by a calibration made before, kept at `path`.

        Raises NotNowError while another is being made. Whether it fits the analyzer is told with
        its sweeps.
        """
        with self._engine.changing():
            if self.guided is not None:
                raise NotNowError("A calibration is in progress. Finish or cancel it first.")
            self._problem = self._findings = ""
            self._outcome, self._path = None, path
            self._cable = calibration.cable or self._cable
            self._hold(calibration)
            self._passes.begin_with(calibration)

    def leave(self) -> None:
        """Leave what is in progress; the calibration before it, if any, holds again."""
        with self._engine.changing():
            self._drop()
            self._passes.work_out(self._held)

    @property
    def folder(self) -> Path:
        """Where calibrations are kept."""
        return self._folder

    # ----------------------------------------------------------- under the lock

    @property
    def equipment(self) -> Equipment:
        """What belongs to the analyzer and its standards, and is changed with its port."""
        return Equipment(
            self._kit, self.assumptions, self._held, self._path, self._folder, self._cable
        )

    def equip(self, equipment: Equipment) -> None:
        """Go on with other equipment; nothing may be in progress."""
        self._kit, self._folder = equipment.kit, equipment.folder
        self._cable = equipment.cable
        self.reading_budget = ReadingBudget(equipment.assumptions)
        self._hold(equipment.held)
        self._path, self._outcome = equipment.path, None
        self._problem = self._findings = ""

    @property
    def assumptions(self) -> Assumptions:
        """What is taken to be so where nothing was measured or stated."""
        return self.reading_budget.assumptions

    @property
    def guided(self) -> Guided | None:
        """The calibration or the check in progress; under the lock."""
        return self._session or self._captures

    @property
    def held(self) -> Calibration | None:
        """The one that holds, or will again once what is in progress is left; under the lock."""
        return self._held

    @property
    def made(self) -> str:
        """The name of the calibration that holds; empty where none does; under the lock."""
        return "" if self._held is None else self._held.made

    def analyzer_is_gone(self) -> None:
        """Stop what is being captured: another press says what is on once the analyzer is back.

        Under the lock.
        """
        if self.guided is not None:
            self.guided.stop_capture()

    def take(self, sweep: Sweep) -> bool:
        """Let a sweep count towards what is in progress; finish it with the last one.

        Returns True where something was finished. Under the lock.
        """
        guided = self.guided
        if guided is None or guided.add(sweep).phase != "complete":
            return False
        self._problem = ""
        try:
            if self._session is not None:
                made = self._session.finish(self._engine.clock.now(), software())
                self._hold(made)
                self._outcome = self._path = None
                self._findings = self._session.findings(made)
                self._path = calibration_folder.keep(made, self._folder)
                self._remember(made)
            else:
                self._conclude()
        except BandwrightError as error:  # what was made holds for now, and the person is told
            self._problem = str(error)
        self._drop()
        return True

    def corrected(
        self, averaged: Averaged | None, swept: int
    ) -> tuple[CorrectedReading[Sweep] | None, CalibrationState]:
        """A raw reading at the connector, where that can be had; and how things stand.

        swept : sweeps since the calibration, or since it was last checked. Under the lock.
        """
        held = self._held
        state = CalibrationState(
            "none",
            self._problem or NEEDED,
            "" if self._kit is None else self._kit.name,
            held,
            self._path,
            evidence_results=self._evidence_results,
            outcome=self._outcome,
            kit_words="" if self._kit is None else kit_words(self._kit),
            cable=self._cable,
        )
        guided, coverage = self.guided, self._passes.to_calibrate
        pace = "" if coverage is None else sweeps_words(coverage.seconds)
        state = replace(state, pace=pace)
        if guided is not None:
            session = guided.state
            return None, replace(
                state,
                phase="running",
                message=session.message,
                session=session,
                checking=self._check is not None,
            )
        if held is None:
            return None, state
        if self._cable and held.cable and self._cable != held.cable:
            other = (
                f'The calibration is of the test cable "{held.cable}", and "{self._cable}" is in '
                "use. Calibrate with it, or name the other one."
            )
            return None, replace(state, phase="misfit", message=other)
        try:
            corrected = (
                None
                if averaged is None
                else corrected_sweep(averaged, held, self.reading_budget, swept=swept)
            )
        except BandwrightError as error:
            return None, replace(state, phase="misfit", message=str(error))
        words = self._problem or calibration_folder.words(held, self._path)
        words = f"{words} {self._findings}".strip()
        return corrected, replace(state, phase="held", message=words)

    def _hold(self, calibration: Calibration | None) -> None:
        self._held = calibration
        self._evidence_results: EvidenceResults | None = (
            None if calibration is None else evidence_results(calibration, self.assumptions)
        )

    def _drop(self) -> None:
        self._session = self._captures = self._check = None

    def _conclude(self) -> None:
        """Add what a check captured to the calibration and its file."""
        before, check, captures = self._held, self._check, self._captures
        if before is None or check is None or captures is None:
            return
        now = self._engine.clock.now()
        after = concluded(before, check, captures.readings(), now)
        self._hold(after)
        spans = self._passes.spans
        self._outcome = outcome(before, after, check, self.assumptions, at=now, spans=spans)
        if self._path is not None:
            save_calibration(after, self._path)
        if before.doubts:  # with what settles them it speaks for the next ones
            self._remember(after)

    def _past(self) -> list[Calibration] | None:
        """What the next calibration is held against; nothing where nobody screws anything on."""
        port = self._engine.port()
        if port.address.startswith("replay:"):
            return None
        return past_calibrations(self._folder, port.analyzer)

    def _remember(self, calibration: Calibration) -> None:
        if calibration.source.kind != "replay":
            remember(calibration, self._folder)

    def _in_progress(self) -> Guided:
        if self.guided is None:
            raise NotNowError("No calibration is in progress. Start one first.")
        return self.guided
