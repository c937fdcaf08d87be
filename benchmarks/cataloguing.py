"""Ten thousand records listed, searched and put together, and their catalogue made anew."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from acceptance.batch.recipe_batch import batch
from acceptance.catalogue.query import Query
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.catalogue.record_summary_reader import CATALOGUED_FILES
from acceptance.record.checksums import format_checksums
from benchmarks.row import Goal, Row
from benchmarks.starting import run
from dashboard.demo.example_batch import records

COUNT = 10_000


def write_many(folder: Path, count: int) -> None:
    """Write records of as many units, made of those of one batch: the files a catalogue reads."""
    made = [dict(each.files) for each in records()]
    for number in range(count):
        files = dict(made[number % len(made)])
        head = json.loads(files["record.json"])
        at = datetime.fromisoformat(head["accepted_at"]) + timedelta(hours=number)
        head |= {"antenna": f"gauge-{number}", "accepted_at": at.isoformat()}
        files["record.json"] = json.dumps(head, indent=2).encode()
        files["SHA256SUMS"] = format_checksums(files)
        record = folder / f"gauge-{number}_{at:%Y-%m-%dT%H%M%SZ}"
        (record / "finished").mkdir(parents=True)
        for name in CATALOGUED_FILES:
            (record / name).write_bytes(files[name])


@contextmanager
def rows() -> Iterator[list[Row]]:
    """Yield the rows, over one folder of records."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_many(folder, COUNT)
        catalogue = Catalogue.in_folder(folder)
        catalogue.take_in(folder)

        def listed(query: Query) -> int:
            catalogue.take_in(folder)
            return catalogue.find(query, 30).total

        at_once = Goal(within_s=0.3)
        yield [
            Row(
                "list of 10,000 records, new ones looked for, in a process that runs",
                lambda: listed(Query()),
                "opening every record.json",
                lambda: [json.loads(p.read_bytes()) for p in folder.glob("*/record.json")],
                at_once,
                7,
            ),
            Row(
                "the same, searched by two words and a band that fails",
                lambda: listed(Query(words=("gauge-12", "jo"), band="gauge backhaul")),
                "",
                None,
                at_once,
                7,
            ),
            Row(
                "the same list, cold process",
                lambda: run("-m", "dashboard", "records", "--folder", name),
                "bandwright --version, cold",
                lambda: run("-m", "dashboard", "--version"),
                at_once,
                7,
            ),
            Row(
                "figures of a batch of 10,000",
                lambda: batch(catalogue.summaries(Query(recipe="bent strip"))),
                "",
                None,
                Goal(within_s=5.0),
                3,
            ),
            Row(
                "catalogue of 10,000 records made anew",
                lambda: catalogue.take_in(folder, anew=True),
                "",
                None,
                Goal(within_s=60.0),
                3,
            ),
        ]
        catalogue.close()
