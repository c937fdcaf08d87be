"""A record checked by someone who was not there: is it as written, and does its verdict follow?

Sums show whether a file was changed since they were made, not by whom they were made; only a
signature shows that. That the verdict follows from the raw readings shows that it was not written
by hand; that the readings are of that antenna, nothing in a folder can show.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np

from acceptance.record.acceptance_record import Acceptance
from acceptance.record.examination import Examined, examine, verdict_as_json
from acceptance.record.json_difference import TOLERANCE, first_difference, without_keys
from acceptance.record.layouts import CHAIN, STATION, verdict_in_words_of
from acceptance.record.plan_requirements import unmet
from acceptance.record.record_times import time_faults
from acceptance.record.uncertainty_table import same_table, uncertainty_table
from acquire.errors import BandwrightError
from acquire.printable_text import plain
from acquire.sweep import FloatArray, Reading, Sweep

FIRST_LAYOUT_TOLERANCE = 1e-3
"""Layout 1 recorded the verdict as it was shown, by a budget of up to a minute before."""
METHOD_TOLERANCE = 0.05
"""How far another version's numbers may lie from ours: 0.05 dB, or a twentieth."""
OF_THE_METHOD = frozenset(
    {
        "average_better_than_db",
        "average_interval_db",
        "better_than_db",
        "false_pass_risk",
        "false_pass_risk_wanted",
        "guard",
        "interval_db",
        "narrowest_seen_hz",
        "notes",
        "reason",
        "trust_floor_at_connector_db",
        "trust_floor_db",
        "uncertainty_db",
        "uncertainty_hz",
    }
)
"""What a verdict says of trust, and in sentences: versions differ in these. What was read, the
limits and the states are held whatever version wrote them."""

NOT_SIGNED_OFF = (
    "It was begun and not signed off, so it is no record yet. Go on with it by `bandwright accept`."
)
IMPORTED_REMARK = "An imported file: whether it was taken as its plan asks, nothing shows."


@dataclass(frozen=True, slots=True, eq=False)
class StoredRecord:
    """A record's folder, read back."""

    name: str
    """The folder's."""
    version: int
    acceptance: Acceptance
    recorded: Mapping[str, Any] | None
    """What was recorded as the verdict; None where that file is gone."""
    corrected: Mapping[str, Reading]
    """The corrected averages as recorded, by condition; those that are still there."""
    uncertainty_tables: Mapping[str, FloatArray] = field(default_factory=dict)
    """The tables of trust, likewise; records of former versions have none."""


@dataclass(frozen=True, slots=True, eq=False)
class Recheck:
    """What a record shows."""

    record: StoredRecord
    checksum_differences: tuple[str, ...]
    """What does not agree with SHA256SUMS; one sentence each."""
    examined: Examined | None
    """Worked out anew; None where it could not be."""
    problem: str
    """Why it could not be; else empty."""
    difference: str
    """The first place where what was recorded is not what was worked out anew; else empty."""
    method_difference: str
    """The first place where another version's method puts what is said of trust otherwise, though
    readings, limits and states agree; else empty."""
    unmet: tuple[str, ...]
    """What its own plan asks for and was not done; a sentence or two each."""
    software: str
    """What worked it out anew."""
    times: tuple[str, ...] = ()
    """Which of its times do not hold together; a sentence each."""
    report_faults: tuple[str, ...] = ()
    """Where a stored report does not follow from the record; a sentence each."""
    report_remarks: tuple[str, ...] = ()
    """What of the stored reports was held, and what was not; a sentence each."""

    @property
    def holds(self) -> bool:
        """True where it was signed off as its own plan asks, nothing shows a change, its times hold
        together, and verdict and reports follow."""
        against = (
            self.checksum_differences,
            self.problem,
            self.difference,
            self.unmet,
            self.times,
            self.report_faults,
        )
        return self.signed_off and not any(against)

    @property
    def signed_off(self) -> bool:
        """True where it is no acceptance that was only begun."""
        return self.record.acceptance.accepted_at is not None

    @property
    def by_method(self) -> bool:
        """True where only another version's method can have made the difference."""
        return (
            bool(self.difference)
            and not self.checksum_differences
            and self.software != self.record.acceptance.software
        )

    @property
    def lines(self) -> tuple[str, ...]:
        """What was found, one sentence each, the worst first."""
        return (
            *(() if self.signed_off else (NOT_SIGNED_OFF,)),
            *(f"What its own plan asks for was not done. {each}" for each in self.unmet),
            *(f"Its times do not hold together. {each}" for each in self.times),
            *self.report_faults,
            *self._of_the_files(),
            *self._of_the_verdict(),
            *self.report_remarks,
            *((IMPORTED_REMARK,) if self.record.acceptance.kind == "imported" else ()),
            *self._of_what_is_carried(),
        )

    def _of_the_files(self) -> tuple[str, ...]:
        if self.record.version == 1:
            return ("A record of layout 1 has no sums: nothing shows whether a file was changed.",)
        if self.checksum_differences:
            return self.checksum_differences
        return ("Every file is as it was when the sums were made.",)

    def _of_the_verdict(self) -> tuple[str, ...]:
        then, now = self.record.acceptance.software, self.software
        if self.problem:
            return (f"The verdict cannot be worked out again: {self.problem}",)
        if self.record.recorded is None:
            return (f"The verdict's file is gone; worked out anew it is: {self._words}.",)
        if self.method_difference:
            return (
                f"Readings, limits and states follow from the raw readings: {self._words}. What "
                f"{then} recorded of trust, {now} works out otherwise, so that was not held. First "
                f"difference: {self.method_difference}.",
            )
        if not self.difference:
            return (f"The verdict follows from the raw readings: {self._words}.",)
        return (self._how_it_differs,)

    @property
    def _how_it_differs(self) -> str:
        then, now = self.record.acceptance.software, self.software
        first = f"First difference: {self.difference}."
        if self.by_method:
            return (
                f"Worked out by {now}, it differs from what {then} recorded, though the files are "
                f"as written: the method differs, not the data. {first}"
            )
        if self.checksum_differences:
            return f"What was recorded does not follow from what is in the folder. {first}"
        return (
            "The sums agree, yet the recorded verdict does not follow from the raw readings: it "
            f"was changed before the sums were made, or made otherwise. {first}"
        )

    def _of_what_is_carried(self) -> tuple[str, ...]:
        carried = dict(self.record.acceptance.carried)
        lines = []
        match carried.get(CHAIN):
            case {"number": int(number)}:
                del carried[CHAIN]
                lines.append(
                    f"It is number {number} of its bench's chain. `bandwright recheck --chain` "
                    "with the records' folder shows whether one is missing."
                )
        match carried.get(STATION):
            case {"name": str(name), "word": str(word), "why": str(why)}:
                del carried[STATION]
                lines.append(
                    f"It was tested at the station {plain(name)}: {plain(word)}. {plain(why)}"
                )
        if carried:
            lines.append(
                f"It tells of {', '.join(carried)} too, which this version does not know: that was "
                "not looked into. A newer version may."
            )
        return tuple(lines)

    @property
    def _words(self) -> str:
        return "" if self.examined is None else self.examined.words


def recheck(
    record: StoredRecord,
    checksum_differences: tuple[str, ...],
    software: str,
    now: datetime | None = None,
) -> Recheck:
    """Work a record out again and hold it against what it tells.

    sums : what `acceptance.record.checksums.differences` found. software : this program's name and
        version. now : by this machine's clock; None where it is not to be asked.
    """
    times = time_faults(record.acceptance, now)
    if record.version == 1:
        checksum_differences = ()  # there were none yet
    try:
        examined = examine(record.acceptance)
        left = unmet(record.acceptance)
    except (BandwrightError, ValueError, ArithmeticError) as error:
        return Recheck(record, checksum_differences, None, str(error), "", "", (), software, times)
    difference, of_the_method = _difference(record, examined), ""
    if difference and not checksum_differences and software != record.acceptance.software:
        beside_trust = _difference_beside_trust(record, examined)
        difference, of_the_method = beside_trust, "" if beside_trust else difference
    return Recheck(
        record, checksum_differences, examined, "", difference, of_the_method, left, software, times
    )


def _difference(record: StoredRecord, examined: Examined) -> str:
    if record.recorded is not None:
        tolerance = FIRST_LAYOUT_TOLERANCE if record.version == 1 else TOLERANCE
        found = first_difference(_compared(record), _again(record, examined), tolerance=tolerance)
        if found:
            return found
    if found := _difference_of_sweeps(record, examined):
        return found
    for examined_condition in examined.conditions:
        table = record.uncertainty_tables.get(examined_condition.condition.name)
        recomputed = uncertainty_table(examined_condition.interval, examined_condition.residuals)
        if table is not None and not same_table(table, recomputed, TOLERANCE):
            return f"the table of trust, {examined_condition.condition.label}, is another one"
    return ""


def _difference_beside_trust(record: StoredRecord, examined: Examined) -> str:
    """The same, but for what another version's method may have put otherwise."""
    if record.recorded is not None:
        then, now = (
            without_keys(each, OF_THE_METHOD)
            for each in (_compared(record), _again(record, examined))
        )
        if found := first_difference(then, now, tolerance=METHOD_TOLERANCE, new_keys=True):
            return found
    return _difference_of_sweeps(record, examined)


def _difference_of_sweeps(record: StoredRecord, examined: Examined) -> str:
    for each in examined.conditions:
        kept = record.corrected.get(each.condition.name)
        if kept is not None and not _same_sweep(kept, each.corrected):
            return f"the corrected sweep, {each.condition.label}, is another one"
    return ""


def _same_sweep(recorded: Reading, recomputed: Sweep) -> bool:
    return np.array_equal(recorded.frequency_hz, recomputed.frequency_hz) and np.allclose(
        recorded.reflection, recomputed.reflection, rtol=0, atol=TOLERANCE, equal_nan=True
    )


def _compared(record: StoredRecord) -> Mapping[str, Any]:
    """What was recorded, but for what may differ: who wrote it."""
    recorded = record.recorded or {}
    if record.version == 1:
        return {"verdict": recorded.get("verdict"), "words": recorded.get("words")}
    return {key: value for key, value in recorded.items() if key != "software"}


def _again(record: StoredRecord, examined: Examined) -> Mapping[str, Any]:
    if record.version == 1:
        verdict = examined.conditions[0].verdict
        return verdict_in_words_of(1, {"verdict": verdict.as_json(), "words": verdict.words})
    recomputed = verdict_in_words_of(record.version, verdict_as_json(examined))
    return {key: value for key, value in recomputed.items() if key != "software"}
