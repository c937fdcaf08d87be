"""The acceptance of one antenna: condition after condition swept and kept, then signed off.

What was swept is on the disk before it is acknowledged (`acceptance.record.unfinished_records`);
the record itself appears whole or not at all. Page and command line go through the same steps here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from acceptance.catalogue.batch_checks import BatchChecks
from acceptance.chain.chain_folder import turn
from acceptance.chain.link import linked
from acceptance.errors import RecordError
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.recipe import NO_RECIPE, Recipe
from acceptance.record.acceptance_record import Acceptance, Condition
from acceptance.record.check_after_sweep import (
    ChecksAfterSweep,
    StandardCheck,
    examined_check,
)
from acceptance.record.checksums import CHECKSUMS, SIGNATURE
from acceptance.record.conditions import words_of
from acceptance.record.examination import Examined, compose_record, examine
from acceptance.record.layouts import STATION
from acceptance.record.plan_requirements import (
    check_after_unmet,
    piece_unmet,
    sign_off,
    unmet_of,
)
from acceptance.record.record_folder import write_record
from acceptance.record.unfinished_records import Unfinished, keep, throw_away, unfinished
from acceptance.report.condition_changes import Changes
from acceptance.report.report_files import report_files
from acceptance.tuning.touch_test import Touch
from acceptance.version import software
from calibration.files.calibration_file import calibration_text
from calibration.files.line_file import LineToInspect
from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import CONNECTOR, ReferencePlane
from calibration.uncertainty.budget import Assumptions
from calibration.verification.check_piece import PieceReading
from calibration.verification.put_back import PutBack, asked
from dashboard.errors import NotNowError

PUT_BACK_SWEEPS = 2
"""Of a standard put back after the sweep: the least that shows that nothing moves."""
PUT_BACK_PATIENCE = 30
"""Sweeps, in multiples of those, in which the hand gets to let go of it."""
ANOTHER_CALIBRATION = (
    "{antenna} was begun with another calibration, and a record holds one. Sweep every condition "
    "again, or go on with the calibration of then."
)


@dataclass(frozen=True, slots=True)
class AntennaDetails:
    """What a person says of the antenna."""

    antenna: str
    """The name on its label."""
    operator: str = ""
    note: str = ""
    recipe: Recipe = NO_RECIPE
    sizes_mm: Mapping[str, float] | None = None
    """Finished sizes, by name."""
    touch_test: Touch | None = None
    """What a touch test showed, if one was done."""
    plane: ReferencePlane = CONNECTOR
    """Where the verdict shall hold."""
    declared: PlaneText = NOT_MOVED
    """What that was declared as."""
    line: LineToInspect | None = None
    """The cable to look along for faults, if one."""
    check_piece: PieceReading | None = None
    """The latest reading of the bench's check piece, if there is one."""
    station: Mapping[str, object] | None = None
    """What a station for helpers says of it, if that is where it is tested."""


@dataclass(frozen=True, slots=True, eq=False)
class SignedOff:
    """A record, written."""

    path: Path
    examined: Examined
    remark: str
    """What could not be put into it though it stands; else empty."""


@dataclass(frozen=True, slots=True)
class ConditionState:
    """One condition of the plan, and how it stands."""

    name: str
    label: str
    instruction: str
    judged: bool
    words: str
    """The verdict on it; empty while it was not swept."""


@dataclass(frozen=True, slots=True)
class AcceptanceState:
    """How an acceptance stands."""

    antenna: str
    """The one that was begun; empty while there is none."""
    conditions: tuple[ConditionState, ...]
    next: str
    """The condition to sweep next; empty where all are there."""
    others: tuple[str, ...]
    """Others that were begun and not signed off, in words."""
    changes: Changes | None
    """What the conditions swept so far change; None while there is nothing to compare."""
    check_wanted: str = ""
    """What to put back now that it was swept, in one sentence; empty where nothing is wanted."""
    batch_due: str = ""
    """Why a batch wants a standard put back before the next antenna; empty where none is."""
    batch_words: str = ""
    """How the batch stands; empty where the plan asks for no checks of a batch."""


class RunningAcceptance:
    """One antenna's acceptance at a time. Not safe to share: its owner holds the lock."""

    def __init__(self, records: Path) -> None:
        """records : where records go, and what is unfinished among them."""
        self._records = records
        self._current: Unfinished | None = None
        self._examined: Examined | None = None
        self._changes: Changes | None = None
        self._waiting: Sequence[Unfinished] = unfinished(records)
        self._batch: BatchChecks | None = None
        self._batch_by = ""

    @property
    def current(self) -> Acceptance | None:
        """What was swept of the present antenna so far."""
        return None if self._current is None else self._current.acceptance

    @property
    def examined(self) -> Examined | None:
        """What follows from what was swept of the present antenna so far."""
        return self._examined

    def state(self, plan: Plan | None, calibration: Calibration | None = None) -> AcceptanceState:
        """How it stands, against a plan and the calibration that holds."""
        batch = self.batch(plan, calibration)
        swept = (
            {}
            if self._examined is None
            else {each.condition.name: each.verdict.words for each in self._examined.conditions}
        )
        names = () if plan is None else plan.conditions
        conditions = tuple(
            ConditionState(
                name,
                words_of(name).label,
                words_of(name).instruction,
                plan is not None and name in plan.judged,
                swept.get(name, ""),
            )
            for name in names
        )
        left = [name for name in names if name not in swept]
        return AcceptanceState(
            "" if self.current is None else self.current.antenna,
            conditions,
            left[0] if left else "",
            tuple(each.words for each in self._waiting),
            self._changes,
            "" if left else self.check_wanted,
            "" if batch is None else batch.failed or batch.due,
            "" if batch is None else batch.ending,
        )

    @property
    def check_wanted(self) -> str:
        """Which sweeps still want a standard put back after them; empty where none does."""
        return "" if self.current is None else check_after_unmet(self.current)

    def missing(self, plan: Plan) -> tuple[str, ...]:
        """What is still to be swept, by name."""
        return plan.conditions if self.current is None else self.current.missing

    def batch(self, plan: Plan | None, calibration: Calibration | None) -> BatchChecks | None:
        """The checks of the batch that a plan asks for; None where it asks for none."""
        if plan is None or calibration is None or plan.check_after != "batch":
            return None
        if self._batch is None or self._batch_by != calibration.made:
            self._batch = BatchChecks(self._records, calibration)
            self._batch_by = calibration.made
        return self._batch

    def go_on(self, antenna: str, plan: Plan, calibration: Calibration) -> bool:
        """Take up an acceptance of that antenna and plan that was begun before; False: there is
        none.

        Raises NotNowError where it was begun with another calibration.
        """
        found = next(
            (
                each
                for each in self._waiting
                if each.acceptance.antenna == antenna and each.acceptance.plan.text == plan.text
            ),
            None,
        )
        if found is None:
            return False
        _require_same(found.acceptance, calibration)
        self._take(found)
        self._waiting = [each for each in self._waiting if each is not found]
        return True

    def throw_away(self) -> None:
        """Forget the present antenna, and every other one that was begun."""
        if self._current is not None:
            throw_away(self._current)
        for each in self._waiting:
            throw_away(each)
        self._current, self._waiting = None, ()
        self._see(None)

    def forget_touch(self) -> None:
        """What a touch test showed of the present antenna is not kept. Raises RecordError."""
        if self._current is None or self._current.acceptance.touch_test is None:
            return
        acceptance = replace(self._current.acceptance, touch_test=None)
        self._current = keep(acceptance, self._records, self._current)
        self._see(examine(acceptance))

    def keep(
        self,
        condition: Condition,
        details: AntennaDetails,
        *,
        plan: Plan,
        calibration: Calibration,
        assumptions: Assumptions,
        at: datetime,
    ) -> Examined:
        """Write down what was swept of an antenna in one condition; it is on the disk then.

        The first condition of another antenna, or of another plan, begins another acceptance.
        Raises RecordError, and NotNowError where it was not swept as the plan asks; what was kept
        before is still there then.
        """
        if left := unmet_of(condition, plan, calibration, assumptions):
            raise NotNowError(" ".join(left))
        if why := piece_unmet(plan, details.check_piece, condition.raw[-1].taken_at):
            raise NotNowError(why)
        batch = self.batch(plan, calibration)
        if batch is not None and (against := batch.failed or batch.due):
            raise NotNowError(f"{against} {asked(calibration)}")
        before = self._current
        if before is not None and (
            before.acceptance.antenna != details.antenna or before.acceptance.plan.text != plan.text
        ):
            self._waiting = [before, *self._waiting]
            before = self._current = None
            self._see(None)
        if before is None:
            acceptance = Acceptance(
                details.antenna,
                plan,
                calibration,
                assumptions,
                at,
                software(),
                after_sweep=ChecksAfterSweep(),
            )
        else:
            _require_same(before.acceptance, calibration)
            acceptance = replace(before.acceptance, calibration=calibration)
        acceptance = _describe(acceptance, details, assumptions).with_condition(condition)
        examined = examine(acceptance)
        self._current = keep(acceptance, self._records, before)
        self._see(examined)
        return examined

    def put_back(self, check: StandardCheck) -> PutBack:
        """Write down a standard that was put back after the sweep; it is on the disk then.

        Raises CalibrationError where it is no open and no short, with what to do; RecordError.
        Nothing is kept of it then.
        """
        before = self._current
        if before is None or before.acceptance.calibration is None:
            raise NotNowError("Nothing was swept of this antenna yet. Sweep it first.")
        acceptance = before.acceptance
        found = examined_check(
            check,
            before.acceptance.calibration,
            acceptance.assumptions,
            acceptance.plan,
            acceptance.conditions[-1].raw[-1],
        )
        checked = acceptance.with_check(check)
        examined = examine(checked)
        self._current = keep(checked, self._records, before)
        self._see(examined)
        return found

    def sign_off(
        self,
        details: AntennaDetails,
        *,
        calibration: Calibration,
        assumptions: Assumptions,
        at: datetime,
        sign: Callable[[bytes], bytes] | None = None,
    ) -> SignedOff:
        """Write the record, whole; what was kept of it while it grew is removed then.

        sign : makes a detached signature of the sums.
        Raises RecordError, NotNowError; nothing that was kept is lost then.
        """
        if self._current is None:
            raise NotNowError("Nothing was swept of this antenna yet. Sweep it first.")
        _require_same(self._current.acceptance, calibration)
        described = _describe(self._current.acceptance, details, assumptions)
        batch = self.batch(described.plan, calibration)
        if batch is not None and batch.last is not None:
            by_batch = ChecksAfterSweep(batch_check=batch.last.reference)
            described = replace(described, after_sweep=by_batch)
        signed_off = sign_off(replace(described, calibration=calibration), at)
        with turn(self._records) as mine:
            acceptance = linked(signed_off, mine.link)
            examined = examine(acceptance)
            report, remark = report_files(examined)
            record = compose_record(examined, calibration_text(calibration), report)
            if sign is not None:
                signature = sign(record.files[CHECKSUMS])
                record = replace(record, files={**record.files, SIGNATURE: signature})
            written = mine.written = write_record(record, self._records)
        if batch is not None:
            batch.add(written)
        throw_away(self._current)
        self._current = None
        self._see(None)
        return SignedOff(written, examined, remark)

    def _take(self, found: Unfinished) -> None:
        self._current = found
        self._see(examine(found.acceptance) if found.acceptance.conditions else None)

    def _see(self, examined: Examined | None) -> None:
        """Take what follows from what was swept, and what is told of it with every sweep."""
        self._examined = examined
        self._changes = None if examined is None else Changes.of(examined)


def _describe(
    acceptance: Acceptance, details: AntennaDetails, assumptions: Assumptions
) -> Acceptance:
    if not details.antenna.strip():
        raise RecordError("An accepted antenna needs a name. Give it the one on its label.")
    if acceptance.conditions and acceptance.declared != details.declared:
        raise NotNowError(
            f"{acceptance.antenna} was begun {acceptance.plane.words}, and a record holds one "
            "plane. Go on there, or sweep every condition again."
        )
    return replace(
        acceptance,
        antenna=details.antenna,
        operator=details.operator,
        note=details.note,
        recipe=details.recipe,
        sizes_mm=dict(details.sizes_mm or {}),
        assumptions=assumptions,
        touch_test=details.touch_test or acceptance.touch_test,
        plane=details.plane,
        declared=details.declared,
        line=details.line or acceptance.line,
        check_piece=details.check_piece or acceptance.check_piece,
        carried=acceptance.carried
        if details.station is None
        else {**acceptance.carried, STATION: details.station},
    )


def _require_same(acceptance: Acceptance, calibration: Calibration) -> None:
    """A calibration checked once more in between is still the same one."""
    then = acceptance.calibration
    if (
        then is None
        or then.taken_at != calibration.taken_at
        or calibration.source.differs_from(then.source)
    ):
        raise NotNowError(ANOTHER_CALIBRATION.format(antenna=acceptance.antenna))
