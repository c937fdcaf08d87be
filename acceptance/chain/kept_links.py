"""What was read of each record's place in the chain, kept in the folder's book until it changes.

For the catalogue and the next link alone: `bandwright recheck --chain` reads every record anew.
"""

from __future__ import annotations

import contextlib
import sqlite3
from datetime import datetime
from typing import Any

from acceptance.chain.link import Chained, Link

_TABLE = """CREATE TABLE IF NOT EXISTS kept (
    name TEXT PRIMARY KEY, stamp TEXT NOT NULL, at TEXT NOT NULL,
    number INTEGER, before TEXT, sums TEXT NOT NULL, whole INTEGER NOT NULL
)"""


class KeptLinks:
    """Of one folder, by the names of its records; a book that cannot be used keeps nothing."""

    def __init__(self, book: sqlite3.Connection | None) -> None:
        self._book = book
        self._there: dict[str, tuple[str, Chained]] = {}
        self._new: dict[str, tuple[str, Chained]] = {}
        if book is not None:
            with contextlib.suppress(sqlite3.Error, ValueError, TypeError):
                rows = book.execute(
                    "SELECT name, stamp, at, number, before, sums, whole FROM kept"
                ).fetchall()
                self._there = {name: (stamp, _chained(name, *of)) for name, stamp, *of in rows}

    def of(self, name: str, stamp: str) -> Chained | None:
        """What was read of a record that has not changed since; None else."""
        found = self._there.get(name)
        return found[1] if found is not None and found[0] == stamp else None

    def keep(self, stamp: str, one: Chained) -> None:
        """Keep what was just read."""
        self._new[one.name] = (stamp, one)

    def write(self) -> None:
        """Write it down, where it can be: what is not kept is read again."""
        if self._book is None or not self._new:
            return
        whole = not self._book.in_transaction
        with contextlib.suppress(sqlite3.Error):
            if whole:
                self._book.execute("BEGIN IMMEDIATE")
            self._book.execute(_TABLE)
            self._book.executemany(
                "INSERT OR REPLACE INTO kept VALUES (?, ?, ?, ?, ?, ?, ?)",
                [_row(*each) for each in self._new.values()],
            )
            if whole:
                self._book.execute("COMMIT")


def _chained(name: str, *of: Any) -> Chained:
    at, number, before, sums, whole = of
    link = None if number is None else Link(number, before)
    return Chained(name, datetime.fromisoformat(at), link, sums, bool(whole))


def _row(stamp: str, one: Chained) -> tuple[str, str, str, int | None, str | None, str, int]:
    number, before = (None, None) if one.link is None else (one.link.number, one.link.before)
    return one.name, stamp, one.at.isoformat(), number, before, one.sums, int(one.whole)
