"""Sweeping without end, in a thread of its own.

Viewers get the newest sweep and miss what they are too slow for; recorders get every sweep. A
lost port is opened again, for ever, ever more patiently, until a sweep has come. An analyzer that
cannot sweep what is asked of it is not lost: it keeps its port, and waits for something else.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from acquire.analyzer.connected_analyzer import Analyzer, Counters
from acquire.clock import Clock, SystemClock
from acquire.errors import AcquireError, BandwrightError, CoverageError, ReplyDefectError
from acquire.port.transport import StoppedError
from acquire.sweep import Source, Sweep, SweepRequest

FIRST_WAIT_S = 0.25
LONGEST_WAIT_S = 1.0
"""Before a lost port is opened again: doubled from the first to the longest. So long, too, an
analyzer without anything it can sweep is left alone before it is asked again what there is."""
STOP_WITHIN_S = 1.0
"""Longest wait for the thread to end; one that the system holds back (opening a port far away, or
a write that is not taken) is left behind, and lets go of the port as soon as it can."""
RECORDER_CAPACITY = 256
"""Sweeps; at ten a second a recorder may be away for almost half a minute."""

Phase = Literal["connecting", "sweeping", "refused", "lost", "stopped"]
"""Refused: the analyzer is there, and cannot sweep what is asked of it."""


class RecorderFullError(AcquireError):
    """A recorder was away for too long: what it holds is whole, what came after is not there."""


@dataclass(frozen=True, slots=True)
class StreamState:
    """What a stream is doing."""

    phase: Phase
    since: datetime
    """When this phase began."""
    message: str
    """Why, in one sentence, where there is something to say."""
    counters: Counters
    """Over all connections."""
    source: Source | None
    """The analyzer last met."""


class Latest:
    """The newest sweep, for any number of viewers: a slow one misses sweeps, never delays them."""

    def __init__(self) -> None:
        self._condition = threading.Condition()
        self._newest: Sweep | None = None
        self._closed = False

    @property
    def newest(self) -> Sweep | None:
        """The newest sweep; None before the first."""
        return self._newest

    def put(self, sweep: Sweep) -> None:
        """Replace the newest sweep."""
        with self._condition:
            self._newest = sweep
            self._condition.notify_all()

    def close(self) -> None:
        """Say that no more will come."""
        with self._condition:
            self._closed = True
            self._condition.notify_all()

    def wait(self, after_sequence: int, timeout_s: float | None = None) -> Sweep | None:
        """Wait for a sweep newer than that one and return the newest.

        None once so many seconds have passed without one, or no more will come.
        """
        with self._condition:
            self._condition.wait_for(
                lambda: self._closed or self._is_newer(after_sequence), timeout_s
            )
            return self._newest if self._is_newer(after_sequence) else None

    def _is_newer(self, after_sequence: int) -> bool:
        return self._newest is not None and self._newest.sequence > after_sequence


class Recorder:
    """Every sweep in order, for one recorder; it says so if it had to give up."""

    def __init__(self, capacity: int) -> None:
        self._condition = threading.Condition()
        self._sweeps: deque[Sweep] = deque()
        self._capacity = capacity
        self._overflowed = False
        self._closed = False

    @property
    def closed(self) -> bool:
        """True where it takes no more sweeps."""
        with self._condition:
            return self._closed or self._overflowed

    def put(self, sweep: Sweep) -> None:
        """Add a sweep; once one did not fit, none is added any more."""
        with self._condition:
            if self._closed or self._overflowed:
                return
            if len(self._sweeps) == self._capacity:
                self._overflowed = True
            else:
                self._sweeps.append(sweep)
            self._condition.notify_all()

    def close(self) -> None:
        """Take no more sweeps; those that are there can still be got."""
        with self._condition:
            self._closed = True
            self._condition.notify_all()

    def get(self, timeout_s: float | None = None) -> Sweep | None:
        """Return the next sweep; None once so many seconds have passed, or no more will come.

        Raises RecorderFullError where the next one did not fit.
        """
        with self._condition:
            self._condition.wait_for(
                lambda: self._sweeps or self._overflowed or self._closed, timeout_s
            )
            if self._sweeps:
                return self._sweeps.popleft()
            if self._overflowed:
                raise RecorderFullError(
                    f"The recorder fell more than {self._capacity} sweeps behind, so later sweeps "
                    "were lost. Start a new recording on a faster disk."
                )
            return None


class Stream:
    """Sweeps one analyzer until it is stopped."""

    def __init__(
        self,
        connect_analyzer: Callable[[], Analyzer],
        passes: Sequence[SweepRequest] | Callable[[], Sequence[SweepRequest]] = (),
        clock: Clock | None = None,
        stopping: threading.Event | None = None,
        note_defect: Callable[[Exception], None] = lambda _: None,
    ) -> None:
        """Prepare to sweep.

        open_unit : connects, and is called again after every loss; see
            `acquire.analyzer.reconnection`.
        passes : what to sweep, or what is asked before every sweep; while there is nothing, the
            analyzer is connected and waits.
        stopping : set when it is told to stop; given to what opens the analyzer, that ends too.
        note_defect : keeps a ReplyDefectError, one of each kind.
        """
        self._note_defect = note_defect
        self._noted: set[type] = set()
        self._connect_analyzer = connect_analyzer
        self._passes: tuple[SweepRequest, ...] = () if callable(passes) else tuple(passes)
        self._choose = passes if callable(passes) else None
        self._clock = SystemClock() if clock is None else clock
        self._latest = Latest()
        self._recorders: list[Recorder] = []
        self._ended = False
        self._wait_s = FIRST_WAIT_S
        self._changed = threading.Condition()
        self._wake = threading.Event()
        self._stopping = threading.Event() if stopping is None else stopping
        self._leaving = False
        self._analyzer: Analyzer | None = None
        self._before = Counters()
        self._sequence = 0
        self._state = StreamState("stopped", self._clock.now(), "", Counters(), None)
        self._thread = threading.Thread(target=self._run, name="sweeps", daemon=True)

    def start(self) -> None:
        """Begin; a stream runs once."""
        self._thread.start()

    def stop(self) -> None:
        """End, also in the middle of a sweep, and let go of the port; stopping twice is fine."""
        with self._changed:
            self._stopping.set()
            analyzer = self._analyzer
        self._wake.set()
        if analyzer is not None:
            analyzer.interrupt()
        if self._thread.ident is not None and self._thread is not threading.current_thread():
            self._thread.join(STOP_WITHIN_S)

    def reconnect(self) -> int:
        """Let go of the analyzer, also in the middle of a sweep, and connect anew at once.

        Returns the number of the last sweep of before; a later one is of the new connection.
        """
        with self._changed:
            self._leaving = True
            analyzer, last = self._analyzer, self._sequence
            self._enter("connecting", "")
        self._wake.set()
        if analyzer is not None:
            analyzer.interrupt()
        return last

    def set_passes(self, passes: Sequence[SweepRequest]) -> None:
        """Sweep this from the next sweep on."""
        with self._changed:
            self._passes = tuple(passes)
        self._wake.set()

    def wake(self) -> None:
        """Ask again what to sweep, where nothing was to be swept before."""
        self._wake.set()

    def latest(self) -> Sweep | None:
        """The newest sweep; None before the first."""
        return self._latest.newest

    def subscribe(self) -> Latest:
        """Where viewers wait for newer sweeps."""
        return self._latest

    def record(self, capacity: int = RECORDER_CAPACITY) -> Recorder:
        """Every sweep from now on; close it when done. After the end it comes closed."""
        recorder = Recorder(capacity)
        with self._changed:
            if self._ended:
                recorder.close()
            else:
                self._recorders.append(recorder)
        return recorder

    @property
    def state(self) -> StreamState:
        """What the stream is doing, now."""
        with self._changed:
            counters = (
                self._before if self._analyzer is None else self._before + self._analyzer.counters
            )
            return replace(self._state, counters=counters)

    def wait_for(self, phase: Phase, timeout_s: float | None = None) -> bool:
        """Wait until the stream is in a phase; False once so many seconds have passed."""
        with self._changed:
            return self._changed.wait_for(lambda: self._state.phase == phase, timeout_s)

    def _run(self) -> None:
        ended = "Sweeping stopped by a fault in this program. Start again, and please report it."
        try:
            self._keep_connected()
            ended = ""
        finally:
            self._latest.close()
            with self._changed:
                self._ended = True
                recorders, self._recorders = self._recorders, []
            for recorder in recorders:
                recorder.close()
            self._enter("stopped", ended)

    def _keep_connected(self) -> None:
        while not self._stopping.is_set():
            with self._changed:
                message = "" if self._leaving else self._state.message
                if self._leaving:
                    self._leaving, self._wait_s = False, FIRST_WAIT_S
            self._enter("connecting", message)
            try:
                self._sweep_on(self._connect_analyzer())
            except StoppedError:
                if not self._leaving:
                    return
            except BandwrightError as fault:
                if self._leaving:
                    continue
                self._note(fault)
                self._enter("lost", str(fault))
                self._rest(self._wait_s)
                self._wait_s = min(2 * self._wait_s, LONGEST_WAIT_S)

    def _note(self, fault: BandwrightError) -> None:
        """Keep a defect once for each kind: an analyzer may bring it about again and again."""
        if isinstance(fault, ReplyDefectError) and type(fault.__cause__) not in self._noted:
            self._noted.add(type(fault.__cause__))
            self._note_defect(fault)

    def _sweep_on(self, analyzer: Analyzer) -> None:
        """Sweep until stopped or let go of (returns or raises StoppedError), or lost (raises)."""
        with self._changed:
            self._analyzer = analyzer
            self._state = replace(self._state, source=analyzer.source)
        self._enter("sweeping", "")
        try:
            while not (self._stopping.is_set() or self._leaving):
                self._wake.clear()
                passes = self._passes if self._choose is None else tuple(self._choose())
                swept = self._swept(analyzer, passes)
                if not (swept or self._stopping.is_set() or self._leaving):
                    self._clock.wait(self._wake, LONGEST_WAIT_S)
        finally:
            with self._changed:
                self._analyzer = None
                self._before += analyzer.counters + Counters(
                    losses=int(not (self._stopping.is_set() or self._leaving))
                )
            analyzer.close()

    def _swept(self, analyzer: Analyzer, passes: Sequence[SweepRequest]) -> bool:
        """Sweep once and hand it out; False where there is nothing that the analyzer can sweep."""
        sweep, refusal = None, ""
        if passes:
            try:
                sweep = analyzer.sweep(passes)
            except CoverageError as fault:
                refusal = str(fault)
        if self._leaving:
            return True
        phase: Phase = "refused" if refusal else "sweeping"
        if (phase, refusal) != (self._state.phase, self._state.message):
            self._enter(phase, refusal)
        if sweep is None:
            return False
        self._wait_s = FIRST_WAIT_S
        self._publish(sweep)
        return True

    def _publish(self, sweep: Sweep) -> None:
        """Number a sweep through over all connections, and hand it to everyone."""
        with self._changed:
            if self._leaving:  # nobody waits for it any more
                return
            self._sequence += 1
            sweep = replace(sweep, sequence=self._sequence)
            self._recorders = [each for each in self._recorders if not each.closed]
            recorders = tuple(self._recorders)
        for recorder in recorders:
            recorder.put(sweep)
        self._latest.put(sweep)

    def _rest(self, seconds: float) -> None:
        self._wake.clear()
        if not (self._stopping.is_set() or self._leaving):
            self._clock.wait(self._wake, seconds)

    def _enter(self, phase: Phase, message: str) -> None:
        with self._changed:
            self._state = StreamState(
                phase, self._clock.now(), message, self._before, self._state.source
            )
            self._changed.notify_all()
