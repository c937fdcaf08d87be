"""The readings of the bench's check pieces, kept on this machine: a line each, only ever added to.

A line that a power cut left half, or that somebody changed, is passed over and hides no other. The
file is bounded: beyond LARGEST_FILE it is put aside, in place of the one put aside before, and
another begun.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

from acceptance.errors import RecordError
from acquire.files.atomic_write import sync_folder
from acquire.files.bounded_read import read_at_most
from calibration.verification.check_piece import PieceReading

FILE, PUT_ASIDE = "readings.jsonl", "readings-before.jsonl"
LARGEST_FILE = 4 * 2**20
"""Bytes; some thousand readings, two years of mornings."""
NEWEST_READINGS = 4000


def piece_readings(folder: Path) -> tuple[PieceReading, ...]:
    """All readings that can be read, the oldest first; none where there is no file."""
    found = []
    for name in (PUT_ASIDE, FILE):
        try:
            content = read_at_most(folder / name, 2 * LARGEST_FILE)
        except OSError:
            continue
        for line in content.splitlines():
            try:
                found.append(PieceReading.from_json(json.loads(line)))
            except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
                continue
    return tuple(sorted(found, key=lambda each: each.taken_at)[-NEWEST_READINGS:])


def changed_at(folder: Path) -> int:
    """What changes when a reading is added; 0 while there is none."""
    try:
        return (folder / FILE).stat().st_mtime_ns
    except OSError:
        return 0


def add_reading(folder: Path, reading: PieceReading) -> None:
    """Add a reading; it is on the disk when this returns. Raises RecordError where it is not."""
    path = folder / FILE
    line = json.dumps(reading.as_json(), ensure_ascii=True, allow_nan=False).encode()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if path.exists() and path.stat().st_size + len(line) > LARGEST_FILE:
            path.replace(folder / PUT_ASIDE)
        with path.open("ab") as file:
            # on a line of its own, whatever a power cut left before it
            file.write(b"\n" + line + b"\n")
            file.flush()
            os.fsync(file.fileno())
        sync_folder(folder)
    except OSError as error:
        raise RecordError(
            f"The reading of the {reading.piece} could not be kept in {folder}: "
            f"{error.strerror or error}. Make room, or check your rights there."
        ) from error


def latest_reading(folder: Path) -> PieceReading | None:
    """The newest reading of any piece; None where there is none."""
    readings = piece_readings(folder)
    return readings[-1] if readings else None
