"""Sweeps of a unit with which everything goes wrong, each held against what was there to see.

What is on the port here turns slowly and steadily, so a reading tells, point by point, when it was
taken: an old sweep, an exchanged point and a wrong digit all show.
"""

from __future__ import annotations

import itertools
import threading
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from acquire.analyzer.connected_analyzer import Counters
from acquire.analyzer.outliers import OUTLIER_FLOOR
from acquire.analyzer.profile import Profile, load_profiles
from acquire.analyzer.reconnection import Reopening
from acquire.analyzer.stream import Stream
from acquire.sweep import ComplexArray, FloatArray, Sweep, SweepRequest
from replay.clock import AcceleratedClock
from replay.faults.fault_kinds import Fault, FaultQueue, FaultStrike, Kind, draw
from replay.faults.faulty_analyzer import FaultyAnalyzer
from replay.faults.faulty_port import FaultyPort
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer

TURNS_RAD_PER_S = {"registers-queue": 1e-3}
"""By default 0.05, so that the floor of doubt is 80 ms and a sweep from before shows. Slower where
points are taken in any order, for what moves is not doubted there: at 1e-3 nothing seems to."""
DELAY_S = 1e-9
SIZE = 0.5
STARTED_S = 100.0
"""When the program starts: the unit has swept by itself for a while."""

CHARACTERS = {
    "prompted-pairs": ("prompted", b"\r\nch> ", b"a unit, just started\r\n\r\nch> "),
    "prompted-scan": ("scan", b"\r\nok> ", b"a unit, just started\r\n\r\nok> "),
    "scpi-ascii": ("scpi", b'0,"No error"\n', b""),
    "scpi-real64": ("scpi", b"\n", b""),
    "scpi-real32-swapped": ("scpi", b"\n", b""),
    "registers-queue": ("registers", b"\x32", b""),
}
"""What talks as each profile says, what ends its replies, and what it says when it has started."""

EXACT_TO = {
    # As the wire carries it: nine decimals, 3e7 counts, single precision; and what dividing the
    # receiver's errors out again magnifies that by [derived].
    "prompted-pairs": 5e-9,
    "prompted-scan": 5e-9,
    "scpi-ascii": 5e-11,
    "scpi-real64": 1e-12,
    "scpi-real32-swapped": 5e-6,
    "registers-queue": 5e-7,
}

# As many points as each unit has when it is switched on, too: a reset must not pass for a sweep.
REQUESTS = (
    (SweepRequest(780e6, 880e6, 101),),
    (SweepRequest(780e6, 880e6, 21), SweepRequest(1_700_000_000.0, 1_890_000_000.0, 39)),
    (SweepRequest(2_400_000_000.0, 2_500_000_000.0, 51),),
)


class LoneClock(AcceleratedClock):
    """For a lone thread of work: a wait is a jump, and nobody is let go first."""

    def wait(self, event: threading.Event, seconds: float) -> bool:
        if not event.is_set():
            self.advance(seconds)
        return event.is_set()


@dataclass(frozen=True)
class TurningPort:
    """Half reflected, its phase turning with frequency and with time."""

    turns_rad_per_s: float

    def port_reflection(self, frequency_hz: FloatArray, at_s: FloatArray) -> ComplexArray:
        turn = 2 * np.pi * frequency_hz * DELAY_S + self.turns_rad_per_s * at_s
        reflection: ComplexArray = SIZE * np.exp(-1j * turn)
        return reflection


@dataclass
class Tally:
    """What came of it."""

    faulted: int = 0
    """Sweeps during which at least one fault struck."""
    delivered: int = 0
    exact: int = 0
    unmeasured: int = 0
    """Of the exact: sweeps in which a point stands as not measured."""
    within: int = 0
    """Sweeps with a number off by less than `doubt_floor`: no reply tells that from noise."""
    furthest_within: float = 0.0
    wrong: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    """Longest from the end of a fault to the next sweep, on the clock."""
    slowest: Kind | None = None
    kinds: Counter[Kind] = field(default_factory=Counter)
    counters: Counters = field(default_factory=Counters)

    def line(self, name: str) -> str:
        """The same as a row of the table in docs/faults.md."""
        faults = sum(self.kinds.values())
        return (
            f"| {name} | {faults} | {self.faulted} | {self.delivered} | {self.exact} | "
            f"{self.within} (at most {self.furthest_within:.1g}) | {len(self.wrong)} | "
            f"{self.slowest_s:.2f} s |"
        )


class Soak:
    """A stream on a faulty unit; every sweep asked for meets the next fault in line."""

    def __init__(
        self,
        name: str,
        seed: int,
        sweeps: int,
        kinds: Sequence[Kind] = tuple(Kind),
        floor: float = 2 * OUTLIER_FLOOR,
    ) -> None:
        character, reply_end, banner = CHARACTERS[name]
        self._name, self._sweeps, self._kinds, self._floor = name, sweeps, tuple(kinds), floor
        self._turns = TURNS_RAD_PER_S.get(name, 0.05)
        self.profile: Profile = load_profiles()[name]
        self.clock = LoneClock()
        self.clock.advance(STARTED_S)
        self.fault_queue = FaultQueue()
        self.tally = Tally()
        self._rng = np.random.default_rng([seed, sorted(CHARACTERS).index(name)])
        self._asked_s = self.clock.monotonic()
        self._rounded_until_s = 0.0
        self._seen = 0
        self._asked = 0
        self._strikes: list[FaultStrike] = []
        self._passes = REQUESTS[0]
        self._grids: dict[SweepRequest, FloatArray] = {}
        self._done = threading.Event()
        self._order = itertools.cycle(self._kinds)

        def make(powered_s: float) -> VirtualAnalyzer:
            return VirtualAnalyzer(
                TurningPort(self._turns), character, noise=0.0, powered_s=powered_s
            )

        self._errors = make(0.0).receiver.errors
        port = FaultyPort(
            FaultyAnalyzer(make, self.fault_queue, banner), self.fault_queue, self.clock, reply_end
        )
        reopening = Reopening(
            port.address,
            profile=self.profile,
            profiles={},
            openers=port.openers,
            clock=self.clock,
            listing=port.listing,
        )
        self.stream = Stream(reopening, self._choose, self.clock)

    def run(self, patience_s: float = 3600.0) -> Tally:
        """Sweep so often, and tell what came of it."""
        self.stream.start()
        assert self._done.wait(patience_s)
        self.stream.stop()
        self.tally.counters = self.stream.state.counters
        return self.tally

    def _choose(self) -> Sequence[SweepRequest]:
        """Asked by the stream before every sweep, in its own thread."""
        sweep = self.stream.latest()
        if sweep is not None and sweep.sequence > self._seen:
            self._seen = sweep.sequence
            self._judge(sweep)
        if self.tally.faulted >= self._sweeps:
            self._done.set()
            return ()
        # unharmed ones in between: what each request looks like, and that the stream has recovered
        if self._asked < len(REQUESTS):
            self._passes = REQUESTS[self._asked]
        else:
            self._passes = REQUESTS[int(self._rng.integers(len(REQUESTS)))]
            self.fault_queue.arm(*self._faults())
        self._asked += 1
        self._asked_s = self.clock.monotonic()
        return self._passes

    def _faults(self) -> list[Fault]:
        count = int(self._rng.choice([1, 1, 1, 2, 3]))
        return [draw(next(self._order), *self._bytes(), self._rng) for _ in range(count)]

    def _bytes(self) -> tuple[int, int]:
        """About as many as one sweep takes, in and out."""
        points = sum(each.points for each in self._passes)
        a_point, a_pass = {
            "prompted": (60, 75),
            "scan": (36, 35),
            "scpi": (40, 240),
            "registers": (32, 80),
        }[CHARACTERS[self._name][0]]
        return points * a_point + 100, a_pass * len(self._passes)

    def _judge(self, sweep: Sweep) -> None:
        tally, now_s = self.tally, self.clock.monotonic()
        tally.delivered += 1
        strikes = self.fault_queue.strikes()
        tally.faulted += bool(strikes)
        tally.kinds.update(each.fault.kind for each in strikes)
        if strikes:
            last = max(strikes, key=lambda each: each.ended_s)
            recovered_s = now_s - last.ended_s
            if recovered_s > tally.slowest_s:
                tally.slowest_s, tally.slowest = recovered_s, last.fault.kind
        off, latest_s = self._off(sweep, now_s)
        # or as a clock tells that has run for weeks
        exact = max(EXACT_TO[self._name], 4 * self._turns * float(np.spacing(now_s)))
        where = f"sweep {sweep.sequence}, {[str(each.fault.kind) for each in strikes]}"
        if odd := self._odd_frequencies(sweep, strikes):
            tally.wrong.append(f"{where}: {odd}")
        elif off > self._floor:
            tally.wrong.append(f"{where}: off by {off:.3g}, taken {latest_s:.3f} s later")
        elif off > exact:
            tally.within += 1
            tally.furthest_within = max(tally.furthest_within, off)
        else:
            tally.exact += 1
            tally.unmeasured += not np.isfinite(sweep.reflection).all()

    def _off(self, sweep: Sweep, now_s: float) -> tuple[float, float]:
        """How far the worst point is from all there was to see since the sweep was asked for."""
        seen = np.isfinite(sweep.reflection)
        frequency = sweep.frequency_hz[seen]
        errors = self._errors(frequency)
        corrected = (sweep.reflection[seen] - errors.directivity) / errors.reflection_tracking
        reflection = corrected / (1.0 + errors.source_match * corrected)
        turned = reflection * np.exp(2j * np.pi * frequency * DELAY_S) / SIZE
        # when each point was taken, by its phase: after it was asked for, a full turn aside
        round_s = 2 * np.pi / self._turns
        about = np.exp(-1j * self._turns * self._asked_s)
        after_s = np.mod(-np.angle(turned / about) / self._turns, round_s)
        window_s = now_s - self._asked_s
        too_late = after_s > window_s
        nearest_s = np.where(after_s - window_s < round_s - after_s, window_s, 0.0)
        at_s = self._asked_s + np.where(too_late, nearest_s, after_s)
        right = np.exp(-1j * self._turns * at_s)
        off = float(np.abs(turned - right).max(initial=0.0) * SIZE)
        return off, float(after_s.max(initial=0.0))

    def _odd_frequencies(self, sweep: Sweep, strikes: Sequence[FaultStrike]) -> str:
        """How they differ from what was asked, in whole hertz, or from what a fault in the unit
        made of it; nothing where they do not."""
        kinds = {each.fault.kind for each in strikes}
        for each in strikes:
            if each.fault.kind is Kind.DIGITS:
                self._rounded_until_s = max(self._rounded_until_s, each.ended_s)
        at = 0
        for request in sweep.request:
            told, at = sweep.frequency_hz[at : at + request.points], at + request.points
            clean = self._grids.setdefault(request, told)
            roundings = (3, 10, 100, 1000) if self._asked_s <= self._rounded_until_s else ()
            rounded = [np.rint(request.grid_hz() / each) * each for each in roundings]
            if self._name == "scpi-real32-swapped":
                rounded = [each.astype(np.float32).astype(np.float64) for each in rounded]
            # what the unit heard and really swept: another step, but one step
            misheard = kinds & {Kind.FLIPPED_COMMAND, Kind.LOST_COMMAND}
            heard = misheard and np.ptp(np.diff(told)) <= 1.0
            if not (heard or any(np.array_equal(each, told) for each in [clean, *rounded])):
                off_hz = told - clean
                return f"frequencies, {np.count_nonzero(off_hz)} by up to {np.ptp(off_hz):g} Hz"
        return ""
