"""The bench: an engine and the parts that work with it, for a page or anything else that shows it.

Each part has its own state, and commands named by what a person does: `bench.holds.undo()`. They
may come from any thread. Each one either changes something and shows the moment that follows, or
raises and changes nothing.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.recipe import NO_RECIPE, Recipe
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.clock import Clock
from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.one_port_calibration import Calibration
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions
from dashboard.acceptance_run.station_file import Station
from dashboard.bench.engine import Engine
from dashboard.bench.kept_calibrations import KeptCalibration, kept_calibrations
from dashboard.bench.moment import Parts
from dashboard.bench.parts.acceptance import BenchAcceptance
from dashboard.bench.parts.analyzer_port import BenchPort
from dashboard.bench.parts.calibration import BenchCalibration
from dashboard.bench.parts.check_piece import BenchCheckPiece
from dashboard.bench.parts.held_traces import HeldTraces
from dashboard.bench.parts.passes import BenchPasses
from dashboard.bench.parts.plane import BenchPlane
from dashboard.bench.parts.recent_sweeps import RecentSweeps
from dashboard.bench.parts.station import BenchStation
from dashboard.bench.parts.touch_test import BenchTouchTest
from dashboard.bench.parts.tuning import Tuning
from dashboard.bench.parts.virtual_hands import VirtualHands
from dashboard.bench.recent_files import RecentFiles
from dashboard.bench.snapshot import Snapshot
from dashboard.errors import NotNowError
from dashboard.files.bench_folders import BenchFolders
from dashboard.sweeping.analyzer_ports import AnalyzerPorts
from replay.virtual_bench.simulated_bench import VirtualBench


class Bench:
    """The parts put together. Every method may be called from any thread."""

    def __init__(
        self,
        connect_analyzer: Callable[[], Analyzer],
        *,
        address: str,
        kit: Kit | None,
        plan: Plan | None = None,
        calibration: Calibration | None = None,
        calibration_path: Path | None = None,
        cable: str = "",
        calibrations_folder: Path,
        records_folder: Path,
        clock: Clock | None = None,
        step_khz: float | None = None,
        assumptions: Assumptions | None = None,
        recipe: Recipe = NO_RECIPE,
        learned_folder: Path | None = None,
        check_pieces_folder: Path | None = None,
        virtual_bench: VirtualBench | None = None,
        plane: PlaneText = NOT_MOVED,
        stopping: threading.Event | None = None,
        ports: AnalyzerPorts | None = None,
        leave_analyzer: Callable[[], None] = lambda: None,
        recent_folder: Path | None = None,
        station: Station | None = None,
    ) -> None:
        """Prepare; nothing is opened before `start`.

        open_analyzer : meets the analyzer; called again, for ever, whenever it was lost.
        address : how the port is called to a person; empty where none is chosen yet.
        kit : the standards at hand; None until they are said.
        calibration : one made before, and where it is kept. cable : the test cable's name, if it
            has one.
        step_khz : widest spacing of points; None leaves it to the bands.
        assumptions : what is taken to be so where nothing was measured or stated.
        recipe : what can be changed on the antenna; learned_folder : where what its dimensions do
            is kept from antenna to antenna, None keeps nothing.
        check_pieces_folder : where readings of the check piece are kept; None keeps none.
        virtual_bench : what is on a virtual analyzer's port, where there is one to drive.
        plane : what lies between the connector and the antenna's feed, if that is to be undone.
        stopping : as a `Stream` takes it.
        ports : those to choose another one from; None where the port stays what it is.
        leave_analyzer : ends what is being said at the port, where another one is chosen.
        recent_folder : where what is used is remembered, to be offered again; None keeps nothing.
        station : what locks this bench to a station for helpers, if one does.
        """
        engine = Engine(connect_analyzer, address=address, clock=clock, stopping=stopping)
        self.engine = engine
        self.clock = engine.clock
        self.recent_files = RecentFiles(recent_folder, engine.clock)
        self.recent = RecentSweeps(plan)
        self.passes = BenchPasses(engine, self.recent, plan, step_khz, calibration)
        self.calibration = BenchCalibration(
            engine,
            self.passes,
            kit,
            calibration,
            calibration_path,
            cable=cable,
            folder=calibrations_folder,
            assumptions=Assumptions() if assumptions is None else assumptions,
        )
        self.holds = HeldTraces(engine)
        self.tuning = Tuning(engine, recipe, learned_folder)
        self.touch_test = BenchTouchTest(engine, self.tuning)
        self.plane = BenchPlane(
            engine,
            passes=self.passes,
            recent=self.recent,
            calibration=self.calibration,
            tuning=self.tuning,
            touch_test=self.touch_test,
            declared=plane,
        )
        self.check_piece = BenchCheckPiece(
            engine,
            recent=self.recent,
            calibration=self.calibration,
            folder=check_pieces_folder,
            virtual=virtual_bench,
        )
        self.acceptance = BenchAcceptance(
            engine,
            recent=self.recent,
            calibration=self.calibration,
            plane=self.plane,
            tuning=self.tuning,
            touch_test=self.touch_test,
            folder=records_folder,
            virtual=virtual_bench,
            check_piece=self.check_piece,
        )
        self.station = (
            None
            if station is None
            else BenchStation(
                engine,
                station,
                acceptance=self.acceptance,
                calibration=self.calibration,
                check_piece=self.check_piece,
                virtual=virtual_bench is not None,
            )
        )
        self.hands = VirtualHands(engine, self.tuning, virtual_bench)
        self.port = BenchPort(
            engine,
            ports,
            BenchFolders(calibrations_folder, records_folder, learned_folder, check_pieces_folder),
            leave_analyzer,
            recent=self.recent,
            passes=self.passes,
            calibration=self.calibration,
            tuning=self.tuning,
            touch_test=self.touch_test,
            check_piece=self.check_piece,
            acceptance=self.acceptance,
            hands=self.hands,
        )
        self._remember(plan, recipe, calibration_path)
        engine.work_for(
            Parts(
                engine,
                recent=self.recent,
                passes=self.passes,
                calibration=self.calibration,
                plane=self.plane,
                holds=self.holds,
                tuning=self.tuning,
                touch_test=self.touch_test,
                acceptance=self.acceptance,
                hands=self.hands,
                station=self.station,
            )
        )

    @property
    def virtual_bench(self) -> VirtualBench | None:
        """What is on a virtual analyzer's port now; None at a real one."""
        return self.hands.virtual

    @property
    def records_folder(self) -> Path:
        """Where records are kept now."""
        return self.port.folders.records

    def start(self) -> None:
        """Begin to sweep."""
        self.engine.start()

    def close(self) -> None:
        """Stop sweeping and let go of the port; closing twice does no harm."""
        self.engine.close()

    def snapshot(self) -> Snapshot:
        """Return the newest moment."""
        return self.engine.snapshot()

    def wait_for(
        self, condition: Callable[[Snapshot], bool], timeout_s: float | None = None
    ) -> Snapshot:
        """Wait until a moment meets a condition; real seconds. Raises TimeoutError."""
        return self.engine.wait_for(condition, timeout_s)

    def watch(self, stir: Callable[[], None]) -> Callable[[], None]:
        """Call `stir` after every new snapshot, from any thread; returns what ends that."""
        return self.engine.watch(stir)

    def use_plan(self, plan: Plan) -> None:
        """Judge by another plan from now on, and sweep what it needs.

        Raises NotNowError while a calibration runs: its standards must share their frequencies.
        """
        with self.engine.changing():
            if self.calibration.guided is not None:
                raise NotNowError(
                    "The bands cannot be changed while a calibration runs. Finish it, or leave it."
                )
            self.tuning.begin_anew()
            self.touch_test.forget()
            self.passes.use(plan, self.calibration.held)
        self._remember(plan)

    def use_recipe(self, recipe: Recipe) -> None:
        """Advise by another recipe from now on: the antenna is built otherwise."""
        with self.engine.changing():
            self.tuning.use(recipe)
        self._remember(recipe=recipe)

    def kept_calibrations(self) -> list[KeptCalibration]:
        """Calibrations of this analyzer made before, the newest first; reads files."""
        used = [Path(each.text) for each in self.recent_files.newest("calibration")]
        analyzer = self.snapshot().port.analyzer
        if not analyzer:
            return []
        return kept_calibrations(self.calibration.folder, used, analyzer, self.clock.now())

    def use_calibration(self, kept: KeptCalibration) -> None:
        """Correct by a calibration made before. Raises NotNowError while one is being made."""
        self.calibration.use(kept.calibration, kept.path)
        with self.engine.changing():
            self.recent.swept = 0
            self.touch_test.forget()
        self._remember(calibration=kept.path)

    def _remember(
        self, plan: Plan | None = None, recipe: Recipe = NO_RECIPE, calibration: Path | None = None
    ) -> None:
        """What is used will be offered again."""
        self.recent_files.used("plan", "" if plan is None else plan.text)
        self.recent_files.used("recipe", recipe.text)
        if calibration is not None:
            self.recent_files.used_file(calibration)
