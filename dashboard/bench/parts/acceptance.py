"""The bench's acceptance: the present antenna swept in the plan's conditions, and signed off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from acceptance.plan.acceptance_plan import Plan
from acceptance.record.acceptance_record import Condition
from acceptance.record.check_after_sweep import StandardCheck
from acceptance.record.conditions import words_of
from acceptance.record.examination import Examined
from acceptance.version import software
from calibration.one_port_calibration import Calibration
from calibration.verification.check_piece import PieceReading
from calibration.verification.put_back import PutBack, asked, standards_to_put_back
from dashboard.acceptance_run.running_acceptance import (
    PUT_BACK_SWEEPS,
    AcceptanceState,
    AntennaDetails,
    RunningAcceptance,
    SignedOff,
)
from dashboard.bench.engine import Engine
from dashboard.bench.parts.calibration import BenchCalibration
from dashboard.bench.parts.check_piece import BenchCheckPiece
from dashboard.bench.parts.plane import BenchPlane
from dashboard.bench.parts.recent_sweeps import RecentSweeps
from dashboard.bench.parts.touch_test import BenchTouchTest
from dashboard.bench.parts.tuning import Tuning
from dashboard.bench.snapshot import Snapshot
from dashboard.bench.steady_reading import standard_at_rest, steady_moment
from dashboard.errors import NotNowError, PutBackWantedError
from replay.virtual_bench.simulated_bench import VirtualBench


class BenchAcceptance:
    """One antenna's acceptance at a time, by the moments that the engine shows.

    What a person does takes the engine's lock itself and may be called from any thread; a steady
    sweep is waited for without it.
    """

    def __init__(
        self,
        engine: Engine,
        *,
        recent: RecentSweeps,
        calibration: BenchCalibration,
        plane: BenchPlane,
        tuning: Tuning,
        touch_test: BenchTouchTest,
        folder: Path,
        virtual: VirtualBench | None = None,
        check_piece: BenchCheckPiece | None = None,
    ) -> None:
        """folder : where records go, and what is unfinished among them.

        virtual : whose hand puts standards back; None where a person does.
        """
        self._virtual = virtual
        self._check_piece = check_piece
        self._engine = engine
        self._recent = recent
        self._calibration = calibration
        self._plane = plane
        self._tuning = tuning
        self._touch_test = touch_test
        self._run = RunningAcceptance(folder)

    # ------------------------------------------------------ what a person does

    def sweep_condition(self, name: str, details: AntennaDetails) -> str:
        """Sweep the antenna in one condition of the plan, and keep it; returns the verdict in
        words.

        It is on the disk when this returns. Raises NotNowError where it must not be accepted,
        RecordError where it cannot be written.
        """
        details = self._with_bench(details)
        moment = self._steady()
        if moment.plan is None or name not in moment.plan.conditions:
            raise NotNowError(f"The plan has no condition {name}. Choose one that it names.")
        with self._engine.changing():
            if self._run.current is None and moment.calibration.calibration is not None:
                self._run.go_on(details.antenna, moment.plan, moment.calibration.calibration)
            examined = self._keep(name, details, moment)
        found = next(each for each in examined.conditions if each.condition.name == name)
        return found.verdict.words

    def sign_off(self, details: AntennaDetails) -> SignedOff:
        """Sign the antenna off and write its record.

        Of a single missing condition the next steady sweep is taken first; where a standard is to
        be put back after it, PutBackWantedError asks for that then, and the next call takes what is
        on for it. Raises NotNowError where it must not be accepted, CalibrationError where what was
        put back is no open and no short, RecordError where it cannot be written.
        """
        details = self._with_bench(details)
        now = self._engine.snapshot()
        missing = () if now.plan is None else self._run.missing(now.plan)
        if len(missing) > 1:
            names = ", ".join(words_of(name).label for name in missing)
            raise NotNowError(f"The plan still wants the antenna swept: {names}.")
        if against := now.touch_wanted:
            raise NotNowError(against.words)
        moment = self._steady() if missing else now
        calibration = moment.calibration.calibration
        if calibration is None:
            raise NotNowError("There is no calibration to accept by. Calibrate first.")
        with self._engine.changing():
            if missing:
                self._keep(missing[0], details, moment)
            wanted = self._run.check_wanted
        if wanted and missing and self._virtual is None:
            raise PutBackWantedError(f"Swept and kept. {asked(calibration)} Then press again.")
        if wanted:
            self._put_back(calibration, self._run.put_back)
        with self._engine.changing():
            return self._run.sign_off(
                details,
                calibration=calibration,
                assumptions=self._calibration.assumptions,
                at=self._engine.clock.now().astimezone(),
            )

    def _put_back(
        self, calibration: Calibration, judged: Callable[[StandardCheck], PutBack]
    ) -> PutBack:
        """Take what is on for a standard put back, and keep it."""
        if self._virtual is None:
            return self._check(judged)
        virtual = self._virtual
        before = virtual.state()
        with self._engine.changing():
            virtual.lay("none")
            virtual.screw_on(standards_to_put_back(calibration)[0])
        try:
            return self._check(judged)
        finally:
            with self._engine.changing():
                virtual.lay(before.pigtail)
                virtual.screw_on(before.on_port)

    def _check(self, judged: Callable[[StandardCheck], PutBack]) -> PutBack:
        with self._recent.whole_alone():
            moment = standard_at_rest(self._engine.snapshot(), self._engine.after)
        if moment.averaged is None:
            raise NotNowError("There is nothing to check by yet. Wait for the next sweep.")
        check = StandardCheck(moment.averaged.of[-PUT_BACK_SWEEPS:], moment.swept)
        with self._engine.changing():
            return judged(check)

    def check_batch(self) -> str:
        """Take what is on for the standard put back that a batch wants; returns what it shows.

        Raises as `check_batch_by`.
        """
        return self.check_batch_by().words

    def check_batch_by(self) -> PutBack:
        """The same; returns what it shows, to be judged by.

        At its start, after every tenth antenna and at its end. Raises NotNowError where the plan
        asks for no such checks, CalibrationError where what is on is no open and no short.
        """
        now = self._engine.snapshot()
        with self._engine.changing():
            calibration = self._calibration.held
            batch = self._run.batch(now.plan, calibration)
        if batch is None or calibration is None or now.plan is None:
            raise NotNowError(
                'There is no batch to check: its plan says check_after = "batch", and a '
                "calibration holds."
            )
        spans, assumptions = now.plan.spans, self._calibration.assumptions

        def judged(check: StandardCheck) -> PutBack:
            return batch.check(check, assumptions, spans, software())

        return self._put_back(calibration, judged)

    def put_back_after(self) -> PutBack:
        """Take what is on for the standard that goes back after an antenna, and keep it with it.

        Raises as `sign_off`.
        """
        with self._engine.changing():
            calibration = self._calibration.held
        if calibration is None:
            raise NotNowError("There is no calibration to check. Calibrate first.")
        return self._put_back(calibration, self._run.put_back)

    def forget_touch_test(self) -> None:
        """Let go of what the touch test showed: no record gets it, an unfinished one neither."""
        with self._engine.changing():
            self._run.forget_touch()
            self._touch_test.forget()

    def throw_unfinished_away(self) -> None:
        """Forget what was swept for acceptances that were not signed off."""
        with self._engine.changing():
            self._run.throw_away()

    def examined(self) -> Examined | None:
        """What follows from what was swept of the antenna that is being accepted; None before."""
        with self._engine.locked():
            return self._run.examined

    # ----------------------------------------------------------- under the lock

    def move(self, folder: Path, virtual: VirtualBench | None) -> None:
        """Keep records elsewhere from now on, of another bench; under the lock."""
        self._virtual = virtual
        self._run = RunningAcceptance(folder)

    def state(self, plan: Plan | None) -> AcceptanceState:
        """How it stands, against a plan; called by the bench's other parts under the lock."""
        return self._run.state(plan, self._calibration.held)

    @property
    def check_piece(self) -> PieceReading | None:
        """The latest reading of the bench's check piece; None where there is none."""
        return None if self._check_piece is None else self._check_piece.latest

    def _with_bench(self, details: AntennaDetails) -> AntennaDetails:
        """What the person says, and what the bench knows beside it."""
        if not details.antenna.strip():
            raise NotNowError("An accepted antenna needs a name. Give it the one on its label.")
        antenna = details.antenna.strip()
        with self._engine.changing():
            self._touch_test.require(antenna)
            return replace(
                details,
                antenna=antenna,
                recipe=self._tuning.recipe,
                touch_test=self._touch_test.result,
                plane=self._plane.plane,
                declared=self._plane.declared,
                check_piece=self.check_piece,
            )

    def _steady(self) -> Snapshot:
        """The next steady moment."""
        with self._recent.whole_alone():
            return steady_moment(self._engine.snapshot(), self._engine.after)

    def _keep(self, name: str, details: AntennaDetails, moment: Snapshot) -> Examined:
        """Keep a moment as a condition; called under the lock."""
        averaged, plan = moment.averaged, moment.plan
        calibration = moment.calibration.calibration
        if averaged is None or plan is None or calibration is None:
            raise NotNowError("There is nothing to accept yet. Wait for the next sweep.")
        examined = self._run.keep(
            Condition(name, averaged.of, moment.swept),
            details,
            plan=plan,
            calibration=calibration,
            assumptions=self._calibration.assumptions,
            at=self._engine.clock.now().astimezone(),
        )
        self._touch_test.belongs_to(details.antenna)
        return examined
