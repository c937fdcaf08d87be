"""`report`: a record's report made anew, as PDF or HTML."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from acceptance.record.examination import examine
from acceptance.record.record_folder import load_record
from acceptance.report.report_files import Report
from acquire.files.atomic_write import write_whole
from dashboard.errors import SetupError
from dashboard.terminal.output import say, stderr


class PaperSize(StrEnum):
    """What to print on."""

    A4 = "a4"
    LETTER = "letter"


def report(
    record: Annotated[
        Path, typer.Argument(metavar="RECORD", help="The folder that `accept` wrote.")
    ],
    *,
    to: Annotated[
        Path | None,
        typer.Option(
            "--to",
            metavar="FILE",
            help="File to write, .pdf or .html. Default: a PDF beside the record, with its "
            "name. The record itself never changes.",
        ),
    ] = None,
    paper: Annotated[
        PaperSize, typer.Option("--paper", help="Paper size of a PDF.")
    ] = PaperSize.A4,
) -> None:
    """Make a record's one-page report from its raw readings.

    Needs no hardware.
    """
    stored = load_record(record)
    target = record.resolve().with_name(f"{stored.name}.pdf") if to is None else to
    kind = target.suffix.lower()
    if kind not in (".pdf", ".html"):
        raise SetupError(f"{target}: a report is a .pdf or an .html. Name one of these.")
    made = Report.of(examine(stored.acceptance), stored.name)
    content = made.html().encode() if kind == ".html" else made.pdf(paper.value)
    write_whole(target, content)
    say(f"The report of {stored.acceptance.antenna} is in {target}.", console=stderr())
