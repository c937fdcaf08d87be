"""Sweeping without end: the newest for viewers, all for recorders, and back after every loss."""

from __future__ import annotations

import threading
import weakref
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from acquire.analyzer.connected_analyzer import TRIES, Analyzer, Counters
from acquire.analyzer.outliers import ReferenceSweeps
from acquire.analyzer.profile import load_profiles
from acquire.analyzer.reconnection import Reopening
from acquire.analyzer.stream import FIRST_WAIT_S, LONGEST_WAIT_S, RecorderFullError, Stream
from acquire.errors import CoverageError, NoReplyError, PortError
from acquire.port.transport import StoppedError
from acquire.sweep import Plane, Source, Sweep, SweepRequest
from tests.counts import PATIENCE_S

PASSES = (SweepRequest(700e6, 800e6, 5),)
SOURCE = Source("port", "a unit for tests", "prompted-pairs", "wire")


class ToldClock:
    """A clock whose waits end when the test says so, and are remembered."""

    def __init__(self) -> None:
        self.waits: list[float] = []
        self.waiting = threading.Semaphore(0)
        self.go_on = threading.Semaphore(0)

    def now(self) -> datetime:
        return datetime(2030, 1, 1, tzinfo=UTC)

    def monotonic(self) -> float:
        return 0.0

    def wait(self, event: threading.Event, seconds: float) -> bool:
        self.waits.append(seconds)
        self.waiting.release()
        while not (event.is_set() or self.go_on.acquire(timeout=0.01)):
            pass
        return event.is_set()


class FakeUnit:
    """A unit that sweeps when the test lets it, or fails as the test says."""

    def __init__(self, *faults: Exception) -> None:
        self.source = SOURCE
        self.counters = Counters()
        self.faults = list(faults)
        self.asked: list[Sequence[SweepRequest]] = []
        self.turns = threading.Semaphore(0)
        self.sweeping = threading.Event()
        self.interrupted = threading.Event()
        self.closed = threading.Event()

    def sweep(self, passes: Sequence[SweepRequest]) -> Sweep:
        self.asked.append(passes)
        self.sweeping.set()
        while not self.turns.acquire(timeout=0.01):
            if self.interrupted.is_set():
                raise StoppedError("stopped")
        if self.faults:
            raise self.faults.pop(0)
        self.counters += Counters(sweeps=1)
        grid = np.concatenate([each.grid_hz() for each in passes])
        return Sweep(
            grid,
            np.full(grid.size, 0.5 + 0j),
            Plane.RAW,
            datetime(2030, 1, 1, tzinfo=UTC),
            self.counters.sweeps,
            SOURCE,
            tuple(passes),
        )

    def interrupt(self) -> None:
        self.interrupted.set()

    def close(self) -> None:
        self.closed.set()


Running = Callable[..., Stream]


@pytest.fixture
def running() -> Iterator[Running]:
    """Starts streams, and stops them in the end."""
    started: list[Stream] = []

    def run(
        connect_analyzer: Any, passes: Sequence[SweepRequest] = PASSES, clock: Any = None
    ) -> Stream:
        stream = Stream(connect_analyzer, passes, clock or ToldClock())
        started.append(stream)
        stream.start()
        return stream

    yield run
    for stream in started:
        stream.stop()
        assert stream.state.phase == "stopped"


def test_viewers_get_the_newest_sweep_and_miss_what_they_are_too_slow_for(
    running: Running,
) -> None:
    unit = FakeUnit()
    viewers = running(lambda: unit).subscribe()
    for _ in range(5):
        unit.turns.release()
    fifth = viewers.wait(4, PATIENCE_S)
    assert fifth is not None
    assert fifth.sequence == 5
    assert viewers.newest is fifth
    assert viewers.wait(5, 0.0) is None


def test_a_recorder_gets_every_sweep_in_order(running: Running) -> None:
    unit = FakeUnit()
    stream = running(lambda: unit)
    recorder = stream.record()
    for _ in range(5):
        unit.turns.release()
    got = [recorder.get(PATIENCE_S) for _ in range(5)]
    assert [sweep.sequence for sweep in got if sweep is not None] == [1, 2, 3, 4, 5]
    stream.stop()
    assert recorder.get(PATIENCE_S) is None


def test_a_recorder_that_falls_behind_says_so_and_holds_no_gap(running: Running) -> None:
    unit = FakeUnit()
    stream = running(lambda: unit)
    recorder = stream.record(capacity=2)
    for _ in range(4):
        unit.turns.release()
    assert stream.subscribe().wait(3, PATIENCE_S) is not None
    held = [recorder.get(0.0), recorder.get(0.0)]
    assert [sweep.sequence for sweep in held if sweep is not None] == [1, 2]
    with pytest.raises(RecorderFullError, match="more than 2 sweeps"):
        recorder.get(0.0)


def test_a_lost_unit_is_opened_again_for_ever_and_sweeps_are_counted_on(
    running: Running,
) -> None:
    clock = ToldClock()
    first, second = FakeUnit(), FakeUnit()
    gone = PortError("The port went away. Plug it in again.")
    opened: list[Any] = [first, *[gone] * 6, second]

    def connect_analyzer() -> Any:
        unit = opened.pop(0)
        if isinstance(unit, Exception):
            raise unit
        return unit

    stream = running(connect_analyzer, clock=clock)
    viewers = stream.subscribe()
    first.turns.release()
    assert viewers.wait(0, PATIENCE_S) is not None
    first.faults.append(gone)
    first.turns.release()
    for _ in range(7):
        assert clock.waiting.acquire(timeout=PATIENCE_S)
        assert stream.state.phase == "lost"
        assert stream.state.message == str(gone)
        clock.go_on.release()
    second.turns.release()
    again = viewers.wait(1, PATIENCE_S)
    assert again is not None
    assert again.sequence == 2
    assert first.closed.is_set()
    assert clock.waits[0] == FIRST_WAIT_S
    assert clock.waits == sorted(clock.waits)
    assert clock.waits[-1] == LONGEST_WAIT_S
    assert stream.state.phase == "sweeping"
    assert stream.state.message == ""
    assert stream.state.counters.sweeps == 2
    assert stream.state.source == SOURCE


def test_a_unit_that_answers_nonsense_is_lost_and_its_port_let_go(running: Running) -> None:
    clock = ToldClock()
    unit = FakeUnit(NoReplyError("It did not answer."))
    stream = running(lambda: unit, clock=clock)
    unit.turns.release()
    assert clock.waiting.acquire(timeout=PATIENCE_S)
    assert unit.closed.is_set()
    assert stream.state.message == "It did not answer."


def test_a_unit_that_opens_and_never_sweeps_is_waited_for_ever_more_patiently(
    running: Running,
) -> None:
    clock = ToldClock()
    units: list[FakeUnit] = []

    def connect_analyzer() -> Any:
        units.append(FakeUnit(*[NoReplyError("It did not answer.")] * (len(units) != 5)))
        units[-1].turns.release(2)
        return units[-1]

    stream = running(connect_analyzer, clock=clock)
    for _ in range(5):
        assert clock.waiting.acquire(timeout=PATIENCE_S)
        clock.go_on.release()
    assert clock.waits == [0.25, 0.5, 1.0, 1.0, 1.0]
    assert stream.subscribe().wait(1, PATIENCE_S) is not None
    units[-1].faults.append(NoReplyError("It did not answer."))
    units[-1].turns.release()
    assert clock.waiting.acquire(timeout=PATIENCE_S)
    assert clock.waits[5:] == [FIRST_WAIT_S], "a sweep came, so patience begins anew"


def test_a_unit_that_cannot_sweep_what_is_asked_keeps_its_port_and_says_why(
    running: Running,
) -> None:
    clock = ToldClock()
    refusal = CoverageError("5000 MHz lies beyond the unit. Choose a range within.")
    unit = FakeUnit(refusal, refusal)
    unit.turns.release()
    opened: list[FakeUnit] = []

    def connect_analyzer() -> Any:
        opened.append(unit)
        return unit

    stream = running(connect_analyzer, clock=clock)
    assert clock.waiting.acquire(timeout=PATIENCE_S)
    assert (stream.state.phase, stream.state.message) == ("refused", str(refusal))
    since = stream.state.since
    unit.turns.release()
    clock.go_on.release()  # asked once more, in case there is something else, and nothing is
    assert clock.waiting.acquire(timeout=PATIENCE_S)
    assert stream.state.since is since
    assert not unit.closed.is_set()
    stream.set_passes((SweepRequest(1.7e9, 1.9e9, 7),))
    unit.turns.release()
    assert stream.subscribe().wait(0, PATIENCE_S) is not None
    assert (stream.state.phase, stream.state.message) == ("sweeping", "")
    assert stream.state.counters == Counters(sweeps=1)
    assert len(opened) == 1


def test_an_exception_of_a_check_ends_no_stream_and_is_noted_once(
    family_named: Any, wired: Any, clock: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Until the checks are whole again, whatever is delivered waits."""
    family = family_named("scpi-ascii")
    told = ReferenceSweeps.suspect
    faults: list[Exception] = [ZeroDivisionError("a check")] * (2 * TRIES)

    def broken(self: ReferenceSweeps, *arguments: Any) -> Any:
        if faults:
            raise faults.pop()
        return told(self, *arguments)

    monkeypatch.setattr(ReferenceSweeps, "suspect", broken)
    noted: list[Exception] = []
    stream = Stream(
        lambda: Analyzer(wired(family.unit()), family.profile, clock),
        PASSES,
        clock,
        note_defect=noted.append,
    )
    stream.start()
    delivered = stream.subscribe().wait(0, PATIENCE_S)
    stream.stop()
    assert delivered is not None
    assert not faults
    assert [type(each.__cause__) for each in noted] == [ZeroDivisionError]
    assert stream.state.counters.losses == 2


def test_a_recorder_after_the_end_is_closed_at_once(running: Running) -> None:
    stream = running(FakeUnit)
    stream.stop()
    assert stream.state.phase == "stopped"
    recorder = stream.record()
    assert recorder.closed
    assert recorder.get(PATIENCE_S) is None


def test_recorders_that_take_no_more_are_not_kept(running: Running) -> None:
    unit = FakeUnit()
    stream = running(lambda: unit)
    closed, full, reading = stream.record(), stream.record(capacity=1), stream.record()
    gone = [weakref.ref(closed), weakref.ref(full)]
    closed.close()
    unit.turns.release(3)
    assert stream.subscribe().wait(2, PATIENCE_S) is not None
    del closed, full
    assert [each() for each in gone] == [None, None]
    got = [reading.get(PATIENCE_S) for _ in range(3)]
    assert [sweep.sequence for sweep in got if sweep is not None] == [1, 2, 3]


def test_other_passes_are_swept_from_the_next_sweep_on(running: Running) -> None:
    unit = FakeUnit()
    stream = running(lambda: unit)
    assert unit.sweeping.wait(PATIENCE_S)
    other = (SweepRequest(1.7e9, 1.9e9, 7),)
    stream.set_passes(other)
    unit.turns.release(2)
    newest = stream.subscribe().wait(1, PATIENCE_S)
    assert newest is not None
    assert newest.request == other
    assert unit.asked[:2] == [PASSES, other]


def test_a_stream_without_passes_connects_and_waits_for_some(running: Running) -> None:
    unit = FakeUnit()
    stream = running(lambda: unit, ())
    assert stream.wait_for("sweeping", PATIENCE_S)
    assert unit.asked == []
    stream.set_passes(PASSES)
    unit.turns.release()
    assert stream.subscribe().wait(0, PATIENCE_S) is not None


def test_it_stops_in_the_middle_of_a_sweep_and_lets_go_of_the_port(running: Running) -> None:
    unit = FakeUnit()
    stream = running(lambda: unit)
    assert unit.sweeping.wait(PATIENCE_S)
    stream.stop()
    assert stream.state.phase == "stopped"
    assert unit.closed.is_set()
    assert stream.subscribe().wait(0, PATIENCE_S) is None
    stream.stop()


def test_it_stops_while_it_waits_to_open_a_lost_port_again(running: Running) -> None:
    clock = ToldClock()

    def absent() -> Any:
        raise PortError("There is no such port.")

    stream = running(absent, clock=clock)
    assert clock.waiting.acquire(timeout=PATIENCE_S)
    stream.stop()
    assert stream.state.phase == "stopped"


def test_a_unit_is_opened_again_with_the_profile_found_once(
    family_named: Any, wired: Any, clock: Any
) -> None:
    family = family_named("prompted-scan")
    opened: list[str] = []

    def opener(address: str, _baud_rate: int) -> Any:
        opened.append(address)
        return wired(family.unit())

    reopening = Reopening(
        "virtual:unit",
        profiles=load_profiles(),
        openers={"virtual": opener},
        clock=clock,
        listing=list,
    )
    found: Analyzer = reopening()
    assert found.profile.name == "prompted-scan"
    asked = len(opened)
    assert reopening().profile.name == "prompted-scan"
    assert len(opened) == asked + 1


def test_a_unit_that_says_nothing_while_it_is_met_is_let_go_of_at_once(
    family_named: Any, wired: Any, clock: Any
) -> None:
    family = family_named("scpi-ascii")
    stopping = threading.Event()
    wires: list[Any] = []

    def mute(_data: bytes) -> bytes:
        stopping.set()  # while it is being asked
        return b""

    def opener(_address: str, _baud_rate: int) -> Any:
        wires.append(wired(mute))
        return wires[-1]

    for profile in (family.profile, None):
        stopping.clear()
        stream = Stream(
            Reopening(
                "virtual:unit",
                profile=profile,
                profiles=load_profiles(),
                openers={"virtual": opener},
                clock=clock,
                listing=list,
                interrupted=stopping,
            ),
            PASSES,
            clock,
            stopping,
        )
        begun_s = clock.monotonic()
        stream.start()
        assert stopping.wait(PATIENCE_S)
        stream.stop()
        assert stream.state.phase == "stopped"
        assert clock.monotonic() - begun_s < 1.0
    assert all(wire.closed for wire in wires)


def test_another_unit_is_connected_at_once_and_no_late_sweep_of_the_first_is_told(
    running: Running,
) -> None:
    """Also from the midst of a sweep; what was let go of on purpose was not lost."""
    first, second = FakeUnit(), FakeUnit()
    opened = [first, second]
    stream = running(lambda: opened.pop(0))
    viewers = stream.subscribe()
    first.turns.release()
    assert viewers.wait(0, PATIENCE_S) is not None
    assert stream.reconnect() == 1
    assert first.interrupted.is_set()
    assert second.sweeping.wait(PATIENCE_S)
    assert first.closed.is_set()
    second.turns.release()
    sweep = viewers.wait(1, PATIENCE_S)
    assert sweep is not None
    assert sweep.sequence == 2
    assert stream.state.counters.losses == 0


def test_a_unit_that_is_lost_is_left_for_another_without_waiting(running: Running) -> None:
    clock = ToldClock()
    unit, gone = FakeUnit(), PortError("There is no such port.")
    opened: list[Any] = [gone, unit]

    def connect_analyzer() -> Any:
        found = opened.pop(0)
        if isinstance(found, Exception):
            raise found
        return found

    stream = running(connect_analyzer, clock=clock)
    assert clock.waiting.acquire(timeout=PATIENCE_S)
    assert stream.state.message == str(gone)
    assert stream.reconnect() == 0
    assert unit.sweeping.wait(PATIENCE_S)
    assert (stream.state.phase, stream.state.message) == ("sweeping", "")
