"""The bench: one engine that a page, or anything else that shows the work, drives.

It owns the stream of sweeps, the plan and the passes that follow from it, the calibration, what is
held, and the acceptance. Commands may come from any thread; what comes of them is read from one
immutable `Snapshot`, made anew for each sweep and each command.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from acceptance.conditions import state
from acceptance.errors import RecipeError
from acceptance.examination import Examined
from acceptance.plan import Plan
from acceptance.recipe import NO_RECIPE, Recipe
from acceptance.record import Condition
from acceptance.verdict import judge
from acquire.clock import Clock, SystemClock
from acquire.coverage import Coverage, Limits, Span, continuous_spans, given
from acquire.errors import CoverageError
from acquire.stream import Stream
from acquire.sweep import Sweep, SweepRequest
from calibration.budget import Assumptions
from calibration.calibrated import Calibration
from calibration.checking import Check
from calibration.kit import Kit
from calibration.plane_table import NOT_MOVED, PlaneText
from calibration.store import when_made
from calibration.trust import Trust
from calibration.uncertainty import interval
from dashboard.acceptance_run import Accepting, Said, SignedOff
from dashboard.accepting import steady_moment, sweep_at_rest
from dashboard.calibrating import Calibrating
from dashboard.errors import NotNowError
from dashboard.holding import Holding
from dashboard.looking import Looking
from dashboard.placing import EndedBy, Placing
from dashboard.snapshot import PortState, Snapshot
from dashboard.surroundings import with_surroundings
from dashboard.touching import Touching
from dashboard.tuning import Tuning
from dashboard.unit import coverage_for, covers

if TYPE_CHECKING:
    from acquire.analyzer import Analyzer
    from acquire.profile import Profile
    from replay.virtual_bench import VirtualBench

LEAST_PATIENCE_S = 5.0
"""How long an acceptance waits for a sweep, beyond what three sweeps take."""
LOOK_ROUND_S = 0.2
"""How often the stream's state is looked at while no sweep comes."""


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
        kit : the standards at hand. calibration : one made before, and where it is kept.
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
        self._step_khz = step_khz
        self._begun_with = calibration

        self._lock = threading.RLock()
        self._changed = threading.Condition(self._lock)
        self._watchers: dict[int, Callable[[], None]] = {}
        self._watched = 0

        self._profile: Profile | None = None
        self._plan = plan
        self._coverage: Coverage | None = None
        self._coverage_problem = ""
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
        self._snapshot = self._first_snapshot()

        self._accepting = False
        self._stopping = threading.Event() if stopping is None else stopping
        self._stream = Stream(self._meet, self._next_passes, self.clock, self._stopping)
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
            if self._calibrating.guided is not None:
                raise NotNowError(
                    "The bands cannot be changed while a calibration runs. Finish it, or leave it."
                )
            self._plan = plan
            self._looking.accept_by(plan)
            self._tuning.begin_anew()
            self._cover()

    def use_kit(self, kit: Kit) -> None:
        """Calibrate with other standards from now on. Raises NotNowError while one runs."""
        with self._changing():
            self._calibrating.use_kit(kit)

    def state_load(self, return_loss_db: float | None) -> None:
        """The person says what the load's maker states, dB; None: nothing is stated."""
        with self._changing():
            assumptions = replace(self._trust.assumptions, load_db=return_loss_db)
            self._calibrating.assume(assumptions)
            self._trust = Trust(assumptions)

    @property
    def limits(self) -> Limits | None:
        """What the unit can sweep; None until it has answered."""
        profile = self._profile
        return None if profile is None else profile.limits

    def use_plane(self, declared: PlaneText) -> None:
        """Judge at another plane from now on. Raises PlaneError; the one before it stays then."""
        with self._changing():
            self._placing.use(declared, self._calibrating.corrected(None)[1].calibration)
            self._tuning.begin_anew()

    def take_end(self, name: str) -> str:
        """Take what rests from now on as a pigtail with its far end "open" or "short", in words.

        Raises NotNowError where nothing is calibrated, or the reading keeps moving.
        """
        with self._lock:
            self._held_calibration()
        with self._whole_alone():
            raw = sweep_at_rest(self.snapshot(), self._after)
        with self._changing():
            calibration = self._held_calibration()
            self._placing.take_end(name, calibration.correct(raw), calibration)
            return f"Taken: the pigtail with its end {'open' if name == 'open' else 'shorted'}."

    def use_ends(self, ended_by: EndedBy) -> str:
        """Judge at the far end of the pigtail whose ends were taken, in words.

        ended_by : as `Placing.measured` takes it. Raises NotNowError where none was, PlaneError
        where they do not tell it.
        """
        with self._changing():
            calibration = self._held_calibration()
            self._placing.use(self._placing.measured(calibration, ended_by), calibration)
            whole = self._looking.whole
            if whole is not None:
                corrected = calibration.correct(whole.sweep)
                budget = self._trust.budget(calibration, corrected, swept=self._looking.swept)
                self._placing.check(budget, self._plan)
            self._tuning.begin_anew()
            return f"Verdicts hold {self._placing.plane.words} from now on."

    def _held_calibration(self) -> Calibration:
        """The one that holds. Raises NotNowError while there is none."""
        state = self._calibrating.corrected(None)[1]
        if state.calibration is None or state.phase != "held":
            raise NotNowError("A pigtail's ends need a calibration first.")
        return state.calibration

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

    def begin_check(self, check: Check) -> None:
        """Start a guided check of the calibration, over the passes it was made with.

        Raises NotNowError where there is nothing to check, CalibrationError where it cannot be
        checked so.
        """
        with self._changing():
            self._calibrating.begin_check(check)
            self._cover()

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
            self._cover()

    def hold(self, name: str = "") -> None:
        """Keep the trace that is shown, to compare with, under a name if it gets one."""
        with self._changing():
            self._holding.hold(self._snapshot, name)

    def show_hold(self, number: int) -> None:
        """Show another of the held traces. Raises NotNowError where there is none of it."""
        with self._changing():
            self._holding.show(number)

    def did(self, dimension: str, delta_mm: float | None) -> str:
        """The person says what was done to the antenna; None mm: bent, by nobody knows how much.

        Returns it in words. Raises RecipeError, NotNowError.
        """
        with self._changing():
            return self._tuning.did(dimension, delta_mm, self.clock.monotonic())

    def undo_did(self) -> str:
        """Take back what was said last, if nothing was learned from it yet; returns it."""
        with self._changing():
            return self._tuning.undo()

    def begin_touch(self) -> None:
        """Start the touch test. Raises NotNowError where there is no verdict to hold it against."""
        with self._changing():
            if self._snapshot.verdict is None:
                raise NotNowError("The touch test needs a calibration and a plan first.")
            self._touching.begin()

    def touch_next(self) -> None:
        """The hands are as the touch test asked. Raises NotNowError while the reading moves."""
        with self._changing():
            self._touching.look(self._tuning.resting())

    def leave_touch(self) -> None:
        """Leave the touch test."""
        with self._changing():
            self._touching.leave()

    def another_antenna(self) -> None:
        """Begin with the next antenna of the recipe: what was learned of the recipe stays."""
        with self._changing():
            self._tuning.begin_anew()
            self._touching = Touching()
            self._holding.clear()

    def undo_hold(self) -> None:
        """Let go of the newest held trace; the one before it is shown again."""
        with self._changing():
            self._holding.undo()

    def sweep_condition(self, name: str, said: Said) -> str:
        """Sweep the unit in one condition of the plan, and keep it; returns the verdict in words.

        It is on the disk when this returns. Raises NotNowError where it must not be accepted,
        RecordError where it cannot be written.
        """
        said = self._with_recipe(said)
        moment = self._steady()
        if moment.plan is None or name not in moment.plan.conditions:
            raise NotNowError(f"The plan has no condition {name}. Choose one that it names.")
        with self._changing():
            if self._acceptance.current is None and moment.calibration.calibration is not None:
                self._acceptance.go_on(said.unit, moment.plan, moment.calibration.calibration)
            examined = self._keep(name, said, moment)
        look = next(each for each in examined.looks if each.condition.name == name)
        return look.verdict.words

    def accept(self, said: Said) -> SignedOff:
        """Sign the unit off and write its record.

        Of a single missing condition the next steady sweep is taken first. Raises NotNowError
        where it must not be accepted, RecordError where it cannot be written.
        """
        said = self._with_recipe(said)
        now = self.snapshot()
        missing = () if now.plan is None else self._acceptance.missing(now.plan)
        if len(missing) > 1:
            names = ", ".join(state(name).label for name in missing)
            raise NotNowError(f"The plan still wants the unit swept: {names}.")
        if now.plan is not None and now.plan.touch_test and now.touch.result is None:
            raise NotNowError("The plan wants a touch test. Do it (key g), then sign off.")
        moment = self._steady() if missing else now
        calibration = moment.calibration.calibration
        if calibration is None:
            raise NotNowError("There is no calibration to accept by. Calibrate first.")
        with self._changing():
            if missing:
                self._keep(missing[0], said, moment)
            return self._acceptance.sign_off(
                said,
                calibration=calibration,
                assumptions=self._trust.assumptions,
                at=self.clock.now().astimezone(),
            )

    def examined(self) -> Examined | None:
        """What follows from what was swept of the unit that is being accepted; None before."""
        with self._lock:
            return self._acceptance.examined

    def throw_unfinished_away(self) -> None:
        """Forget what was swept for acceptances that were not signed off."""
        with self._changing():
            self._acceptance.throw_away()

    def _with_recipe(self, said: Said) -> Said:
        if not said.unit.strip():
            raise NotNowError("An accepted antenna needs a name. Give it the one on its label.")
        return replace(
            said,
            unit=said.unit.strip(),
            recipe=self._tuning.recipe,
            touch=self._touching.result,
            plane=self._placing.plane,
            declared=self._placing.declared,
        )

    def _steady(self) -> Snapshot:
        """The next steady moment."""
        with self._whole_alone():
            return steady_moment(self.snapshot(), self._after)

    @contextmanager
    def _whole_alone(self) -> Iterator[None]:
        """Sweep whole, not short in between, as long as this lasts."""
        self._accepting = True
        try:
            yield
        finally:
            self._accepting = False

    def _keep(self, name: str, said: Said, moment: Snapshot) -> Examined:
        """Keep a moment as a condition; called under the lock."""
        averaged, plan = moment.averaged, moment.plan
        calibration = moment.calibration.calibration
        if averaged is None or plan is None or calibration is None:
            raise NotNowError("There is nothing to accept yet. Wait for the next sweep.")
        return self._acceptance.keep(
            Condition(name, averaged.of, moment.swept),
            said,
            plan=plan,
            calibration=calibration,
            assumptions=self._trust.assumptions,
            at=self.clock.now().astimezone(),
        )

    def screw_on(self, name: str) -> None:
        """Screw something on to the virtual bench's port. Raises BenchError, NotNowError."""
        with self._changing():
            self._virtual().screw_on(name)

    def lay(self, pigtail: str) -> None:
        """Lay a pigtail on the virtual bench, or none. Raises BenchError, NotNowError."""
        with self._changing():
            self._virtual().lay(pigtail)

    def bend(self, dimension: str, delta_mm: float) -> None:
        """Bend the virtual antenna. Raises BenchError, NotNowError."""
        with self._changing():
            virtual = self._virtual()
            virtual.bend(dimension, delta_mm)
            if virtual.on_port == "antenna" and self._snapshot.verdict is not None:
                with contextlib.suppress(RecipeError):  # the demo's hand says what it does
                    now_s = self.clock.monotonic()
                    self._tuning.did(dimension, delta_mm, now_s, beforehand=True)

    def grip(self, *, gripped: bool) -> None:
        """Grip the virtual antenna's cable, or let go of it. Raises NotNowError."""
        with self._changing():
            self._virtual().grip(gripped=gripped)

    def transmit_nearby(self) -> None:
        """Let a transmitter be heard on the virtual bench for a moment. Raises NotNowError."""
        with self._changing():
            self._virtual().transmit_nearby()

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
            self._looking.unit_is_back()
            self._profile = analyzer.profile
            self._cover()
        return analyzer

    def _cover(self) -> None:
        """Work the passes out anew; called under the lock."""
        self._looking.sweep_anew()
        self._stream.look_again()
        if self._profile is None:
            return
        try:
            self._coverage = self._as_calibrated(self._profile) or coverage_for(
                with_surroundings(self._plan, self._profile.limits), self._profile, self._step_khz
            )
            self._coverage_problem = ""
        except CoverageError as error:
            self._coverage_problem = str(error)

    def _as_calibrated(self, profile: Profile) -> Coverage | None:
        """The passes of the calibration that was begun with, while it holds and covers the plan."""
        begun_with, held = self._begun_with, self._calibrating.corrected(None)[1].calibration
        if begun_with is None or held is None or when_made(held) != when_made(begun_with):
            return None
        spans = () if self._plan is None else self._plan.spans
        if self._step_khz is not None or not covers(begun_with, spans):
            return None
        seconds = profile.timing.seconds_per_point
        try:
            return given(begun_with.request, limits=profile.limits, seconds_per_point=seconds)
        except CoverageError:  # another unit's; that it does not fit is told with its sweeps
            return None

    def _next_passes(self) -> Sequence[SweepRequest]:
        """What to sweep now: asked by the sweeping thread before every sweep."""
        with self._lock:
            guided = self._calibrating.guided
            if guided is not None:
                return guided.request
            if self._coverage is None:
                return ()
            return self._looking.next_passes(self._coverage, whole=self._accepting)

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
        looking = self._looking
        whole = looking.take(sweep, self.clock.monotonic())
        if whole and self._coverage is not None and self._profile is not None:
            looking.watch(self._coverage, self._profile, self._tuning.watched)
        if looking.whole is None:
            return
        looking.count(sweep)
        plan = self._plan
        spans: Sequence[Span] = () if plan is None else plan.spans
        if self._calibrating.take(sweep, spans):
            looking.swept = 0
            self._cover()

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
            averaged=None,
            burst=None,
            swept=0,
            whole_at_s=None,
            watched=None,
            corrected=None,
            assumptions=self._trust.assumptions,
            trust=None,
            budget=None,
            verdict=None,
            tuned=None,
            acceptance=self._acceptance.state(self._plan),
            sweeping_since_s=None,
            touch=self._touching.state,
            recipe=self._tuning.recipe,
            plan=self._plan,
            plane=self._placing.state,
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
        looking, now_s = self._looking, self.clock.monotonic()
        averaged = looking.averaged
        raw = None if averaged is None else averaged.sweep
        corrected, state = self._calibrating.corrected(raw)
        budget = trust = verdict = None
        held = state.calibration if state.phase == "held" else None
        if held is None:
            self._placing.rest()
        if corrected is not None and held is not None:
            stated = self._trust.budget(held, corrected, averaged, swept=looking.swept)
            there = self._placing.move(corrected, stated, held)
            if there is not None:
                corrected, budget = there.reading, there.budget
                trust = interval(budget, corrected.reflection)
            if there is not None and trust is not None and self._plan is not None:
                verdict = judge(self._plan, corrected, trust=trust, undone=there.undone)
                if averaged is not None:
                    self._tuning.take(
                        corrected,
                        averaged,
                        trust,
                        plan=self._plan,
                        verdict=verdict,
                        now_s=now_s,
                    )
        self._show(
            Snapshot(
                version=self._snapshot.version + 1,
                sweep=raw,
                averaged=averaged,
                burst=looking.burst(now_s),
                swept=looking.swept,
                whole_at_s=looking.whole_at_s,
                watched=None if averaged is looking.whole else looking.focus,
                corrected=corrected,
                assumptions=self._trust.assumptions,
                trust=trust,
                budget=budget,
                verdict=verdict,
                tuned=None if verdict is None else self._tuning.shown(),
                acceptance=self._acceptance.state(self._plan),
                sweeping_since_s=looking.since_s,
                touch=self._touching.state,
                recipe=self._tuning.recipe,
                plan=self._plan,
                plane=self._placing.state,
                coverage=self._coverage,
                coverage_problem=self._coverage_problem,
                port=self._port(),
                calibration=state,
                holds=self._holding.all,
                bench=None if self.virtual_bench is None else self.virtual_bench.state(),
                seen_at_s=looking.seen_at_s,
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
        profile, averaged = self._profile, self._looking.whole
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
