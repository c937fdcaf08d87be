"""The engine under the bench: it follows the stream, and makes a moment of every sweep.

It owns the stream of sweeps, the plan and the passes that follow from it, the calibration, what is
held, and the acceptance. What comes of them is read from one immutable `Snapshot`, made anew for
each sweep and each command.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.recipe import NO_RECIPE, Recipe
from acquire.analyzer.stream import Stream
from acquire.clock import Clock, SystemClock
from acquire.spans import Span
from acquire.sweep import Sweep, SweepRequest
from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.one_port_calibration import Calibration
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions
from calibration.verification.reading_budget import Trust, noise_in
from dashboard.acceptance_run import Accepting
from dashboard.calibrating import Calibrating
from dashboard.covering import Covering
from dashboard.errors import NotNowError
from dashboard.holding import Holding
from dashboard.judging import Judged, judged
from dashboard.looking import Looking
from dashboard.placing import Placing
from dashboard.snapshot import PortState, Snapshot
from dashboard.touching import Touching
from dashboard.tuning import Tuning

if TYPE_CHECKING:
    from acquire.analyzer.connected_analyzer import Analyzer
    from replay.virtual_bench.simulated_bench import VirtualBench

LEAST_PATIENCE_S = 5.0
"""How long a next sweep is waited for, beyond what three sweeps take."""
LOOK_ROUND_S = 0.2
"""How often the stream's state is looked at while no sweep comes."""


class Engine:
    """Everything between a unit and the moment that is shown, safe to use from several threads."""

    def __init__(
        self,
        open_unit: Callable[[], Analyzer],
        *,
        address: str,
        kit: Kit | None,
        plan: Plan | None = None,
        calibration: Calibration | None = None,
        calibration_path: Path | None = None,
        calibrations_folder: Path,
        records_folder: Path,
        clock: Clock | None = None,
        step_khz: float | None = None,
        assumptions: Assumptions | None = None,
        recipe: Recipe = NO_RECIPE,
        learned_folder: Path | None = None,
        virtual_bench: VirtualBench | None = None,
        plane: PlaneText = NOT_MOVED,
        stopping: threading.Event | None = None,
    ) -> None:
        """Prepare; nothing is opened before `start`.

        open_unit : meets the unit; called again, for ever, whenever it was lost.
        address : how the port is called to a person.
        kit : the standards at hand; None until they are said.
        calibration : one made before, and where it is kept.
        step_khz : widest spacing of points; None leaves it to the bands.
        assumptions : what is taken to be so where nothing was measured or stated.
        recipe : what can be changed on the antenna; learned_folder : where what its dimensions do
            is kept from antenna to antenna, None keeps nothing.
        virtual_bench : what is on a virtual unit's port, where there is one to drive.
        plane : what lies between the connector and the antenna's feed, if that is to be undone.
        stopping : as a `Stream` takes it.
        """
        self.clock: Clock = SystemClock() if clock is None else clock
        self.virtual_bench = virtual_bench
        self._open_unit = open_unit
        self._address = address

        self._lock = threading.RLock()
        self._changed = threading.Condition(self._lock)
        self._watchers: dict[int, Callable[[], None]] = {}
        self._watched = 0

        self._plan = plan
        self._covering = Covering(step_khz, calibration)
        self._calibrating = Calibrating(
            kit,
            calibration,
            calibration_path,
            folder=calibrations_folder,
            clock=self.clock,
            assumptions=Assumptions() if assumptions is None else assumptions,
        )
        self._trust = Trust(self._calibrating.assumptions)
        self._tuning = Tuning(recipe, learned_folder)
        self._touching = Touching()
        self._placing = Placing(plane)
        self.records_folder = records_folder
        self._acceptance = Accepting(records_folder)
        self._looking = Looking(plan)
        self._holding = Holding()

        self._whole = False
        """True while nothing short may be swept in between."""
        self._stopping = threading.Event() if stopping is None else stopping
        self._stream = Stream(self._meet, self._next_passes, self.clock, self._stopping)
        self._worker = threading.Thread(target=self._work, name="bench", daemon=True)
        self._snapshot = self._moment(1)

    # ------------------------------------------------------------------ running

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

    def snapshot(self) -> Snapshot:
        """Return the newest moment."""
        with self._lock:
            return self._snapshot

    def wait_for(
        self, condition: Callable[[Snapshot], bool], timeout_s: float | None = None
    ) -> Snapshot:
        """Wait until a moment meets a condition; real seconds. Raises TimeoutError."""
        with self._changed:
            if not self._changed.wait_for(lambda: condition(self._snapshot), timeout_s):
                raise TimeoutError(f"Not met within {timeout_s} s.")
            return self._snapshot

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

    @contextmanager
    def _changing(self) -> Iterator[None]:
        """Hold the lock while something changes, then show it; where it fails, nothing changed."""
        with self._lock:
            yield
            self._publish()

    @contextmanager
    def _whole_alone(self) -> Iterator[None]:
        """Sweep whole, not short in between, as long as this lasts."""
        self._whole = True
        try:
            yield
        finally:
            self._whole = False

    def _after(self, before: Snapshot) -> Snapshot:
        """Wait for the next sweep's moment, or for the news that none comes."""
        patience_s = LEAST_PATIENCE_S
        if before.coverage is not None:
            patience_s += 3 * before.coverage.seconds
        try:
            return self.wait_for(
                lambda now: now.sequence > before.sequence or not now.fresh, patience_s
            )
        except TimeoutError:
            raise NotNowError(
                f"No sweep came within {patience_s:.0f} s. Check the unit, then ask again."
            ) from None

    # ----------------------------------------------------------------- the work

    def _meet(self) -> Analyzer:
        """Meet the unit, and sweep what it can of what is wanted."""
        analyzer = self._open_unit()
        with self._lock:
            self._looking.unit_is_back()
            self._calibrating.unit_is_gone()  # it was, if only for a moment
            self._covering.profile = analyzer.profile
            self._cover()
        return analyzer

    def _cover(self) -> None:
        """Work the passes out anew; called under the lock."""
        self._looking.sweep_anew()
        self._stream.look_again()
        self._covering.work_out(self._plan, self._calibrating.corrected(None)[1].calibration)

    def _next_passes(self) -> Sequence[SweepRequest]:
        """What to sweep now: asked by the sweeping thread before every sweep."""
        with self._lock:
            guided = self._calibrating.guided
            if guided is not None:
                return guided.request
            if self._covering.coverage is None:
                return ()
            return self._looking.next_passes(self._covering.coverage, whole=self._whole)

    def _work(self) -> None:
        """Follow the stream; where that fails, no verdict may stay on the page as if it held."""
        try:
            self._follow()
        except Exception:
            fault = "The bench failed by a fault of this program. Start it again, and report it."
            with self._lock:
                self._show(
                    replace(
                        self._snapshot,
                        version=self._snapshot.version + 1,
                        verdict=None,
                        port=PortState("lost", self._address, fault),
                    )
                )
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
                    self._take(sweep)
                if self._port().phase == "lost":
                    self._calibrating.unit_is_gone()
                if sweep is not None or self._has_moved():
                    self._publish()
            if self._stream.state.phase == "stopped":  # then nothing is waited for above
                self._stopping.wait(LOOK_ROUND_S)

    def _take(self, sweep: Sweep) -> None:
        looking = self._looking
        whole = looking.take(sweep, self.clock.monotonic())
        covering = self._covering
        if whole and covering.coverage is not None and covering.profile is not None:
            looking.watch(covering.coverage, covering.profile, self._tuning.watched)
        if looking.whole is None:
            return
        looking.count(sweep)
        plan = self._plan
        spans: Sequence[Span] = () if plan is None else plan.spans
        made = self._calibrating.made
        if self._calibrating.take(sweep, spans):
            looking.swept = 0
            self._cover()
        if self._calibrating.made != made:
            self._touching.forget()

    def _has_moved(self) -> bool:
        """True where the port, or the virtual bench, is not as it was last shown."""
        shown = self._snapshot
        bench = None if self.virtual_bench is None else self.virtual_bench.state()
        return self._port() != shown.port or bench != shown.bench

    # ------------------------------------------------------------- the snapshot

    def _publish(self) -> None:
        """Make the snapshot of this moment and tell everyone; called under the lock."""
        self._show(self._moment(self._snapshot.version + 1))

    def _moment(self, version: int) -> Snapshot:
        """What is so now, the tuning's state brought up to it; called under the lock."""
        looking, now_s = self._looking, self.clock.monotonic()
        averaged = looking.averaged
        found = judged(
            averaged,
            calibrating=self._calibrating,
            placing=self._placing,
            trust=self._trust,
            plan=self._plan,
            swept=looking.swept,
        )
        self._tune(found, now_s)
        if found.verdict is None:
            self._touching.leave()  # its margins are the verdict's
        return Snapshot(
            version=version,
            sweep=None if averaged is None else averaged.sweep,
            averaged=averaged,
            burst=looking.burst(now_s),
            swept=looking.swept,
            whole_at_s=looking.whole_at_s,
            watched=None if averaged is looking.whole else looking.focus,
            corrected=found.corrected,
            assumptions=self._trust.assumptions,
            trust=found.trust,
            budget=found.budget,
            verdict=found.verdict,
            tuned=None if found.verdict is None else self._tuning.shown(),
            acceptance=self._acceptance.state(self._plan),
            sweeping_since_s=looking.since_s,
            touch=self._touching.state,
            recipe=self._tuning.recipe,
            plan=self._plan,
            plane=self._placing.state,
            coverage=self._covering.coverage,
            coverage_problem=self._covering.problem,
            port=self._port(),
            calibration=found.calibration,
            holds=self._holding.all,
            bench=None if self.virtual_bench is None else self.virtual_bench.state(),
            seen_at_s=looking.seen_at_s,
        )

    def _tune(self, found: Judged, now_s: float) -> None:
        """Let the tuning look at what was judged, if it was."""
        corrected, budget, trust = found.corrected, found.budget, found.trust
        averaged = self._looking.averaged
        if found.verdict is None or self._plan is None or averaged is None:
            return
        if corrected is not None and budget is not None and trust is not None:
            self._tuning.take(
                corrected,
                averaged,
                trust,
                plan=self._plan,
                verdict=found.verdict,
                noise=noise_in(budget, corrected.reflection),
                now_s=now_s,
            )

    def _show(self, snapshot: Snapshot) -> None:
        """Replace the moment that is shown, and tell everyone; called under the lock."""
        self._snapshot = snapshot
        self._changed.notify_all()
        for stir in tuple(self._watchers.values()):
            stir()

    def _port(self) -> PortState:
        stream = self._stream.state
        profile, averaged = self._covering.profile, self._looking.whole
        # While a lost port is tried again it is still lost, as far as anyone can see.
        lost = stream.phase in ("connecting", "stopped") and stream.message != ""
        return PortState(
            phase="lost" if lost else stream.phase,
            address=self._address,
            message=stream.message,
            unit="" if averaged is None else averaged.sweep.source.unit,
            profile="" if profile is None else profile.name,
            unproven=profile is not None and profile.unproven,
            trouble=stream.counters.words,
        )
