"""The bench: one engine that a page, or anything else that shows the work, drives.

It owns the stream of sweeps, the plan and the passes that follow from it, the calibration, what is
held, and the acceptance. Commands may come from any thread; what comes of them is read from one
immutable `Snapshot`, made anew for each sweep and each command.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from acceptance.plan import Plan
from acceptance.verdict import judge
from acquire.clock import Clock, SystemClock
from acquire.coverage import Coverage, Limits, Span, continuous_spans, cover
from acquire.errors import CoverageError
from acquire.stream import Stream
from acquire.sweep import Sweep
from calibration.budget import Assumptions
from calibration.calibrated import Calibration
from calibration.kit import Kit
from calibration.trust import Trust
from dashboard.accepting import steady_moment, write_down
from dashboard.calibrating import Calibrating
from dashboard.errors import NotNowError
from dashboard.snapshot import Hold, PortState, Snapshot

if TYPE_CHECKING:
    from acquire.analyzer import Analyzer
    from acquire.profile import Profile
    from replay.virtual_bench import VirtualBench

SURROUNDINGS = 0.15
"""How far around each wanted edge the overview reaches, as a part of its frequency: a dip on its
way to a band is seen from there."""
WITHOUT_A_PLAN: Span = (690e6, 2700e6)
"""What is swept while no bands are chosen: where most cellular bands lie."""
MOST_HOLDS = 20
LEAST_PATIENCE_S = 5.0
"""How long an acceptance waits for a sweep, beyond what three sweeps take."""
LOOK_ROUND_S = 0.2
"""How often the stream's state is looked at while no sweep comes."""


def surroundings(spans: Sequence[Span], limits: Limits) -> list[Span]:
    """What to sweep around each span that the unit reaches, as far as the unit reaches, Hz."""
    return [
        (
            max(low_hz * (1 - SURROUNDINGS), limits.low_hz),
            min(high_hz * (1 + SURROUNDINGS), limits.high_hz),
        )
        for low_hz, high_hz in spans
        if low_hz < limits.high_hz and high_hz > limits.low_hz
    ]


class Bench:
    """Everything between a unit and a person, safe to use from several threads."""

    def __init__(
        self,
        open_unit: Callable[[], Analyzer],
        *,
        address: str,
        kit: Kit,
        plan: Plan | None = None,
        calibration: Calibration | None = None,
        calibration_path: Path | None = None,
        calibrations_folder: Path,
        records_folder: Path,
        clock: Clock | None = None,
        step_hz: float | None = None,
        assumptions: Assumptions | None = None,
        virtual_bench: VirtualBench | None = None,
    ) -> None:
        """Prepare; nothing is opened before `start`.

        open_unit : meets the unit; called again, for ever, whenever it was lost.
        address : how the port is called to a person.
        kit : the standards at hand. calibration : one made before, and where it is kept.
        step_hz : widest spacing of points; None leaves it to the bands.
        assumptions : what is taken to be so where nothing was measured or stated.
        virtual_bench : what is on a virtual unit's port, where there is one to drive.
        """
        self.clock: Clock = SystemClock() if clock is None else clock
        self.virtual_bench = virtual_bench
        self._open_unit = open_unit
        self._address = address
        self._records_folder = records_folder
        self._step_hz = step_hz

        self._lock = threading.RLock()
        self._changed = threading.Condition(self._lock)
        self._watchers: dict[int, Callable[[], None]] = {}
        self._watched = 0

        self._profile: Profile | None = None
        self._plan = plan
        self._coverage: Coverage | None = None
        self._coverage_problem = ""
        self._calibrating = Calibrating(
            kit, calibration, calibration_path, folder=calibrations_folder, clock=self.clock
        )
        self._trust = Trust(Assumptions() if assumptions is None else assumptions)
        self._holds: tuple[Hold, ...] = ()
        self._held = 0
        self._sweep: Sweep | None = None
        self._seen_at_s: float | None = None
        self._snapshot = self._first_snapshot()

        self._stream = Stream(self._meet, (), self.clock)
        self._stopping = threading.Event()
        self._worker = threading.Thread(target=self._work, name="bench", daemon=True)

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

    # ----------------------------------------------------------------- commands

    def use_plan(self, plan: Plan) -> None:
        """Judge by another plan from now on, and sweep what it needs.

        Raises NotNowError while a calibration runs: its standards must share their frequencies.
        """
        with self._changing():
            if self._calibrating.running:
                raise NotNowError(
                    "The bands cannot be changed while a calibration runs. Finish it, or leave it."
                )
            self._plan = plan
            self._cover()

    def use_kit(self, kit: Kit) -> None:
        """Calibrate with other standards from now on. Raises NotNowError while one runs."""
        with self._changing():
            self._calibrating.use_kit(kit)

    def begin_calibration(self) -> None:
        """Start a guided calibration over the passes that are swept now.

        Raises NotNowError while the unit's limits are not known, CalibrationError where the kit
        does not describe its standards at these frequencies.
        """
        with self._changing():
            if self._profile is None or self._coverage is None:
                raise NotNowError(
                    "There is nothing to calibrate before the unit has answered. Connect it first."
                )
            passes = self._coverage.passes
            steps_hz = self._profile.limits.range_steps_hz
            self._calibrating.begin(passes, continuous_spans(passes, steps_hz))

    def standard_is_on(self) -> None:
        """The person says that the standard asked for is on: capture it."""
        with self._changing():
            self._calibrating.standard_is_on()

    def redo(self, standard: str) -> None:
        """Measure one standard of the running calibration again."""
        with self._changing():
            self._calibrating.redo(standard)

    def leave_calibration(self) -> None:
        """Leave the running calibration; the one before it, if any, holds again."""
        with self._changing():
            self._calibrating.leave()

    def hold(self) -> None:
        """Keep the trace that is shown, to compare with."""
        with self._changing():
            shown = self._snapshot.shown
            if shown is None:
                raise NotNowError("There is no trace to hold yet. Wait for the first sweep.")
            self._held += 1
            self._holds = (*self._holds, Hold(self._held, shown))[-MOST_HOLDS:]

    def undo_hold(self) -> None:
        """Let go of the newest held trace; the one before it is shown again."""
        with self._changing():
            if not self._holds:
                raise NotNowError("Nothing is held.")
            self._holds = self._holds[:-1]

    def accept(self, unit: str, operator: str = "", note: str = "") -> Path:
        """Write the record of the next steady sweep, and return its folder.

        Raises NotNowError where it must not be accepted, RecordError where it cannot be written.
        """
        if not unit.strip():
            raise NotNowError("An accepted antenna needs a name. Give it the one on its label.")
        return write_down(
            steady_moment(self.snapshot(), self._after),
            unit=unit,
            operator=operator,
            note=note,
            accepted_at=self.clock.now(),
            assumptions=self._trust.assumptions,
            parent=self._records_folder,
        )

    def screw_on(self, name: str) -> None:
        """Screw something on to the virtual bench's port. Raises BenchError, NotNowError."""
        with self._changing():
            self._virtual().screw_on(name)

    def bend(self, dimension: str, delta_mm: float) -> None:
        """Bend the virtual antenna. Raises BenchError, NotNowError."""
        with self._changing():
            self._virtual().bend(dimension, delta_mm)

    @contextlib.contextmanager
    def _changing(self) -> Iterator[None]:
        """Hold the lock while something changes, then show it; where it fails, nothing changed."""
        with self._lock:
            yield
            self._publish()

    # ----------------------------------------------------------------- the work

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
                f"No sweep came within {patience_s:.0f} s. Check the unit, then accept again."
            ) from None

    def _meet(self) -> Analyzer:
        """Meet the unit, and sweep what it can of what is wanted."""
        analyzer = self._open_unit()
        with self._lock:
            self._profile = analyzer.profile
            self._cover()
        return analyzer

    def _cover(self) -> None:
        """Work the passes out anew; called under the lock."""
        if self._profile is None:
            return
        limits, timing = self._profile.limits, self._profile.timing
        plan = self._plan
        spans: Sequence[Span] = (WITHOUT_A_PLAN,) if plan is None else plan.spans
        try:
            self._coverage = cover(
                [*spans, *surroundings(spans, limits)],
                limits=limits,
                step_hz=self._step_hz,
                margin=0.0 if plan is None else plan.margin,
                seconds_per_point=timing.seconds_per_point,
            )
            self._coverage_problem = ""
        except CoverageError as error:
            self._coverage_problem = str(error)
            return
        self._stream.set_passes(self._coverage.passes)

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
                if sweep is not None or self._has_moved():
                    self._publish()
            if self._stream.state.phase == "stopped":  # then nothing is waited for above
                self._stopping.wait(LOOK_ROUND_S)

    def _take(self, sweep: Sweep) -> None:
        self._sweep = sweep
        self._seen_at_s = self.clock.monotonic()
        self._calibrating.take(sweep)

    def _has_moved(self) -> bool:
        """True where the port, or the virtual bench, is not as it was last shown."""
        shown = self._snapshot
        bench = None if self.virtual_bench is None else self.virtual_bench.state()
        return self._port() != shown.port or bench != shown.bench

    def _virtual(self) -> VirtualBench:
        if self.virtual_bench is None:
            raise NotNowError("There is no virtual bench here: this is a real port.")
        return self.virtual_bench

    # ------------------------------------------------------------- the snapshot

    def _first_snapshot(self) -> Snapshot:
        return Snapshot(
            version=1,
            sweep=None,
            corrected=None,
            trust=None,
            verdict=None,
            plan=self._plan,
            coverage=None,
            coverage_problem="",
            port=PortState("connecting", self._address, ""),
            calibration=self._calibrating.corrected(None)[1],
            holds=(),
            bench=None if self.virtual_bench is None else self.virtual_bench.state(),
            seen_at_s=None,
        )

    def _publish(self) -> None:
        """Make the snapshot of this moment and tell everyone; called under the lock."""
        corrected, state = self._calibrating.corrected(self._sweep)
        trust = verdict = None
        if corrected is not None and state.calibration is not None and state.phase == "held":
            trust = self._trust.interval(state.calibration, corrected, corrected.taken_at)
            if self._plan is not None:
                verdict = judge(self._plan, corrected, trust=trust)
        self._show(
            Snapshot(
                version=self._snapshot.version + 1,
                sweep=self._sweep,
                corrected=corrected,
                trust=trust,
                verdict=verdict,
                plan=self._plan,
                coverage=self._coverage,
                coverage_problem=self._coverage_problem,
                port=self._port(),
                calibration=state,
                holds=self._holds,
                bench=None if self.virtual_bench is None else self.virtual_bench.state(),
                seen_at_s=self._seen_at_s,
            )
        )

    def _show(self, snapshot: Snapshot) -> None:
        """Replace the moment that is shown, and tell everyone; called under the lock."""
        self._snapshot = snapshot
        self._changed.notify_all()
        for stir in tuple(self._watchers.values()):
            stir()

    def _port(self) -> PortState:
        stream = self._stream.state
        profile, sweep = self._profile, self._sweep
        # While a lost port is tried again it is still lost, as far as anyone can see.
        lost = stream.phase in ("connecting", "stopped") and stream.message != ""
        return PortState(
            phase="lost" if lost else stream.phase,
            address=self._address,
            message=stream.message,
            unit="" if sweep is None else sweep.source.unit,
            profile="" if profile is None else profile.name,
            unproven=profile is not None and profile.unproven,
        )
