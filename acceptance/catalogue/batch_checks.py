"""The checks of a batch: a standard put back at its start, after every tenth antenna, at its end.

Each is a folder of its own among the records, whole and summed as a record is: the raw sweeps, the
calibration, and the records accepted since the check before, by folder and sum. Records are never
touched again: a check that fails puts all those that it names in doubt.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from acceptance.errors import RecordError
from acceptance.record.acceptance_record import (
    CALIBRATION,
    HEAD,
    Record,
    as_json,
    raw_name,
    sweeps_as_json,
    sweeps_of,
    touchstone_of,
)
from acceptance.record.check_after_sweep import StandardCheck, averaged_check, check_as_json
from acceptance.record.checksums import CHECKSUMS, differences, format_checksums
from acceptance.record.layouts import CHECKS
from acceptance.record.recheck import StoredRecord
from acceptance.record.record_folder import read_files, write_record
from acquire.coverage.spans import Span
from acquire.errors import BandwrightError
from acquire.files.bounded_read import read_at_most
from acquire.touchstone.reader import parse_touchstone
from calibration.files.calibration_file import calibration_text, parse_calibration
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.put_back import PutBack, put_back

FOLDER = "batch-checks"
CHECK_FORMAT = "bandwright batch check"
CHECK_FILE = "check.json"
VERSION = 1
EVERY = 10
"""So many antennas are accepted between two checks at most."""
LARGEST_HEAD = 2**20
NEWEST_CHECKS = 2000
"""So many are read; older ones stay on the disk."""


@dataclass(frozen=True, slots=True)
class CoveredRecord:
    """One record that a check decides."""

    folder: str
    checksum: str
    """SHA-256 of its SHA256SUMS."""


@dataclass(frozen=True, slots=True)
class BatchCheck:
    """One check of a batch, as it was written."""

    folder: str
    checksum: str
    """SHA-256 of its SHA256SUMS."""
    calibration: str
    """When the calibration was made, which names it."""
    previous: str
    """The check before, as `reference` has it; empty for a batch's first."""
    taken_at: datetime
    holds: bool
    words: str
    records: tuple[CoveredRecord, ...]
    """Those accepted since the check before."""

    @property
    def reference(self) -> str:
        """What names it in a record: folder and sum."""
        return f"{self.folder} {self.checksum}"


class BatchChecks:
    """The checks of one calibration among the records of a folder."""

    def __init__(self, records: Path, calibration: Calibration) -> None:
        """Read those there are; what cannot be read is passed over."""
        self._records = records
        self._calibration = calibration
        self._checks = [c for c in batch_checks(records) if c.calibration == calibration.made]
        self._since = self._accepted_since()

    @property
    def last(self) -> BatchCheck | None:
        """The newest; None where the batch was not begun."""
        return self._checks[-1] if self._checks else None

    @property
    def since(self) -> int:
        """How many were accepted since the last check."""
        return len(self._since)

    @property
    def failed(self) -> str:
        """Why nothing more is accepted by this calibration; empty where nothing speaks against."""
        if self.last is None or self.last.holds:
            return ""
        return f"The batch's last check failed, so this calibration is done with. {self.last.words}"

    @property
    def due(self) -> str:
        """Why a check is wanted before the next antenna; empty where none is."""
        if self.last is None:
            return "A batch begins with a standard put back."
        if self.since >= EVERY:
            return f"{self.since} antennas were accepted since the batch was last checked."
        return ""

    @property
    def ending(self) -> str:
        """What a person is told while the batch goes on."""
        return (
            f"{self.since} accepted since the batch was last checked. At its end put a standard "
            "back: `bandwright finish`, or the page's button."
        )

    def check(
        self,
        check: StandardCheck,
        assumptions: Assumptions,
        spans: Sequence[Span],
        software: str,
    ) -> PutBack:
        """Judge a standard put back and write it down; it is on the disk then.

        Raises CalibrationError where it is no open and no short, and RecordError; nothing is
        written then.
        """
        found = _examined(check, self._calibration, assumptions, spans)
        head = {
            "format": CHECK_FORMAT,
            "version": VERSION,
            "software": software,
            "calibration": self._calibration.made,
            "previous": "" if self.last is None else self.last.reference,
            "assumptions": asdict(assumptions),
            "spans_hz": [list(each) for each in spans],
            **sweeps_as_json(check.raw, check.sweeps_since_calibration),
            "shown": check_as_json(found),
            "records": [asdict(each) for each in self._since],
        }
        files = {
            CHECK_FILE: as_json(head),
            CALIBRATION: calibration_text(self._calibration).encode(),
            **{
                raw_name(number): touchstone_of(each, "", software)
                for number, each in enumerate(check.raw, 1)
            },
        }
        files[CHECKSUMS] = format_checksums(files)
        name = f"check_{check.taken_at.astimezone(UTC):%Y-%m-%dT%H%M%SZ}"
        written = write_record(Record(name, files), self._records / FOLDER)
        self._checks.append(_check_of(head, written.name, files[CHECKSUMS]))
        self._since = ()
        return found

    def add(self, record: Path) -> None:
        """Count a record that was just written."""
        self._since = (*self._since, _covered(record))

    def _accepted_since(self) -> tuple[CoveredRecord, ...]:
        """The records that name the last check as the one before them."""
        if self.last is None or not self._records.is_dir():
            return ()
        found = []
        for head in sorted(self._records.glob(f"*/{HEAD}")):
            try:
                after = json.loads(head.read_bytes())[CHECKS]
                if after and after["batch_check"] == self.last.reference:
                    found.append(_covered(head.parent))
            except (OSError, ValueError, KeyError, TypeError, RecordError):
                continue
        return tuple(found)


def batch_checks(records: Path) -> list[BatchCheck]:
    """All checks below a records' folder, the oldest first; what cannot be read is passed over."""
    if not (records / FOLDER).is_dir():
        return []
    found = []
    for folder in sorted((records / FOLDER).iterdir())[-NEWEST_CHECKS:]:
        try:
            sums = read_at_most(folder / CHECKSUMS, LARGEST_HEAD)
            head = json.loads(read_at_most(folder / CHECK_FILE, LARGEST_HEAD))
            found.append(_check_of(head, folder.name, sums))
        except (BandwrightError, OSError, ValueError, KeyError, TypeError):
            continue
    return sorted(found, key=lambda each: each.taken_at)


def doubtful_records(records: Path) -> dict[str, str]:
    """Why each record of a batch whose next check failed is in doubt, by its folder."""
    return {
        each.folder: _doubt(check)
        for check in batch_checks(records)
        if not check.holds
        for each in check.records
    }


def batch_words(record: StoredRecord, folder: Path) -> tuple[bool, str]:
    """What the checks beside a record of a batch say of it, and whether it counts.

    folder : the record's. The deciding check is worked out again from its raw sweeps. True and ""
    for a record that is none of a batch.
    """
    after = record.acceptance.after_sweep
    if after is None or record.acceptance.plan.check_after != "batch":
        return True, ""
    mine = _covered(folder)
    beside = folder.resolve().parent
    for check in batch_checks(beside):
        if mine.checksum not in [each.checksum for each in check.records]:
            continue
        wrong = _wrong_with(beside / FOLDER / check.folder, check)
        if wrong:
            return False, f"The batch's check {check.folder} after it does not hold: {wrong}"
        if not check.holds:
            return False, _doubt(check)
        return True, f"The batch was checked after it ({check.folder}). {check.words}"
    return False, (
        "It is one of a batch, and no check of the batch after it is beside it, so whether the "
        "calibration still held, nothing shows. `bandwright finish` puts a standard back."
    )


def _doubt(check: BatchCheck) -> str:
    return f"In doubt: the batch's check {check.folder} after it failed. {check.words}"


def _wrong_with(folder: Path, check: BatchCheck) -> str:
    """Why a check is not as it was written, or does not follow from its raw sweeps."""
    try:
        files = read_files(folder)
        changed = differences(files)
        if changed:
            return changed[0]
        head = json.loads(files[CHECK_FILE])
        readings = [
            parse_touchstone(files[raw_name(n)], raw_name(n)).reading
            for n in range(1, len(head["sweeps"]) + 1)
        ]
        again = _examined(
            StandardCheck(sweeps_of(head, readings), head["sweeps_since_calibration"]),
            parse_calibration(files[CALIBRATION], CALIBRATION),
            Assumptions(**head["assumptions"]),
            [(low, high) for low, high in head["spans_hz"]],
        )
    except (BandwrightError, ValueError, KeyError, TypeError, ArithmeticError) as error:
        return f"it cannot be worked out again ({error})."
    if again.holds is not check.holds:
        return "what it says does not follow from its raw sweeps."
    return ""


def _examined(
    check: StandardCheck,
    calibration: Calibration,
    assumptions: Assumptions,
    spans: Sequence[Span],
) -> PutBack:
    return put_back(
        calibration,
        averaged_check(check),
        assumptions,
        swept=check.sweeps_since_calibration,
        spans=spans,
    )


def _check_of(head: Mapping[str, Any], folder: str, sums: bytes) -> BatchCheck:
    """Raises KeyError, TypeError or ValueError where something is not as it should be."""
    if head["format"] != CHECK_FORMAT or head["version"] != VERSION:
        raise ValueError("a check of another kind")
    return BatchCheck(
        folder,
        hashlib.sha256(sums).hexdigest(),
        str(head["calibration"]),
        str(head["previous"]),
        datetime.fromisoformat(head["shown"]["taken_at"]),
        bool(head["shown"]["holds"]),
        str(head["shown"]["words"]),
        tuple(CoveredRecord(str(r["folder"]), str(r["checksum"])) for r in head["records"]),
    )


def _covered(record: Path) -> CoveredRecord:
    sums = read_at_most(record / CHECKSUMS, LARGEST_HEAD)
    return CoveredRecord(record.resolve().name, hashlib.sha256(sums).hexdigest())
