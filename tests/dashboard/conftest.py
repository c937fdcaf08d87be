"""A bench that runs faster than life, and hands to work at it."""

from __future__ import annotations

import asyncio
import contextlib
import shutil
import socket
import threading
from collections.abc import Callable, Coroutine, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import httpx

# numpy loads it late, in the sweeping thread, where it parses signatures; pytest parses modules as
# it loads them, in another; and CPython 3.11 cannot do both at once.
import numpy.ma  # noqa: F401
import pytest

from acceptance.tuning.touch_test import Touch
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import load_profiles
from acquire.errors import PortError
from calibration.files.store import load_kit
from dashboard.bench.composed_bench import Bench
from dashboard.bench.snapshot import Snapshot
from dashboard.demo.demo_bench import demo_bench
from dashboard.demo.scenario import PLAN
from dashboard.errors import NotNowError
from dashboard.page.plan_form import read_plan
from dashboard.server.page_server import ADDRESS, listen, make_server
from replay.clock import AcceleratedClock
from replay.virtual_analyzer.hosting import InProcess
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.counts import PATIENCE_S

Answer = TypeVar("Answer")
TO_PASS = (("arm_a", 5.0), ("arm_b", -3.0))
"""Bends that bring the delivered antenna to where it passes:
replay.virtual_bench.antenna.GOOD_SETTING."""


class UnitClock(AcceleratedClock):
    """Time that only the unit's own waiting moves on; a wait takes a moment of real time.

    However slow the machine is, hands and sweeps take as long as ever by this clock: how many
    sweeps come while a nut is turned does not depend on who else is at work.
    """

    LATE = 6.0
    """How much longer each wait is than was asked for: fewer sweeps come while a hand moves."""

    def __init__(self, times_faster: float = 40, start: datetime | None = None) -> None:
        super().__init__(start)
        self._times_faster = times_faster

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait for the event, at most so many seconds of this clock; True if it was set."""
        late_s = self.LATE * max(seconds, 0.0)
        if not event.wait(late_s / self._times_faster):
            self.advance(late_s)
        return event.is_set()


@pytest.fixture(autouse=True)
def faults(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where faults are kept meanwhile: not in the folder of whoever runs the tests."""
    folder = tmp_path_factory.getbasetemp() / "faults"
    monkeypatch.setattr("dashboard.files.user_folders.faults", lambda: folder)
    return folder


@pytest.fixture(scope="session")
def kept_calibration(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A calibration of the demo's unit, made once by the guided way; to be read only."""
    folder = tmp_path_factory.mktemp("calibrated")
    # the unit's time runs ahead of the wall's: what was made must lie before what is done with it
    clock = UnitClock(1000, datetime.now(UTC) - timedelta(minutes=5))
    made = demo_bench(
        read_plan(PLAN), records_folder=folder, calibrations_folder=folder, clock=clock
    )
    with contextlib.closing(made):
        made.start()
        calibrate(made)
    (path,) = folder.glob("*.json")
    return path


@pytest.fixture
def calibration(request: pytest.FixtureRequest, tmp_path: Path) -> Path | None:
    """The file that the bench begins with, where the test is marked `calibrated`: a copy."""
    if request.node.get_closest_marker("calibrated") is None:
        return None
    folder = tmp_path / "calibrations"
    folder.mkdir()
    return Path(shutil.copy(request.getfixturevalue("kept_calibration"), folder))


@pytest.fixture
def bench(tmp_path: Path, calibration: Path | None) -> Iterator[Bench]:
    """The demo's bench, running."""
    made = demo_bench(
        read_plan(PLAN),
        calibration=calibration,
        records_folder=tmp_path / "records",
        calibrations_folder=tmp_path / "calibrations",
        check_pieces_folder=tmp_path / "pieces",
        clock=UnitClock(),
    )
    made.start()
    if calibration:
        made.hands.screw_on("antenna")
    yield made
    made.close()


@contextlib.contextmanager
def serving(bench: Bench, *sockets: socket.socket, **how: Any) -> Iterator[None]:
    """Serve a bench's page on these sockets, from a thread; how : as `make_server` takes it."""
    ready = threading.Event()
    server = make_server(bench, ready.set, **how)
    thread = threading.Thread(target=server.run, kwargs={"sockets": list(sockets)})
    thread.start()
    try:
        assert ready.wait(PATIENCE_S)
        yield
    finally:
        server.should_exit = True
        thread.join(PATIENCE_S)
        for each in sockets:
            each.close()
    assert not thread.is_alive()


def origin(listening: socket.socket) -> str:
    """Where a browser finds what listens there."""
    return f"http://{ADDRESS}:{listening.getsockname()[1]}"


@pytest.fixture
def server_url(bench: Bench) -> Iterator[str]:
    """The page on a port of its own; its origin."""
    listening = listen(0)
    with serving(bench, listening):
        yield origin(listening)


@pytest.fixture
def client(server_url: str) -> Iterator[httpx.Client]:
    """Asks the page's server."""
    with httpx.Client(base_url=server_url, timeout=PATIENCE_S) as made:
        yield made


def finish(work: Coroutine[Any, Any, Answer]) -> Answer:
    """Run to the end in a thread of its own: a browser test may have left a loop in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()


def until(bench: Bench, condition: Callable[[Snapshot], bool]) -> Snapshot:
    """Wait for a moment that meets a condition."""
    return bench.wait_for(condition, PATIENCE_S)


def settled(bench: Bench) -> Snapshot:
    """Wait until nothing moves, and two whole sweeps have come since.

    By the sweep's own time: on a busy machine those on their way may be of before.
    """
    until(bench, lambda now: now.bench is not None and now.bench.steady)
    since = bench.clock.now()
    still = until(bench, lambda now: now.sweep is not None and now.sweep.taken_at > since)
    return until(bench, lambda now: now.sequence > still.sequence + 1)


def capture(bench: Bench, on_port: str, wanted: str) -> Snapshot:
    """Screw something on, say that the wanted standard is on, and wait for what comes of it."""
    bench.hands.screw_on(on_port)
    bench.calibration.standard_is_on()

    def decided(now: Snapshot) -> bool:
        session = now.calibration.session
        return session is None or session.phase == "refused" or wanted in session.taken

    return until(bench, decided)


def calibrate(bench: Bench) -> Snapshot:
    """Do the whole guided calibration right, and screw the antenna on."""
    until(bench, lambda now: now.sequence > 0)
    bench.calibration.begin()
    for name in ("open", "short", "load"):
        now = capture(bench, name, name)
    if now.calibration.session is not None:  # nothing before speaks for the load
        capture(bench, "load", "load, once more")
    bench.hands.screw_on("antenna")
    return settled(bench)


def plan_text(name: str, keys: Sequence[str], metric: str, value: float) -> str:
    """A plan's TOML for bands such as "lte 20", and one limit."""
    bands = "".join(f"[[band]]\n{key.replace(' ', ' = ')}\n{metric} = {value:g}\n" for key in keys)
    return f'name = "{name}"\n{bands}'


def touched(bench: Bench) -> Touch:
    """Go through the touch test, though no hand is ever on the cable; what it found."""
    bench.touch_test.begin()

    def looked_at_last(now: Snapshot) -> bool:
        if now.touch.phase != "idle":
            with contextlib.suppress(NotNowError):  # until there is something new to look at
                bench.touch_test.next()
        return now.touch.phase == "idle"

    found = until(bench, looked_at_last).touch.result
    assert found is not None
    return found


class Unplugged:
    """A virtual analyzer whose cable can be pulled and put back."""

    def __init__(self, clock: UnitClock, speed: float = 10) -> None:
        """speed : how many times faster than units do it sweeps."""
        self.clock, self.speed = clock, speed
        self.virtual = VirtualBench(clock, on_port="antenna", kit="3.5mm-plug-50")
        self.transport: InProcess | None = None
        self.there = True

    def open(self) -> Analyzer:
        """Meet the unit, if its cable is in."""
        if not self.there:
            raise PortError("There is no port /dev/test. Plug the analyzer in.")
        analyzer = VirtualAnalyzer(
            self.virtual, "registers", speed=self.speed, powered_s=self.clock.monotonic()
        )
        self.transport = InProcess(analyzer, self.clock)
        return Analyzer(self.transport, load_profiles()["registers-queue"], self.clock)

    def pull(self) -> None:
        """Pull the cable."""
        self.there = False
        assert self.transport is not None
        self.transport.unplug()

    def put_back(self) -> None:
        """Put the cable back in."""
        self.there = True


@pytest.fixture
def cable(tmp_path: Path) -> Iterator[tuple[Bench, Unplugged]]:
    """A running bench, and the cable of its unit."""
    clock = UnitClock()
    analyzer = Unplugged(clock)
    made = Bench(
        analyzer.open,
        address="/dev/test",
        kit=load_kit("3.5mm-plug-50"),
        plan=read_plan(PLAN),
        calibrations_folder=tmp_path / "calibrations",
        records_folder=tmp_path / "records",
        clock=clock,
        virtual_bench=analyzer.virtual,
    )
    made.start()
    yield made, analyzer
    made.close()
