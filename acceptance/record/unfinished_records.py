"""Acceptances that were begun: what was swept of an antenna is on the disk before it is
acknowledged.

Each is kept as a record is, below a folder of its own among the records, and written whole again
with every condition swept; the one before is removed only then. So a power cut loses nothing that
was acknowledged, and leaves no half of anything.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

from acceptance.errors import RecordError
from acceptance.record.acceptance_record import Acceptance, Record, done_files, folder_name
from acceptance.record.record_folder import load_record, write_record
from calibration.files.calibration_file import calibration_text

UNFINISHED_FOLDER = "unfinished"


@dataclass(frozen=True, slots=True, eq=False)
class Unfinished:
    """One that was begun, and where it is kept."""

    acceptance: Acceptance
    folder: Path

    @property
    def words(self) -> str:
        """What was swept of it, and when it was begun."""
        swept = ", ".join(each.label for each in self.acceptance.conditions) or "nothing yet"
        begun = self.acceptance.begun_at.astimezone()
        return f"{self.acceptance.antenna}, begun {begun:%Y-%m-%d %H:%M}; swept: {swept}"


def keep(acceptance: Acceptance, records: Path, before: Unfinished | None = None) -> Unfinished:
    """Write an acceptance that is not signed off; what was kept of it before goes.

    records : the records' folder. Raises RecordError; what was kept before is still there then.
    """
    calibration = acceptance.calibration
    files = done_files(acceptance, None if calibration is None else calibration_text(calibration))
    folder = write_record(Record(folder_name(acceptance), files), records / UNFINISHED_FOLDER)
    if before is not None:
        throw_away(before)
    return Unfinished(acceptance, folder)


def unfinished(records: Path) -> list[Unfinished]:
    """Those below a records' folder, the newest first; what cannot be read is passed over.

    Of one acceptance written twice, since the power went in between, the fuller one counts; one
    whose record is there already is finished and does not count.
    """
    found: dict[tuple[str, str], Unfinished] = {}
    if not (records / UNFINISHED_FOLDER).is_dir():
        return []
    for folder in sorted((records / UNFINISHED_FOLDER).iterdir()):
        if folder.name.startswith(".") or not folder.is_dir():
            continue
        try:
            one = Unfinished(load_record(folder).acceptance, folder)
        except RecordError:
            continue
        key = (one.acceptance.antenna, one.acceptance.begun_at.isoformat())
        other = found.get(key)
        if other is None or len(other.acceptance.conditions) <= len(one.acceptance.conditions):
            found[key] = one
    left = [each for each in found.values() if not _is_finished(each.acceptance, records)]
    return sorted(left, key=lambda each: each.acceptance.begun_at, reverse=True)


def throw_away(one: Unfinished) -> None:
    """Remove what was kept. Raises RecordError where the disk refuses."""
    try:
        shutil.rmtree(one.folder)
        if not any(one.folder.parent.iterdir()):
            one.folder.parent.rmdir()
    except FileNotFoundError:
        return
    except OSError as error:
        raise RecordError(
            f"{one.folder} cannot be removed: {error.strerror or error}. Remove it by hand."
        ) from error


def _is_finished(acceptance: Acceptance, records: Path) -> bool:
    """True where the power went after its record was written, before this was removed."""
    beginning = folder_name(acceptance).rpartition("_")[0]
    for folder in records.glob(f"{beginning}_*"):
        try:
            other = load_record(folder).acceptance
        except RecordError:
            continue
        if (other.antenna, other.begun_at) == (acceptance.antenna, acceptance.begun_at):
            return True
    return False
