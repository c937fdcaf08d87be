"""The port that the bench's analyzer is at: what there is, who answers there, and another one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from calibration.files.store import load_kit
from dashboard.bench.engine import Engine
from dashboard.bench.parts.acceptance import BenchAcceptance
from dashboard.bench.parts.calibration import BenchCalibration, Equipment
from dashboard.bench.parts.check_piece import BenchCheckPiece
from dashboard.bench.parts.passes import BenchPasses
from dashboard.bench.parts.recent_sweeps import RecentSweeps
from dashboard.bench.parts.touch_test import BenchTouchTest
from dashboard.bench.parts.tuning import Tuning
from dashboard.bench.parts.virtual_hands import VirtualHands
from dashboard.errors import NotNowError
from dashboard.files import user_folders
from dashboard.files.bench_folders import BenchFolders
from dashboard.sweeping.analyzer_ports import AnalyzerPorts, ListedPort, ReadyPort

FIXED = (
    "This page has only its own virtual analyzer. To measure, stop it and start `bandwright live`."
)


class BenchPort:
    """Which port it is. Every method takes the engine's lock itself; any thread may call."""

    def __init__(
        self,
        engine: Engine,
        ports: AnalyzerPorts | None,
        folders: BenchFolders,
        leave: Callable[[], None],
        *,
        recent: RecentSweeps,
        passes: BenchPasses,
        calibration: BenchCalibration,
        tuning: Tuning,
        touch_test: BenchTouchTest,
        check_piece: BenchCheckPiece,
        acceptance: BenchAcceptance,
        hands: VirtualHands,
    ) -> None:
        """ports : those to choose from; None where the port stays what it is.

        folders : where what is made with a real analyzer is kept. leave : ends what is being said
        at the port that is in use first.
        """
        self.folders = folders
        """Those in use now."""
        self._engine = engine
        self._ports = ports
        self._own_folders = folders
        self._recent = recent
        self._passes = passes
        self._calibration = calibration
        self._tuning = tuning
        self._touch_test = touch_test
        self._check_piece = check_piece
        self._acceptance = acceptance
        self._hands = hands
        self._equipment: dict[str, Equipment] = {}
        """What was in use at each port when it was left."""
        self._leave = leave
        if ports is not None:
            engine.offer_ports()

    def listed(self) -> list[ListedPort]:
        """The ports there are, none of them opened. Raises OSError, NotNowError."""
        return self._choosable().listed()

    def ask(self, address: str) -> str:
        """Open one port, and return what its analyzer says it is.

        Raises NotNowError for the port that is being connected to and for one that is not
        listed, else what opening raises.
        """
        ports = self._choosable()
        port = self._engine.port()
        if address == port.address and port.phase == "sweeping":
            return f"{port.analyzer or 'The analyzer'} is measuring here already."
        if address == port.address:
            raise NotNowError(f"bandwright is trying {address} already. Wait for its answer.")
        return ports.ask(address)

    def use(self, address: str, *, sure: bool = False) -> None:
        """Let go of the port in use, and measure at another one.

        sure : the person was asked whether to let go of an analyzer that is measuring.
        Raises NotNowError where that was not asked, while a calibration runs, and for a port that
        is not listed.
        """
        ports = self._choosable()
        now = self._engine.port()
        if address == now.address and now.phase in ("connecting", "sweeping"):
            raise NotNowError(f"{address} is in use already.")
        if now.phase == "sweeping" and not sure:
            raise NotNowError(
                f"The analyzer at {now.address} is measuring. Confirm that you want to change the "
                "port."
            )
        ready = ports.ready(address)
        practises = address == ports.practice.address
        with self._engine.changing():
            if self._calibration.guided is not None:
                raise NotNowError(
                    "The port cannot be changed while a calibration runs. Finish it, or cancel it."
                )
            self._engine.switch(ready.connect, ready.address)
            self._leave()
            self._leave = ready.leave
            self._equip(ready, ports.practice.kit if practises else "", now.address)
            self._begin_anew(ready, practises=practises)

    def _equip(self, ready: ReadyPort, practice_kit: str, left: str) -> None:
        """Take what belongs to the port's analyzer; what was in use waits at the port left."""
        used = self._calibration.equipment
        self._equipment.pop(left, None)  # the one left last stands last
        self._equipment[left] = used
        known = self._equipment.get(ready.address)
        if known is None and practice_kit and ready.virtual is not None:
            # What is stated of invented standards must not be taken for a real load's.
            load_db = ready.virtual.load_return_loss_db
            known = Equipment(
                load_kit(practice_kit, user_folders.kits()),
                replace(used.assumptions, load_db=load_db, load_source=""),
                None,
                None,
                BenchFolders.for_practice().calibrations,
            )
        if known is None and self._practised(left):
            known = self._of_another_port()
        if known is not None:
            self._calibration.equip(known)

    def _practised(self, address: str) -> bool:
        return self._ports is not None and address == self._ports.practice.address

    def _of_another_port(self) -> Equipment | None:
        """What was in use at a real port, or before any was chosen; the one used last."""
        real = [each for at, each in self._equipment.items() if not self._practised(at)]
        return real[-1] if real else None

    def _begin_anew(self, ready: ReadyPort, *, practises: bool) -> None:
        """Nothing that the analyzer before has swept counts any more."""
        self.folders = BenchFolders.for_practice() if practises else self._own_folders
        self._recent.begin_anew(self._passes.plan)
        self._passes.part()
        self._tuning.learn_in(self.folders.learned)
        self._tuning.begin_anew()
        self._touch_test.forget()
        self._hands.drive(ready.virtual)
        self._check_piece.move(self.folders.check_pieces, ready.virtual)
        self._acceptance.move(self.folders.records, ready.virtual)

    def _choosable(self) -> AnalyzerPorts:
        if self._ports is None:
            raise NotNowError(FIXED)
        return self._ports
