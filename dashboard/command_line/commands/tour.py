"""`tour`: the whole job on the virtual bench."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from acceptance.record.record_folder import write_record
from dashboard.demo.example_batch import records
from dashboard.demo.tour import Tour
from dashboard.terminal.output import say, stdout, working


def tour(
    folder: Annotated[
        Path,
        typer.Option(
            "--folder", metavar="FOLDER", help="Folder for the calibration and the record."
        ),
    ] = Path("bandwright-tour"),
    gauges: Annotated[
        int,
        typer.Option(
            "--gauges",
            metavar="N",
            min=0,
            max=1000,
            help="Instead of the tour, make records of this many invented gauges, to try "
            "`records`, `compare` and `batch` on.",
        ),
    ] = 0,
) -> None:
    """See the whole job in seconds, on invented data.

    Needs no hardware.
    """
    if gauges:
        make_gauges(gauges, folder)
        return
    verdict = Tour(folder, stdout()).run()
    raise typer.Exit(0 if verdict.overall == "pass" else 1)


def make_gauges(count: int, folder: Path) -> None:
    """Write the records of invented gauges."""
    with working("Building gauges"):
        for each in records(count):
            write_record(each, folder)
    say(f"The records of {count} invented gauges are in {folder}. Try:")
    for command in ("records", "compare weir-1 ford-3 --every", "batch --target 836"):
        say(f"bandwright {command} --folder {folder}", indent=2)
