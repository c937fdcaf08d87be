"""All that the golden outputs know of the project's modules: a move or a new name ends here.

Only the outer ways in are used: the command line in this process, and a bench with the feed that a
page gets. The bench sweeps in threads of its own; here it takes a sweep only when told to.
"""

from __future__ import annotations

import importlib.metadata
import io
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, redirect_stderr, redirect_stdout
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

# numpy loads it late, in the sweeping thread, where it parses signatures; pytest parses modules as
# it loads them, in another; and CPython 3.11 cannot do both at once.
import numpy.ma  # noqa: F401

from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import load_profiles
from acquire.clock import SystemClock
from acquire.errors import PortError
from acquire.sweep import Sweep, SweepRequest
from calibration.files.store import load_kit
from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.bench.composed_bench import Bench
from dashboard.bench.snapshot import Snapshot
from dashboard.command_line.main import main
from dashboard.demo import scenario
from dashboard.feed.viewer_feed import Encoder
from dashboard.page.plan_form import read_plan
from replay.clock import AcceleratedClock
from replay.virtual_analyzer.hosting import InProcess
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.counts import PATIENCE_S

RECIPE = scenario.RECIPE
TESTS = Path(__file__).parents[1]
INPUTS = {
    "antenna.s1p": TESTS / "guards" / "example.s1p",
    "plan.toml": TESTS / "guards" / "example.toml",
    "layout-1": TESTS / "acceptance" / "records" / "layout-1",
    "layout-2": TESTS / "acceptance" / "records" / "layout-2",
}
COMMANDS = (
    "demo", "tour", "live", "ports", "calibrate", "verify", "trust", "characterise", "cable",
    "fault", "sweep", "check", "accept", "recheck", "report", "records", "compare", "batch",
    "bands", "import",
)  # fmt: skip

BEGUN = datetime(2030, 1, 5, 9, 0, tzinfo=UTC)
"""When everything here happens."""
VERSION = "0.0.0"


@contextmanager
def frozen() -> Iterator[None]:
    """Hold the machine's clock and the program's version still."""
    known = importlib.metadata.version

    def version(name: str) -> str:
        return VERSION if name == "bandwright" else known(name)

    begin = AcceleratedClock.__init__

    def begun(self: AcceleratedClock, start: datetime | None = None) -> None:
        begin(self, BEGUN if start is None else start)

    with ExitStack() as held:
        held.enter_context(mock.patch("importlib.metadata.version", version))
        held.enter_context(mock.patch.object(AcceleratedClock, "__init__", begun))
        held.enter_context(mock.patch.object(SystemClock, "now", return_value=BEGUN))
        yield


def simulated() -> AcceleratedClock:
    """Time that costs nothing, from `BEGUN` on; one for all commands that follow each other."""
    return AcceleratedClock(BEGUN)


def run(arguments: Sequence[str], clock: AcceleratedClock) -> tuple[int, str, str]:
    """One command line with nobody but Enter at the keyboard: its status and what it printed."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="") for _ in range(2))
    with (
        redirect_stdout(out),
        redirect_stderr(err),
        mock.patch.object(sys, "stdin", io.StringIO("\n" * 100)),
    ):
        status = main(list(arguments), clock)
    printed = []
    for stream in (out, err):
        stream.flush()
        printed.append(stream.buffer.getvalue().decode("utf-8"))
    return status, printed[0], printed[1]


class HeldClock:
    """Time that stands still until it is moved."""

    def __init__(self) -> None:
        self._seconds = 0.0

    def move_to(self, seconds: float) -> None:
        self._seconds = seconds

    def now(self) -> datetime:
        return BEGUN + timedelta(seconds=self._seconds)

    def monotonic(self) -> float:
        return self._seconds

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Nothing passes by itself: until somebody sets it."""
        return event.wait(PATIENCE_S)


class SteppedAnalyzer(Analyzer):
    """Sweeps when it is let, and only then does the bench's time go on."""

    let: Callable[[Sequence[SweepRequest]], None]
    swept: Callable[[], None]

    def sweep(self, passes: Sequence[SweepRequest]) -> Sweep:
        self.let(passes)
        try:
            return super().sweep(passes)
        finally:
            self.swept()


class SteppedBench:
    """The demo's bench, in which one sweep comes at a time.

    The unit's time is another than the bench's, which is moved to it once a sweep is whole: what
    is shown does not hang on when a thread looks.
    """

    def __init__(self, folder: Path) -> None:
        self.clock, self._analyzer_clock = HeldClock(), simulated()
        self._virtual = VirtualBench(self.clock, kit="3.5mm-plug-50")
        self._profile = load_profiles()["registers-queue"]
        self._turns, self._closed = threading.Semaphore(0), False
        self._there = True
        self._passes: set[tuple[SweepRequest, ...]] = set()
        self.bench = Bench(
            self._open,
            address="virtual:registers",
            kit=load_kit("3.5mm-plug-50"),
            plan=read_plan(scenario.PLAN),
            calibrations_folder=folder / "calibrations",
            records_folder=folder / "records",
            learned_folder=folder / "learned",
            recipe=scenario_recipe(),
            clock=self.clock,
            virtual_bench=self._virtual,
        )
        self._wait_for = self.bench.engine.wait_for
        # Whoever waits for the next sweep lets it come: accepting does, in this thread.
        self.bench.engine.wait_for = self._step_for  # type: ignore[method-assign]
        self._encoder = Encoder()

    def _open(self) -> Analyzer:
        if not self._there:
            raise PortError("There is no port here. Plug the analyzer in.")
        antenna = VirtualAnalyzer(self._virtual, "registers", speed=10, powered_s=0.0)
        self._transport = InProcess(antenna, self._analyzer_clock)
        analyzer = SteppedAnalyzer(self._transport, self._profile, self._analyzer_clock)
        analyzer.let, analyzer.swept = self._let, self._swept
        return analyzer

    def _let(self, passes: Sequence[SweepRequest]) -> None:
        self._turns.acquire()
        self._passes.add(tuple(passes))

    def _swept(self) -> None:
        if not self._closed:
            self.clock.move_to(self._analyzer_clock.monotonic())

    def _step_for(
        self, condition: Callable[[Snapshot], bool], timeout_s: float | None = None
    ) -> Snapshot:
        self._turns.release()
        return self._wait_for(condition, PATIENCE_S)

    def start(self) -> None:
        self.bench.start()

    def close(self) -> None:
        self._closed = True
        self.bench.engine.wait_for = self._wait_for  # type: ignore[method-assign]
        self._turns.release(1000)
        self.bench.close()
        # What is swept next is chosen in the sweeping thread while another looks at the sweep
        # before: only where it is always the same does nothing hang on who comes first.
        assert len(self._passes) == 1, self._passes

    def sweep(self, count: int = 1) -> None:
        """Let so many sweeps come, and wait until the last is shown."""
        for _ in range(count):
            before = self.bench.snapshot().sequence
            self._step_for(lambda now, before=before: now.sequence > before)

    def standard(self, on_port: str) -> None:
        """Screw something on, say that what is asked for is on, and sweep until it is decided."""
        self.bench.hands.screw_on(on_port)
        self.sweep()
        before = self._session()
        self.bench.calibration.standard_is_on()
        for _ in range(40):
            self.sweep()
            now = self._session()
            if now is None or now.phase == "refused" or now.taken != before.taken:
                return
        raise AssertionError("Never decided.")

    def _session(self) -> Any:
        return self.bench.snapshot().calibration.session

    def pull(self) -> None:
        """Pull the unit's cable in the middle of a sweep, and wait until that is shown."""
        self._there = False
        self._transport.unplug()
        self._turns.release()
        self._wait_for(lambda now: now.port.phase == "lost", PATIENCE_S)

    def message(self) -> bytes:
        """What a page gets to see of this moment, half a second after it."""
        return self._encoder.message(self.bench.snapshot(), self.clock.monotonic() + 0.5)


def scenario_recipe() -> Any:
    """The recipe that the demo's antenna was built by."""
    from acceptance.plan.recipe import parse_recipe

    return parse_recipe(scenario.RECIPE, scenario.RECIPE_NAME)


def antenna_details(antenna: str) -> AntennaDetails:
    """What a person says of the antenna that is accepted."""
    return AntennaDetails(
        antenna, "river-watch", "golden; invented data", scenario_recipe(), {"arm_a": 84.5}
    )
