"""The known good antenna of a station: swept before the others, between them and at their end.

It must read as its own record says. What calibration and standards cannot show, a bent connector, a
cable kinked behind the plane, a bench moved beside a fence, it shows, for it is measured as the
others are. Each check is a folder beside the records, whole and summed: what its record says, which
record it was swept into now, and the records accepted since the check before. One that fails puts
those in doubt, as a failed check of a batch does.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from acceptance.errors import RecordError
from acceptance.plan.acceptance_plan import Plan
from acceptance.record.acceptance_record import Record, as_json
from acceptance.record.checksums import CHECKSUMS, differences, format_checksums
from acceptance.record.examination import Examined, ExaminedCondition, examine
from acceptance.record.record_folder import load_record, read_files, write_record
from acquire.errors import BandwrightError
from acquire.files.bounded_read import read_at_most
from acquire.sweep import Sweep
from calibration.uncertainty.interval import Interval
from calibration.verification.check_piece import SHARE_INSIDE, PieceReading, piece_reading

FOLDER = "known-good-checks"
CHECK_FORMAT = "bandwright known good check"
CHECK_FILE = "check.json"
VERSION = 1
LARGEST_HEAD = 2**20
NEWEST_CHECKS = 2000


@dataclass(frozen=True, slots=True)
class Reference:
    """A record, by its folder and the SHA-256 of its SHA256SUMS."""

    folder: str
    checksum: str

    @classmethod
    def of(cls, record: Path) -> Reference:
        """Of a record on the disk. Raises RecordError, OSError."""
        try:
            sums = read_at_most(record / CHECKSUMS, LARGEST_HEAD)
        except OSError as error:
            raise RecordError(
                f"{record} is no record: its {CHECKSUMS} cannot be read. Name a record's folder."
            ) from error
        return cls(record.resolve().name, hashlib.sha256(sums).hexdigest())

    @property
    def short(self) -> str:
        """The first letters of the sum: enough to tell records apart on a label."""
        return self.checksum[:8]


@dataclass(frozen=True, slots=True)
class KnownGood:
    """What a record says of the known good antenna, within the bands of a plan."""

    antenna: str
    reference: Reference
    readings: Mapping[str, PieceReading]
    """By condition."""


@dataclass(frozen=True, slots=True)
class KnownGoodFound:
    """How the known good antenna reads against its record."""

    holds: bool
    words: str
    """One sentence, with figures."""


@dataclass(frozen=True, slots=True)
class KnownGoodCheck:
    """One check, as it was written."""

    folder: str
    station: str
    taken_at: datetime
    holds: bool
    words: str
    records: tuple[Reference, ...]
    """Those accepted since the check before."""


def known_good_of(folder: Path, plan: Plan) -> KnownGood:
    """What the record in a folder says. Raises RecordError, where it is none of use here."""
    stored = load_record(folder)
    try:
        examined = examine(stored.acceptance)
    except (BandwrightError, ValueError, ArithmeticError) as error:
        raise RecordError(
            f"The record {folder.name} cannot be worked out: {str(error).rstrip('.')}."
        ) from error
    return KnownGood(stored.acceptance.antenna, Reference.of(folder), readings_of(examined, plan))


def readings_of(examined: Examined, plan: Plan) -> dict[str, PieceReading]:
    """What an antenna reads in each condition, within the bands of a plan.

    Raises RecordError where no condition was swept there.
    """
    found = {}
    for each in examined.conditions:
        inside = _inside(each, plan)
        if inside is not None:
            found[each.condition.name] = inside
    if not found:
        raise RecordError(
            f"The record of {examined.acceptance.antenna} holds no reading in the plan's bands. "
            "Accept the known good antenna by this plan first."
        )
    return found


def known_good_difference(
    then: Mapping[str, PieceReading], now: Mapping[str, PieceReading], tolerance_db: float
) -> KnownGoodFound:
    """Whether an antenna reads as it did, condition by condition.

    A point agrees where the two sizes differ by no more than both intervals together (root of the
    sum of squares: they are of different calibrations [derived]) and the tolerance, which is what
    the connector, the place and the weather are allowed, dB of the size then.
    """
    shared = [name for name in now if name in then]
    if not shared:
        return KnownGoodFound(False, "It was not swept in a condition that its record has.")
    found = [_furthest(then[name], now[name], tolerance_db) for name in shared]
    worst = max(found, key=lambda each: each.off)
    holds = all(each.share >= SHARE_INSIDE for each in found)
    reads = (
        f"at {worst.at_hz / 1e6:.0f} MHz the known good antenna reads {worst.read_db:.1f} dB, and "
        f"{worst.wanted_db:.1f} dB by its record"
    )
    if holds:
        return KnownGoodFound(True, f"It reads as its record says; {reads}.")
    return KnownGoodFound(
        False,
        f"It does not read as its record says: {reads}, {worst.off:.1f} times what is allowed.",
    )


def write_check(
    records: Path,
    known_good: KnownGood,
    now: Path,
    readings: Mapping[str, PieceReading],
    since: Sequence[Path],
    *,
    station: str,
    tolerance_db: float,
    software: str,
    at: datetime,
) -> KnownGoodCheck:
    """Judge a sweep of the known good antenna and write it down; it is on the disk then.

    now : the record that it was swept into. since : those accepted since the last check. Raises
    RecordError; nothing is written then.
    """
    found = known_good_difference(known_good.readings, readings, tolerance_db)
    covered = tuple(Reference.of(each) for each in since)
    head = {
        "format": CHECK_FORMAT,
        "version": VERSION,
        "software": software,
        "station": station,
        "antenna": known_good.antenna,
        "taken_at": at.astimezone(UTC).isoformat(),
        "tolerance_db": tolerance_db,
        "reference": {
            **asdict(known_good.reference),
            "conditions": {name: each.as_json() for name, each in known_good.readings.items()},
        },
        "now": {
            **asdict(Reference.of(now)),
            "conditions": {name: each.as_json() for name, each in readings.items()},
        },
        "holds": found.holds,
        "words": found.words,
        "records": [asdict(each) for each in covered],
    }
    files = {CHECK_FILE: as_json(head)}
    files[CHECKSUMS] = format_checksums(files)
    name = f"known-good_{at.astimezone(UTC):%Y-%m-%dT%H%M%SZ}"
    written = write_record(Record(name, files), records / FOLDER)
    return KnownGoodCheck(written.name, station, at, found.holds, found.words, covered)


def known_good_checks(records: Path) -> list[KnownGoodCheck]:
    """All checks below a records' folder, the oldest first; what cannot be read is passed over."""
    if not (records / FOLDER).is_dir():
        return []
    found = []
    for folder in sorted((records / FOLDER).iterdir())[-NEWEST_CHECKS:]:
        try:
            head = json.loads(read_at_most(folder / CHECK_FILE, LARGEST_HEAD))
            found.append(_check_of(head, folder.name))
        except (BandwrightError, OSError, ValueError, KeyError, TypeError):
            continue
    return sorted(found, key=lambda each: each.taken_at)


def doubted_by_known_good(records: Path) -> dict[str, str]:
    """Why each record whose next check of the known good antenna failed is in doubt, by folder."""
    return {
        each.folder: _doubt(check)
        for check in known_good_checks(records)
        if not check.holds
        for each in check.records
    }


def known_good_words(folder: Path) -> tuple[bool, str]:
    """What the check of the known good antenna after a record says of it, and whether it counts.

    folder : the record's. The check is worked out again from what it holds. True and "" for a
    record that no such check names.
    """
    mine, beside = Reference.of(folder), folder.resolve().parent
    for check in known_good_checks(beside):
        if mine.checksum not in [each.checksum for each in check.records]:
            continue
        if wrong := _wrong_with(beside / FOLDER / check.folder, check):
            return False, f"The known good antenna's check {check.folder} does not hold: {wrong}"
        if not check.holds:
            return False, _doubt(check)
        return True, f"The known good antenna was swept after it ({check.folder}). {check.words}"
    return True, ""


def _doubt(check: KnownGoodCheck) -> str:
    return f"In doubt: the known good antenna failed after it ({check.folder}). {check.words}"


def _wrong_with(folder: Path, check: KnownGoodCheck) -> str:
    """Why a check is not as it was written, or does not follow from its readings."""
    try:
        files = read_files(folder)
        if changed := differences(files):
            return changed[0]
        head = json.loads(files[CHECK_FILE])
        then, now = (
            {n: PieceReading.from_json(each) for n, each in head[which]["conditions"].items()}
            for which in ("reference", "now")
        )
        again = known_good_difference(then, now, float(head["tolerance_db"]))
    except (BandwrightError, ValueError, KeyError, TypeError, ArithmeticError) as error:
        return f"it cannot be worked out again ({error})."
    return "" if again.holds is check.holds else "what it says does not follow from its readings."


def _check_of(head: Mapping[str, Any], folder: str) -> KnownGoodCheck:
    """Raises KeyError, TypeError or ValueError where something is not as it should be."""
    if head["format"] != CHECK_FORMAT or head["version"] != VERSION:
        raise ValueError("a check of another kind")
    return KnownGoodCheck(
        folder,
        str(head["station"]),
        datetime.fromisoformat(head["taken_at"]),
        bool(head["holds"]),
        str(head["words"]),
        tuple(Reference(str(r["folder"]), str(r["checksum"])) for r in head["records"]),
    )


def _inside(condition: ExaminedCondition, plan: Plan) -> PieceReading | None:
    """What a condition reads within a plan's bands; None where nothing was swept there."""
    sweep, trust = condition.corrected, condition.interval
    f = sweep.frequency_hz
    wanted = np.any([(f >= each.low_hz) & (f <= each.high_hz) for each in plan.targets], axis=0)
    if not wanted.any():
        return None
    inside: Sweep = replace(sweep, frequency_hz=f[wanted], reflection=sweep.reflection[wanted])
    known = Interval(
        trust.frequency_hz[wanted],
        trust.reflection[wanted],
        trust.low[wanted],
        trust.high[wanted],
        trust.floor[wanted],
    )
    calibration = condition.condition.raw[-1].taken_at.isoformat()
    try:
        return piece_reading("known good antenna", inside, known, calibration)
    except ValueError:
        return None


@dataclass(frozen=True, slots=True)
class _Furthest:
    """The point of a condition that is furthest off."""

    off: float
    """As a multiple of what is allowed."""
    share: float
    """Of all points, those that agree."""
    at_hz: float
    read_db: float
    wanted_db: float


def _furthest(then: PieceReading, now: PieceReading, tolerance_db: float) -> _Furthest:
    f, size = np.array(now.frequency_hz), np.array(now.reflection)
    wanted = np.interp(f, then.frequency_hz, then.reflection)
    own = np.interp(f, then.frequency_hz, then.half_width)
    room = wanted * (10 ** (tolerance_db / 20) - 1)
    allowed = np.hypot(np.array(now.half_width), own) + room
    off = np.abs(size - wanted) / np.maximum(allowed, 1e-9)
    at = int(np.argmax(off))
    share = float(np.mean(off <= 1))
    return _Furthest(float(off[at]), share, float(f[at]), _db(size[at]), _db(wanted[at]))


def _db(size: float) -> float:
    return -20 * float(np.log10(max(size, 1e-6)))
