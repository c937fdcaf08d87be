"""A record, checked by someone who was not there, in a cold process."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from acceptance.recheck.recheck_folder import recheck_folder
from benchmarks.row import Goal, Row
from benchmarks.starting import run


@contextmanager
def rows() -> Iterator[list[Row]]:
    """Yield the row; the record is the tour's own."""
    with tempfile.TemporaryDirectory() as name:
        run("-m", "dashboard", "tour", "--folder", name)
        (head,) = Path(name).rglob("record.json")
        record = head.parent
        yield [
            Row(
                "recheck of a record, cold process",
                lambda: run("-m", "dashboard", "recheck", str(record)),
                "",
                None,
                Goal(within_s=1.0),
                7,
            ),
            Row(
                "recheck of a record, in a process that runs",
                lambda: recheck_folder(record),
                "",
                None,
                Goal(within_s=1.0),
                7,
            ),
        ]
