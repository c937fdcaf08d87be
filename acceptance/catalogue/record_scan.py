"""What a catalogue takes in: the records of a folder, read as far as they have changed."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from acceptance.catalogue.record_summary import RecordSummary
from acceptance.catalogue.record_summary_reader import (
    CATALOGUED_FILES,
    caveat_of,
    digest_of,
    summarise_record,
)
from acceptance.catalogue.tables import band_rows, identity, storable, summary_row
from acceptance.errors import CatalogueError, RecordError
from acceptance.record.acceptance_record import HEAD, RECIPE, VERDICT, as_json, head_as_json
from acceptance.record.checksums import CHECKSUMS
from acceptance.record.examination import examine, verdict_as_json
from acceptance.record.record_folder import load_record
from acquire.errors import BandwrightError

LARGEST_CATALOGUED_FILE = 16 * 2**20
"""Bytes of one file that is read for a catalogue."""


@dataclass(slots=True)
class Taken:
    """What taking in came to, in folders."""

    new: int = 0
    changed: int = 0
    gone: int = 0
    same: int = 0
    broken: int = 0
    """Found broken now; they are among neither the new nor the changed."""


@dataclass(slots=True)
class Intake:
    """What was read of folders and is still to be written."""

    bench: str
    place: str
    """Whose records they are, and from which folder; both empty for one folder's own catalogue."""
    taken: Taken
    records: list[dict[str, Any]] = field(default_factory=list)
    bands: list[dict[str, str]] = field(default_factory=list)
    recipes: dict[str, str] = field(default_factory=dict)
    others: list[dict[str, str]] = field(default_factory=list)
    """Broken ones, and folders that are no records; of those there is no reason."""
    restamped: list[dict[str, str]] = field(default_factory=list)

    def read(self, folder: Path, stamp: str, known: tuple[str, str] | None) -> None:
        """Read one folder, and count what it is.

        stamp : what changes when files come and go in it. known : stamp and digest it was taken in
        with; None where it was not.
        """
        name = storable(folder.name)
        number = identity(self.bench, self.place, name)
        other = {
            "id": number,
            "bench": self.bench,
            "place": self.place,
            "folder": name,
            "stamp": stamp,
        }
        try:
            contents = read_catalogued_files(folder)
            if not contents:
                self.others.append({**other, "why": ""})
                return
            digest = digest_of(contents)
            if known is not None and known[1] == digest:
                self.restamped.append({"b_id": number, "b_stamp": stamp})
                self.taken.same += 1
                return
            summary = read_summary(folder, contents, self.bench)
        except RecordError as error:
            self.others.append({**other, "why": storable(str(error))})
            self.taken.broken += 1
            return
        row = summary_row(summary, place=self.place, stamp=stamp, digest=digest)
        self.records.append(row)
        self.bands += band_rows(summary, row)
        if summary.recipe_checksum:
            self.recipes[summary.recipe_checksum] = storable(
                contents[RECIPE].decode(errors="replace")
            )
        if known is None:
            self.taken.new += 1
        else:
            self.taken.changed += 1

    @property
    def written_anew(self) -> set[str]:
        """The folders whose rows take the place of others."""
        return {each["folder"] for each in (*self.records, *self.others)}

    @property
    def holds_something(self) -> bool:
        """True where there is something to write."""
        return bool(self.records or self.others or self.restamped)


def folders_of(records: Path) -> dict[str, str]:
    """The folders below a records' folder, with what changes when files come and go in them.

    Links are not followed. Raises CatalogueError where the folder cannot be read.
    """
    try:
        with os.scandir(records) as found:
            return {
                each.name: str(each.stat(follow_symlinks=False).st_mtime_ns)
                for each in found
                if not each.name.startswith(".") and each.is_dir(follow_symlinks=False)
            }
    except OSError as error:
        raise CatalogueError(
            f"The records in {records} cannot be read: {error.strerror or error}. Name the folder "
            "that `accept` writes to."
        ) from error


def read_catalogued_files(folder: Path) -> dict[str, bytes]:
    """Those files of a folder that tell what a record is; none where it is no record.

    Links are not followed. Raises RecordError, one sentence.
    """
    files = {}
    try:
        with os.scandir(folder) as found:
            for each in found:
                if each.name not in CATALOGUED_FILES or not each.is_file(follow_symlinks=False):
                    continue
                if each.stat().st_size > LARGEST_CATALOGUED_FILE:
                    raise RecordError(
                        f"The record {folder.name} cannot be read: {each.name} holds more than "
                        f"{LARGEST_CATALOGUED_FILE // 2**20} MB. Take it from where it was copied."
                    )
                files[each.name] = Path(each.path).read_bytes()
    except OSError as error:
        raise RecordError(
            f"The record {folder.name} cannot be read: {error.strerror or error}. Check your "
            "rights there."
        ) from error
    return files if files.keys() & {HEAD, VERDICT, CHECKSUMS} else {}


def read_summary(folder: Path, contents: Mapping[str, bytes], bench: str = "") -> RecordSummary:
    """What a record tells; worked out anew where its verdict is gone, or in an old layout.

    told : what `read_catalogued_files` found. Raises RecordError, one sentence.
    """
    caveat = caveat_of(contents)
    if not {HEAD, VERDICT} <= contents.keys():
        acceptance = load_record(folder).acceptance
        try:
            derived = as_json(verdict_as_json(examine(acceptance)))
        except (BandwrightError, ValueError, ArithmeticError) as error:
            raise RecordError(
                f"The record {folder.name} cannot be judged: {str(error).rstrip('.')}."
            ) from error
        contents = {**contents, HEAD: as_json(head_as_json(acceptance)), VERDICT: derived}
    return summarise_record(contents, folder=folder.name, bench=bench, caveat=caveat)
