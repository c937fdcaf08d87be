"""Records on disk: written whole or not at all, and read back."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from acceptance.bands.load import load_bands
from acceptance.errors import RecordError
from acceptance.plan.load import load_presets
from acceptance.record.acceptance_record import Record
from acceptance.record.examination import Examined, examine
from acceptance.record.recheck import StoredRecord
from acceptance.record.record_reader import Shipped, read_record
from acceptance.record.record_size import require_bounded
from acquire.errors import BandwrightError
from acquire.files.atomic_write import sync_folder
from acquire.files.bounded_read import AnyPath
from acquire.files.named_file import in_folder
from acquire.sweep import Reading
from calibration.files.store import plane_again

MOST_OF_ONE_NAME = 100
DRAFT_IS_OLD_S = 24 * 3600.0
MOST_FILES = 2000
LARGEST_RECORD = 128 * 2**20
"""Bytes, all files together; twelve conditions of a hundred sweeps of 1,001 points take half."""


def load_record(folder: AnyPath) -> StoredRecord:
    """Read a record's folder back, without checking what it says.

    Raises RecordError, one sentence, where something is missing or cannot be read.
    """
    folder = Path(folder)
    return parse_record(read_files(folder), folder.resolve().name)


def read_files(folder: Path) -> dict[str, bytes]:
    """Every file of a folder and of its folders, by name; links are not followed.

    Raises RecordError where there is no folder, or more than a record can hold.
    """
    if not folder.is_dir():
        raise RecordError(f"There is no record {folder}. Name the folder that `accept` wrote.")
    files: dict[str, bytes] = {}
    total = 0
    try:
        for path in sorted(folder.rglob("*")):
            if path.is_symlink() or not path.is_file():
                continue
            total += path.stat().st_size
            if total > LARGEST_RECORD or len(files) >= MOST_FILES:
                raise RecordError(
                    f"{folder.name} holds more than {MOST_FILES} files or "
                    f"{LARGEST_RECORD // 2**20} MB, so it is no record. Name another folder."
                )
            files[path.relative_to(folder).as_posix()] = path.read_bytes()
    except OSError as error:
        raise RecordError(
            f"The record {folder.name} cannot be read: {error.strerror or error}. Take it from "
            "where it was copied."
        ) from error
    return files


def parse_record(files: Mapping[str, bytes], name: str) -> StoredRecord:
    """Make a record of its files. Raises RecordError, one sentence, where that cannot be."""
    require_bounded(files, name)
    return read_record(files, name, Shipped(load_bands(), load_presets(), plane_again))


def examined_of(folder: Path) -> Examined:
    """A record's folder, read back and worked out anew.

    Raises RecordError, one sentence, where that cannot be done.
    """
    record = load_record(folder)
    try:
        return examine(record.acceptance)
    except (BandwrightError, ValueError, ArithmeticError) as error:
        raise RecordError(
            f"The record {folder.name} cannot be worked out: {str(error).rstrip('.')}."
        ) from error


def corrected_of(folder: Path, condition: str) -> Reading:
    """The corrected average of one condition, as recorded; worked out anew where that is gone.

    Raises RecordError, one sentence, where the folder does not tell it.
    """
    record = load_record(folder)
    kept = record.corrected.get(condition)
    if kept is not None:
        return kept
    for examined_condition in examined_of(folder).conditions:
        if examined_condition.condition.name == condition:
            return Reading(
                examined_condition.corrected.frequency_hz, examined_condition.corrected.reflection
            )
    raise RecordError(f'The record {folder.name} has no condition "{condition}".')


def write_record(record: Record, parent: Path) -> Path:
    """Write a record's folder below parent and return its path.

    The folder appears whole or not at all, and is on the disk when this returns. A folder of
    the same name is never touched: the new one gets "-2", "-3" and so on behind its name.
    Raises RecordError; nothing is left behind then.
    """
    try:
        parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(dir=parent, prefix=".draft-"))
        _clear_drafts(parent, draft.stat().st_mtime)
        try:
            write_files(record.files, draft)
            draft.chmod(0o755)
            written = _rename(draft, parent, record.folder)
        except BaseException:
            shutil.rmtree(draft, ignore_errors=True)
            raise
        sync_folder(parent)
    except OSError as error:
        raise RecordError(
            f"The record {record.folder} could not be written to {parent}: "
            f"{error.strerror or error}. Nothing was kept; choose another folder or make room."
        ) from error
    return written


def _clear_drafts(parent: Path, now_s: float) -> None:
    """Remove what a power cut left of folders that were never finished; others may be at work."""
    for draft in parent.glob(".draft-*"):
        with contextlib.suppress(OSError):
            if now_s - draft.stat().st_mtime > DRAFT_IS_OLD_S:
                shutil.rmtree(draft, ignore_errors=True)


def write_files(files: Mapping[str, bytes], folder: Path) -> None:
    """Write new files into a folder and make them outlast a power cut.

    Raises OSError, and BesideError for a name that leads elsewhere.
    """
    within = {folder}
    for name, content in files.items():
        path = in_folder(folder, name)
        if path.parent not in within:
            path.parent.mkdir(exist_ok=True)
            within.add(path.parent)
        with path.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    for each in within:
        sync_folder(each)


def _rename(draft: Path, parent: Path, name: str) -> Path:
    for number in range(1, MOST_OF_ONE_NAME + 1):
        target = parent / (name if number == 1 else f"{name}-{number}")
        if target.exists() or target.is_symlink():
            continue
        try:
            return draft.rename(target)
        except OSError as error:  # another program took the name just now
            if error.errno not in (errno.EEXIST, errno.ENOTEMPTY):
                raise
    raise OSError(errno.EEXIST, f"{MOST_OF_ONE_NAME} folders of that name exist already")
