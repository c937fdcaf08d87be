"""The chain of a folder's records: its next link, taken in turn; its stubs; and what it shows.

Who writes a record holds the folder's book, an SQLite database, so that two take turns and the
system lets go for one that was killed. A record that was written and not booked is found by its
link; one that was not written leaves the book as it was: neither leaves a gap.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from acceptance.chain.kept_links import KeptLinks
from acceptance.chain.link import Chained, ChainFindings, Link, chain_findings
from acceptance.errors import RecordError
from acceptance.record.acceptance_record import HEAD, as_json
from acceptance.record.checksums import CHECKSUMS, parse_checksums
from acceptance.record.layouts import CHAIN
from acceptance.record.record_size import LARGEST_JSON
from acquire.errors import BandwrightError
from acquire.files.atomic_write import write_whole
from acquire.files.bounded_read import read_at_most
from acquire.files.named_file import in_folder

BOOK = "chain.sqlite"
STUBS = "deleted"
STUB_FORMAT = "bandwright deleted record"
PATIENCE_S = 120.0
"""How long another one's turn is waited for; a record is written in a second or two."""


@dataclass(slots=True)
class Turn:
    """One record's turn at the chain's end."""

    link: Link
    """What it is to hold."""
    written: Path | None = field(default=None)
    """Its folder, to be set once it is written."""


@contextlib.contextmanager
def turn(records: Path) -> Iterator[Turn]:
    """Wait for the chain's end, and hold it while one record is written.

    Raises RecordError where the folder's book cannot be held.
    """
    try:
        records.mkdir(parents=True, exist_ok=True)
        with contextlib.closing(_book(records / BOOK)) as book:
            book.execute("BEGIN IMMEDIATE")
            mine = Turn(_next(records, book))
            yield mine
            if mine.written is not None:
                end = mine.link.sum_after(_sums_of(mine.written))
                book.execute("DELETE FROM chain")
                book.execute("INSERT INTO chain VALUES (?, ?)", (mine.link.number, end))
            book.execute("COMMIT")
    except (sqlite3.Error, OSError) as error:
        raise RecordError(
            f"The chain of the records in {records} cannot be held: {error}. Another program may "
            "be writing there; try again, or choose another folder."
        ) from error


def chain_of(records: Path) -> ChainFindings:
    """What the records of a folder show of their chain, each read. Raises RecordError without a
    folder."""
    return _findings(records, trusting=False)


def chain_as_kept(records: Path) -> ChainFindings:
    """The same, where a record whose files have not changed since is not read again.

    For a list that is shown often; what somebody is to believe is `chain_of`.
    """
    return _findings(records, trusting=True)


def _findings(records: Path, *, trusting: bool) -> ChainFindings:
    if not records.is_dir():
        raise RecordError(f"There is no folder {records}. Name the one that `accept` writes to.")
    last, found = 0, None
    if (records / BOOK).is_file():
        with (
            contextlib.suppress(sqlite3.Error),
            contextlib.closing(_opened(records / BOOK, writing=trusting)) as book,
        ):
            last, _ = _booked(book)
            found = _chained(records, KeptLinks(book if trusting else None))
    return chain_findings(_chained(records, KeptLinks(None)) if found is None else found, last)


def delete_record(records: Path, name: str, why: str, at: datetime) -> None:
    """Delete a record's folder and leave its stub, so that the chain goes on.

    Raises RecordError, and BesideError for a name that leads elsewhere.
    """
    folder = in_folder(records, name)
    found = _read(folder)
    if found is None:
        raise RecordError(f"There is no record {name} in {records}. Name its folder.")
    stub = {
        "format": STUB_FORMAT,
        "record": name,
        "signed_off_at": found.at.isoformat(),
        CHAIN: None if found.link is None else found.link.as_json(),
        "sums": found.sums,
        "deleted_at": at.astimezone(UTC).isoformat(timespec="seconds"),
        "why": why,
    }
    try:
        (records / STUBS).mkdir(exist_ok=True)
        write_whole(records / STUBS / f"{name}.json", as_json(stub))
        shutil.rmtree(folder)
    except OSError as error:
        raise RecordError(
            f"The record {name} could not be deleted: {error.strerror or error}. Try again."
        ) from error


def _book(path: Path) -> sqlite3.Connection:
    book = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
    book.execute("CREATE TABLE IF NOT EXISTS chain (number INTEGER NOT NULL, sum TEXT NOT NULL)")
    return book


def _opened(path: Path, *, writing: bool) -> sqlite3.Connection:
    """A book that is there; nobody waits for it to be free to keep something in."""
    mode = "rw" if writing and os.access(path, os.W_OK) else "ro"
    return sqlite3.connect(f"file:{path}?mode={mode}", uri=True, timeout=0.0, isolation_level=None)


def _booked(book: sqlite3.Connection) -> tuple[int, str]:
    """Number and sum of the chain's end; 0 and nothing where it was not begun."""
    row = book.execute("SELECT number, sum FROM chain").fetchone()
    return (0, "") if row is None else (int(row[0]), str(row[1]))


def _next(records: Path, book: sqlite3.Connection) -> Link:
    """The next link, behind what was written and not booked, since its writer was killed."""
    number, end = _booked(book)
    follower = {
        each.link.before: each
        for each in _chained(records, KeptLinks(book))
        if each.link is not None and each.link.number > number
    }
    while (found := follower.pop(end, None)) is not None and found.link is not None:
        number, end = found.link.number, found.sum
    return Link(number + 1, end)


def _sums_of(folder: Path) -> str:
    return hashlib.sha256(read_at_most(folder / CHECKSUMS, LARGEST_JSON)).hexdigest()


def _chained(records: Path, kept: KeptLinks) -> list[Chained]:
    """The records of a folder, and the stubs; what is none, or cannot be read, is passed over."""
    found: list[Chained] = []
    with contextlib.suppress(OSError):
        for path in sorted(records.iterdir()):
            if path.name.startswith(".") or path.is_symlink() or not path.is_dir():
                continue
            stamp = _stamp(path)
            one = kept.of(path.name, stamp)
            if one is None and (one := _read(path)) is not None:
                kept.keep(stamp, one)
            found += [] if one is None else [one]
    kept.write()
    there = {each.sums for each in found}
    if (records / STUBS).is_dir():
        for path in sorted((records / STUBS).glob("*.json")):
            stub = _read_stub(path)
            if stub is not None and stub.sums not in there:
                found.append(stub)
    return found


def _stamp(folder: Path) -> str:
    """What changes when a record's head or its sums do: size and times of both files.

    The time of the last change of a file's entry is one of them; on POSIX nobody can set it back.
    """
    found = []
    for name in (HEAD, CHECKSUMS):
        with contextlib.suppress(OSError):
            of = (folder / name).lstat()
            found.append(f"{name} {of.st_size} {of.st_mtime_ns} {of.st_ctime_ns}")
    return "\n".join(found)


def _read(folder: Path) -> Chained | None:
    try:
        content = read_at_most(in_folder(folder, HEAD), LARGEST_JSON)
        head = json.loads(content)
        at = _time(head["accepted_at"])
        sums, whole = "", False
        if (folder / CHECKSUMS).is_file():
            listed = read_at_most(in_folder(folder, CHECKSUMS), LARGEST_JSON)
            sums = hashlib.sha256(listed).hexdigest()
            whole = parse_checksums(listed).get(HEAD) == hashlib.sha256(content).hexdigest()
        return Chained(folder.name, at, Link.from_json(head.get(CHAIN)), sums, whole)
    except (
        OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError, BandwrightError
    ):  # fmt: skip
        return None


def _read_stub(path: Path) -> Chained | None:
    try:
        recorded: dict[str, Any] = json.loads(read_at_most(path, LARGEST_JSON))
        when = f"{_time(recorded['deleted_at']):%Y-%m-%d}"
        why = f"{when}: {recorded['why']}".rstrip(".") if recorded["why"] else when
        link = Link.from_json(recorded[CHAIN])
        return Chained(
            str(recorded["record"]),
            _time(recorded["signed_off_at"]),
            link,
            str(recorded["sums"]),
            True,
            why,
        )
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None


def _time(text: str) -> datetime:
    at = datetime.fromisoformat(text)
    return at if at.tzinfo else at.replace(tzinfo=UTC)
