"""A station over the virtual bench, with the record of a known good antenna."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.acceptance_run.station_file import load_station
from dashboard.acceptance_run.station_state import StationState
from dashboard.bench.composed_bench import Bench
from dashboard.bench.make_bench import live_bench
from dashboard.bench.parts.station import BenchStation
from dashboard.bench.snapshot import Snapshot
from dashboard.demo.demo_bench import DEMO_SPEED, demo_bench
from dashboard.demo.scenario import PLAN
from dashboard.page.plan_form import read_plan
from tests.dashboard.conftest import UnitClock, settled, until

WITHOUT_CHECKS = "check_after = false\n" + PLAN
STATION = """\
name = "River watch, Saturday"
plan = "plan.toml"
kit = "3.5mm-plug-50"
records = "records"
contact = "Ana"
serial = 'GW-[0-9]+'

[known_good]
record = "good/RECORD"
every = 3
"""


@dataclass
class AtStation:
    """A running station, and hands to work at it."""

    bench: Bench
    folder: Path

    @property
    def station(self) -> BenchStation:
        assert self.bench.station is not None
        return self.bench.station

    @property
    def now(self) -> StationState:
        found = self.bench.snapshot().station
        assert found is not None
        return found

    @property
    def phase(self) -> str:
        """What is to be done now."""
        return self.now.phase

    def wait_for(self, condition: Callable[[StationState], bool]) -> StationState:
        """Wait for a state that meets a condition."""

        def met(now: Snapshot) -> bool:
            return now.station is not None and condition(now.station)

        until(self.bench, met)
        return self.now

    def put_on(self, antenna: str, **bends: float) -> None:
        """Connect an antenna, bent from how it was delivered, and let it rest."""
        self.bench.hands.fetch(antenna)
        for name, mm in bends.items():
            self.bench.hands.bend(name, mm)
        self.bench.hands.screw_on("antenna")
        settled(self.bench)

    def step(self) -> StationState:
        """Press the one key, and wait until what it began is over."""
        self.station.next()
        return self.wait_for(lambda now: now.phase != "sweeping")

    def prove(self, antenna: str = "known-good", **bends: float) -> StationState:
        """Sweep the known good antenna, or what stands for it; its word is shown then."""
        self.put_on(antenna, **bends)
        return self.step()

    def test(self, serial: str, antenna: str, **bends: float) -> StationState:
        """Test one antenna; its word is shown then."""
        self.station.take_serial(serial)
        self.put_on(antenna, **bends)
        return self.step()


@pytest.fixture(scope="session")
def known_good(tmp_path_factory: pytest.TempPathFactory, kept_calibration: Path) -> Path:
    """The record of the known good antenna, made once; to be read only."""
    folder = tmp_path_factory.mktemp("good")
    bench = demo_bench(
        read_plan(WITHOUT_CHECKS),
        calibration=kept_calibration,
        records_folder=folder,
        calibrations_folder=folder / "calibrations",
        clock=UnitClock(),
    )
    with contextlib.closing(bench):
        bench.start()
        bench.hands.fetch("known-good")
        bench.hands.screw_on("antenna")
        settled(bench)
        return bench.acceptance.sign_off(AntennaDetails("weir-1")).path


def station_file(folder: Path, known_good: Path, text: str = STATION, plan: str = "") -> Path:
    """A station's file and what it names, in a folder."""
    shutil.copytree(known_good, folder / "good" / known_good.name)
    (folder / "plan.toml").write_text(plan or WITHOUT_CHECKS, encoding="utf-8")
    path = folder / "station.toml"
    path.write_text(text.replace("RECORD", known_good.name), encoding="utf-8")
    return path


def make_station(path: Path, calibration: Path | None, clock: UnitClock) -> Bench:
    """The bench of a station, not started."""
    return live_bench(
        f"virtual:?speed={DEMO_SPEED}",
        station=load_station(path),
        calibration=calibration,
        calibrations_folder=path.parent / "calibrations",
        check_pieces_folder=path.parent / "pieces",
        clock=clock,
    )


@pytest.fixture
def at_station(tmp_path: Path, known_good: Path, calibration: Path | None) -> Iterator[AtStation]:
    """A station, running."""
    bench = make_station(station_file(tmp_path, known_good), calibration, UnitClock())
    with contextlib.closing(bench):
        bench.start()
        until(bench, lambda now: now.verdict is not None or calibration is None)
        yield AtStation(bench, tmp_path)
