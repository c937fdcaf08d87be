"""The engine under the bench: its one lock, the stream of sweeps, and the moment that is shown.

It knows none of the bench's parts. What a sweep means to them is told by a `Work`, and they change
under the engine's lock, by `changing`: every change shows a new immutable `Snapshot`.
"""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Protocol

from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import Profile
from acquire.analyzer.stream import Stream
from acquire.clock import Clock, SystemClock
from acquire.port.transport import StoppedError
from acquire.sweep import Sweep, SweepRequest
from dashboard.bench.obstacles import with_obstacles
from dashboard.bench.snapshot import PortPhase, PortState, Snapshot
from dashboard.errors import NotNowError
from dashboard.files.defect_log import keep_defect, keep_reply_defect

LEAST_PATIENCE_S = 5.0
"""How long a next sweep is waited for, beyond what three sweeps take."""
LOOK_ROUND_S = 0.2
"""How often the stream's state is looked at while no sweep comes."""


class Work(Protocol):
    """What becomes of that which the engine brings; each is called under the engine's lock."""

    def meet(self, profile: Profile) -> None:
        """An analyzer was met, the first one or anew."""
        ...

    def next_passes(self) -> Sequence[SweepRequest]:
        """What to sweep now: asked before every sweep."""
        ...

    def take(self, sweep: Sweep) -> None:
        """The newest sweep is in."""
        ...

    def lose(self) -> None:
        """The analyzer is not there."""
        ...

    def has_moved(self, shown: Snapshot) -> bool:
        """True where something is not as it was last shown, though no sweep came."""
        ...

    def moment(self, version: int, port: PortState) -> Snapshot:
        """Everything as it is now."""
        ...


class Engine:
    """Everything between an analyzer and the moment that is shown.

    Every method may be called from any thread. The lock is reentrant: whoever holds it may ask
    and change. Nobody waits under it for a sweep (`after`, `wait_for`), for it is taken with each.
    """

    def __init__(
        self,
        connect_analyzer: Callable[[], Analyzer],
        *,
        address: str,
        clock: Clock | None = None,
        stopping: threading.Event | None = None,
    ) -> None:
        """Prepare; nothing is shown before `work_for`, and nothing opened before `start`.

        open_analyzer : meets the analyzer; called again, for ever, whenever it was lost.
        address : how the port is called to a person.
        stopping : as a `Stream` takes it.
        """
        self.clock: Clock = SystemClock() if clock is None else clock
        self._connect_analyzer = connect_analyzer
        self._address = address
        self._choosable = False
        self._first = 1
        self._lock = threading.RLock()
        self._changed = threading.Condition(self._lock)
        self._watchers: dict[int, Callable[[], None]] = {}
        self._watched = 0
        self._profile: Profile | None = None
        self._analyzer_name = ""
        self._work: Work | None = None
        self._shown: Snapshot | None = None
        self._stopping = threading.Event() if stopping is None else stopping
        self._stream = Stream(
            self._meet, self._next_passes, self.clock, self._stopping, keep_reply_defect
        )
        self._worker = threading.Thread(target=self._follow_or_tell, name="bench", daemon=True)

    # ------------------------------------------------------------------ running

    def work_for(self, work: Work) -> None:
        """Bring everything to this from now on, and show the first moment."""
        with self._lock:
            self._work = work
            self._show(work.moment(1, self.port()))

    def start(self) -> None:
        """Begin to sweep."""
        self._stream.start()
        self._worker.start()

    def close(self) -> None:
        """Stop sweeping and let go of the port; closing twice does no harm."""
        self._stopping.set()
        self._stream.stop()
        if self._worker.is_alive() and self._worker is not threading.current_thread():
            self._worker.join()

    def switch(self, connect_analyzer: Callable[[], Analyzer], address: str) -> None:
        """Let go of the analyzer, and meet the one at another address; called under the lock.

        Sweeps of the one before that are still on their way are not taken.
        """
        self._connect_analyzer, self._address = connect_analyzer, address
        self._profile, self._analyzer_name = None, ""
        self._first = self._stream.reconnect() + 1

    def offer_ports(self) -> None:
        """Say with every moment that another port may be chosen; called under the lock."""
        self._choosable = True

    def wake(self) -> None:
        """Other passes are wanted: ask for them at once, where nothing could be swept before."""
        self._stream.wake()

    # --------------------------------------------------------------- the moment

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Hold the lock, to ask for what belongs together."""
        with self._lock:
            yield

    @contextmanager
    def changing(self) -> Iterator[None]:
        """Hold the lock while something changes, then show it; where it fails, nothing changed."""
        with self._lock:
            yield
            self._publish()

    def snapshot(self) -> Snapshot:
        """Return the newest moment. Raises NotNowError before the first."""
        with self._lock:
            if self._shown is None:
                raise NotNowError("There is nothing to show yet. Wait for the first sweep.")
            return self._shown

    def wait_for(
        self, condition: Callable[[Snapshot], bool], timeout_s: float | None = None
    ) -> Snapshot:
        """Wait until a moment meets a condition; real seconds. Raises TimeoutError."""
        with self._changed:
            if not self._changed.wait_for(lambda: condition(self.snapshot()), timeout_s):
                raise TimeoutError(f"Not met within {timeout_s} s.")
            return self.snapshot()

    def watch(self, stir: Callable[[], None]) -> Callable[[], None]:
        """Call `stir` after every new snapshot, from any thread; returns what ends that."""
        with self._lock:
            self._watched += 1
            number = self._watched
            self._watchers[number] = stir

        def forget() -> None:
            with self._lock:
                self._watchers.pop(number, None)

        return forget

    def after(self, before: Snapshot) -> Snapshot:
        """Wait for the next sweep's moment, or for the news that none comes.

        Raises NotNowError where neither comes for longer than sweeps take.
        """
        patience_s = LEAST_PATIENCE_S
        if before.coverage is not None:
            patience_s += 3 * before.coverage.seconds
        try:
            return self.wait_for(
                lambda now: now.sequence > before.sequence or not now.fresh, patience_s
            )
        except TimeoutError:
            raise NotNowError(
                f"No sweep came within {patience_s:.0f} s. Check the analyzer, then ask again."
            ) from None

    def port(self) -> PortState:
        """How it stands with the analyzer, now."""
        stream = self._stream.state
        with self._lock:
            profile, analyzer = self._profile, self._analyzer_name
        # While a lost port is tried again it is still lost, as far as anyone can see.
        lost = stream.phase in ("connecting", "stopped") and stream.message != ""
        phase: PortPhase = "lost" if lost else stream.phase
        if not self._address:
            phase = "unchosen"
        return PortState(
            phase=phase,
            address=self._address,
            message="" if phase == "unchosen" else stream.message,
            choosable=self._choosable,
            analyzer=analyzer,
            profile="" if profile is None else profile.name,
            unproven=profile is not None and profile.unproven,
            trouble=stream.counters.words,
        )

    # ----------------------------------------------------------------- the work

    def _meet(self) -> Analyzer:
        """Meet the analyzer; called by the sweeping thread."""
        with self._lock:
            connect = self._connect_analyzer
        analyzer = connect()
        with self._lock:
            if connect is not self._connect_analyzer:  # another port was chosen meanwhile
                analyzer.close()
                raise StoppedError("Another port was chosen.")
            self._profile = analyzer.profile
            if self._work is not None:
                self._work.meet(analyzer.profile)
        return analyzer

    def _next_passes(self) -> Sequence[SweepRequest]:
        """What to sweep now; called by the sweeping thread."""
        with self._lock:
            return () if self._work is None else self._work.next_passes()

    def _follow_or_tell(self) -> None:
        """Follow the stream; where that fails, no verdict may stay on the page as if it held."""
        try:
            self._follow()
        except Exception as error:
            keep_defect("".join(traceback.format_exception(error)), "following the sweeps")
            fault = "The bench failed by a fault of this program. Start it again, and report it."
            with self._lock:
                shown = self.snapshot()
                failed = PortState("lost", self._address, fault)
                self._show(replace(shown, version=shown.version + 1, verdict=None, port=failed))
            raise

    def _follow(self) -> None:
        """Take each newest sweep, and notice what becomes of the stream."""
        latest = self._stream.subscribe()
        seen = 0
        while not self._stopping.is_set():
            sweep = latest.wait(seen, LOOK_ROUND_S)
            with self._lock:
                if sweep is not None:
                    seen = sweep.sequence
                self._notice(sweep)
            if self._stream.state.phase == "stopped":  # then nothing is waited for above
                self._stopping.wait(LOOK_ROUND_S)

    def _notice(self, sweep: Sweep | None) -> None:
        """Hand a sweep over, and what became of the analyzer; called under the lock."""
        work, shown = self._work, self._shown
        if work is None or shown is None:
            return
        if sweep is not None and sweep.sequence < self._first:
            sweep = None
        if sweep is not None:
            self._analyzer_name = sweep.source.analyzer
            work.take(sweep)
        if self.port().phase == "lost":
            work.lose()
        if sweep is not None or self.port() != shown.port or work.has_moved(shown):
            self._publish()

    def _publish(self) -> None:
        """Make the snapshot of this moment and tell everyone; called under the lock."""
        if self._work is not None and self._shown is not None:
            self._show(self._work.moment(self._shown.version + 1, self.port()))

    def _show(self, snapshot: Snapshot) -> None:
        """Replace the moment that is shown, and tell everyone; called under the lock."""
        self._shown = with_obstacles(snapshot)
        self._changed.notify_all()
        for stir in tuple(self._watchers.values()):
            stir()
