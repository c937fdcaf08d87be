"""The bench: what a person may do to it, from a page or anything else that shows the work.

Commands may come from any thread. Each one either changes something and shows the moment that
follows, or raises and changes nothing.
"""

from __future__ import annotations

import contextlib
from dataclasses import replace
from typing import TYPE_CHECKING

from acceptance.errors import RecipeError
from acceptance.plan.acceptance_plan import Plan
from acceptance.record.acceptance_record import Condition
from acceptance.record.conditions import words_of
from acceptance.record.examination import Examined
from acquire.spans import continuous_spans
from acquire.sweep_limits import Limits
from calibration.files.plane_file import PlaneText
from calibration.guided.verification_session import Check
from calibration.one_port_calibration import Calibration
from calibration.standards.kit import Kit
from calibration.verification.reading_budget import Trust
from dashboard.acceptable import touch_wanted
from dashboard.acceptance_run import Said, SignedOff
from dashboard.accepting import steady_moment, sweep_at_rest
from dashboard.engine import Engine
from dashboard.errors import NotNowError
from dashboard.placing import EndedBy
from dashboard.snapshot import Snapshot

if TYPE_CHECKING:
    from replay.virtual_bench.simulated_bench import VirtualBench


class Bench(Engine):
    """The engine with hands on it."""

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
            self._touching.forget()
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
        return self._covering.limits

    def use_plane(self, declared: PlaneText) -> None:
        """Judge at another plane from now on. Raises PlaneError; the one before it stays then."""
        with self._changing():
            self._placing.use(declared, self._calibrating.corrected(None)[1].calibration)
            self._tuning.begin_anew()
            self._touching.leave()

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
            self._touching.leave()
            return f"Verdicts hold {self._placing.plane.words} from now on."

    def _held_calibration(self) -> Calibration:
        """The one that holds. Raises NotNowError while there is none."""
        state = self._calibrating.corrected(None)[1]
        if state.calibration is None or state.phase != "held":
            raise NotNowError("A pigtail's ends need a calibration first.")
        return state.calibration

    def begin_calibration(self) -> None:
        """Start a guided calibration over all that is wanted.

        Raises NotNowError while the unit's limits are not known, CalibrationError where the kit
        does not describe its standards at these frequencies.
        """
        with self._changing():
            limits, coverage = self._covering.limits, self._covering.to_calibrate
            if limits is None or coverage is None:
                raise NotNowError(
                    "There is nothing to calibrate before the unit has answered. Connect it first."
                )
            passes = coverage.passes
            self._calibrating.begin(passes, continuous_spans(passes, limits.range_steps_hz))

    def begin_check(self, check: Check) -> None:
        """Start a guided check of the calibration, over the passes it was made with.

        Raises NotNowError where there is nothing to check, CalibrationError where it cannot be
        checked so.
        """
        with self._changing():
            self._calibrating.begin_check(check)
            self._cover()

    def standard_is_on(self) -> None:
        """The person says that the standard asked for is on: capture it.

        Raises NotNowError while no sweeps come in.
        """
        with self._changing():
            if self._port().phase == "lost":
                raise NotNowError(
                    "The unit is not there, so nothing can be captured. Plug it in, then press "
                    "again."
                )
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
            if not self._snapshot.fresh:
                raise NotNowError("No sweeps come in, so there is nothing to look at.")
            self._touching.look(self._tuning.resting())

    def leave_touch(self) -> None:
        """Leave the touch test; what the last one showed stays."""
        with self._changing():
            self._touching.leave()

    def forget_touch(self) -> None:
        """Let go of what the touch test showed: no record gets it, an unfinished one neither."""
        with self._changing():
            self._acceptance.forget_touch()
            self._touching.forget()

    def another_antenna(self) -> None:
        """Begin with the next antenna of the recipe: what was learned of the recipe stays."""
        with self._changing():
            self._tuning.begin_anew()
            self._touching.forget()
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
            names = ", ".join(words_of(name).label for name in missing)
            raise NotNowError(f"The plan still wants the unit swept: {names}.")
        if against := touch_wanted(now):
            raise NotNowError(against.words)
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
        unit = said.unit.strip()
        with self._changing():
            self._touching.require(unit)
        return replace(
            said,
            unit=unit,
            recipe=self._tuning.recipe,
            touch=self._touching.result,
            plane=self._placing.plane,
            declared=self._placing.declared,
        )

    def _steady(self) -> Snapshot:
        """The next steady moment."""
        with self._whole_alone():
            return steady_moment(self.snapshot(), self._after)

    def _keep(self, name: str, said: Said, moment: Snapshot) -> Examined:
        """Keep a moment as a condition; called under the lock."""
        averaged, plan = moment.averaged, moment.plan
        calibration = moment.calibration.calibration
        if averaged is None or plan is None or calibration is None:
            raise NotNowError("There is nothing to accept yet. Wait for the next sweep.")
        examined = self._acceptance.keep(
            Condition(name, averaged.of, moment.swept),
            said,
            plan=plan,
            calibration=calibration,
            assumptions=self._trust.assumptions,
            at=self.clock.now().astimezone(),
        )
        self._touching.belongs_to(said.unit)
        return examined

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

    def _virtual(self) -> VirtualBench:
        if self.virtual_bench is None:
            raise NotNowError("There is no virtual bench here: this is a real port.")
        return self.virtual_bench
