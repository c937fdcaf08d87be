"""Everything goes wrong, again and again: what is delivered is right, and the stream comes back."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest

from acquire.analyzer.profile import load_profiles
from acquire.analyzer.reconnection import Reopening
from acquire.analyzer.stream import Stream
from acquire.sweep import Sweep, SweepRequest
from replay.clock import AcceleratedClock
from replay.faults.fault_kinds import FaultQueue, Kind
from replay.faults.faulty_analyzer import FaultyAnalyzer
from replay.faults.faulty_port import FaultyPort
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.counts import LONG, PATIENCE_S
from tests.replay.faults.soaking import CHARACTERS, Soak

FAULTED = 100_000 if LONG else 120
RECOVERS_WITHIN_S = 5.0
"""From the end of a fault to a whole sweep, on the injected clock."""


@pytest.mark.slow
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("name", CHARACTERS)
def test_no_wrong_sweep_is_delivered_and_the_stream_recovers(name: str) -> None:
    tally = Soak(name, seed=1, sweeps=FAULTED).run(patience_s=7000.0)
    print(tally.line(name))
    assert tally.faulted >= FAULTED
    assert tally.wrong == []
    assert tally.exact + tally.within == tally.delivered
    assert set(tally.kinds) == set(Kind)
    assert tally.slowest_s < RECOVERS_WITHIN_S


@pytest.mark.slow
def test_the_same_seed_brings_the_same_faults_and_the_same_sweeps() -> None:
    first, second = (Soak("scpi-ascii", seed=3, sweeps=25).run() for _ in range(2))
    assert first == second


@pytest.mark.slow
def test_the_counters_tell_what_happened() -> None:
    lost = Soak("prompted-scan", 1, 10, kinds=[Kind.SERIAL_ERROR]).run().counters
    assert lost.losses >= 10
    assert lost.retries == 0
    late = Soak("prompted-scan", 1, 10, kinds=[Kind.RESET]).run().counters
    assert late.timeouts >= 10
    fewer = Soak("prompted-scan", 1, 10, kinds=[Kind.POINTS]).run().counters
    assert fewer.garbled >= 10
    suspect = Soak("scpi-real64", 1, 60, kinds=[Kind.FLIPPED]).run().counters
    assert suspect.suspect > 0
    assert suspect.losses == 0


class SetClock(AcceleratedClock):
    """Its wall time can be set; it can leap ahead as it does when the machine has slept."""

    def __init__(self) -> None:
        super().__init__()
        self.set_by = timedelta()
        self.sleeps_at_read: int | None = None
        self._reads = 0

    def now(self) -> datetime:
        return super().now() + self.set_by

    def wait(self, event: threading.Event, seconds: float) -> bool:
        self._reads += 1
        if self._reads == self.sleeps_at_read:
            self.advance(SLEPT_S)
        return super().wait(event, seconds)


SLEPT_S = 8 * 3600.0


def swept(clock: SetClock, meanwhile: Sequence[tuple[int, object]]) -> list[Sweep]:
    """Six sweeps by a stream; something happens before some of them."""
    bench = VirtualBench(clock, on_port="load")
    fault_queue = FaultQueue()
    virtual_analyzer = FaultyAnalyzer(
        lambda powered_s: VirtualAnalyzer(bench, "prompted", powered_s=powered_s), fault_queue
    )
    port = FaultyPort(virtual_analyzer, fault_queue, clock)
    done = threading.Event()
    happens = dict(meanwhile)
    sweeps: list[Sweep] = []

    def choose() -> Sequence[SweepRequest]:
        newest = stream.latest()
        if newest is not None and newest.sequence > len(sweeps):
            sweeps.append(newest)
        act = happens.pop(len(sweeps), None)
        if callable(act):
            act()
        if len(sweeps) == 6:
            done.set()
            return ()
        return [SweepRequest(700e6, 900e6, 21)]

    stream = Stream(
        Reopening(
            port.address,
            profile=load_profiles()["prompted-pairs"],
            profiles={},
            openers=port.openers,
            clock=clock,
            listing=port.listing,
        ),
        choose,
        clock,
    )
    stream.start()
    assert done.wait(PATIENCE_S)
    stream.stop()
    return sweeps


def test_a_clock_set_back_changes_the_stamps_and_nothing_else() -> None:
    clock = SetClock()
    sweeps = swept(clock, [(3, lambda: setattr(clock, "set_by", timedelta(hours=-5)))])
    assert [each.sequence for each in sweeps] == [1, 2, 3, 4, 5, 6]
    steps_s = [
        (later.taken_at - earlier.taken_at).total_seconds()
        for earlier, later in itertools.pairwise(sweeps)
    ]
    assert steps_s[2] < -4.9 * 3600
    assert all(0 < step_s < 5 for at, step_s in enumerate(steps_s) if at != 2)


@pytest.mark.parametrize("at_read", range(10, 40, 3))
def test_a_machine_that_slept_in_the_midst_of_anything_sweeps_on(at_read: int) -> None:
    clock = SetClock()
    clock.sleeps_at_read = at_read
    sweeps = swept(clock, ())
    assert [each.sequence for each in sweeps] == [1, 2, 3, 4, 5, 6]
    lasted_s = (sweeps[-1].taken_at - sweeps[0].taken_at).total_seconds()
    assert lasted_s < SLEPT_S + 60
