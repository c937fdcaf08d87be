"""The records several commands look at: which folder, which catalogue, taken in with progress."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
from rich.progress import TimeRemainingColumn as Remaining

from acceptance.catalogue.record_catalogue import Catalogue
from dashboard.errors import SetupError
from dashboard.files import user_folders
from dashboard.files.catalogue_access import catalogue_of, day
from dashboard.terminal.output import say, stderr

Folder = Annotated[
    Path | None,
    typer.Option(
        "--folder",
        metavar="FOLDER",
        help="Folder of the records. Default: in your data folder.",
    ),
]
Address = Annotated[
    str | None,
    typer.Option(
        "--catalogue",
        metavar="URL",
        envvar="BANDWRIGHT_CATALOGUE",
        show_envvar=False,
        help="Address of a catalogue that several benches share, as an SQLAlchemy URL. "
        "Default: BANDWRIGHT_CATALOGUE, or else a file beside the records.",
    ),
]
BenchName = Annotated[
    str | None,
    typer.Option(
        "--bench",
        metavar="NAME",
        envvar="BANDWRIGHT_BENCH",
        show_envvar=False,
        help="Name of this bench in a shared catalogue. Default: BANDWRIGHT_BENCH, or else "
        "this machine's name.",
    ),
]
Operator = Annotated[
    str, typer.Option("--operator", metavar="NAME", help="Only records accepted by this person.")
]
Since = Annotated[
    str, typer.Option("--since", metavar="DATE", help="Only from this date on, such as 2026-05-01.")
]
Until = Annotated[
    str, typer.Option("--until", metavar="DATE", help="Only up to and including this date.")
]
Condition = Annotated[
    str,
    typer.Option(
        "--condition",
        metavar="NAME",
        help="Condition to look at. Default: the last one that decides.",
    ),
]
SHOWN_FROM = 100
"""Folders to be read from which on progress is shown."""


@dataclass(frozen=True, slots=True)
class CatalogueOptions:
    """Which records are looked at, and by which catalogue."""

    folder: Folder = None
    catalogue: Address = None
    bench: BenchName = None

    @property
    def records(self) -> Path:
        """The folder of the bench's records."""
        return user_folders.records() if self.folder is None else self.folder

    def opened(self, *, anew: bool = False) -> AbstractContextManager[Catalogue]:
        """Open the catalogue, with the records of the folder taken in; anew: all of them again.

        Raises SetupError, CatalogueError.
        """
        return _catalogued(self.folder, self.catalogue, self.bench, anew=anew)


@dataclass(frozen=True, slots=True)
class PeriodOptions:
    """Whose records, and of which days."""

    operator: Operator = ""
    since: Since = ""
    until: Until = ""

    @property
    def days(self) -> tuple[datetime | None, datetime | None]:
        """The beginning of the first day, and of the one after the last. Raises SetupError."""
        return day(self.since, "--since"), day(self.until, "--until", after=1)


@contextmanager
def _catalogued(
    folder: Path | None, address: str | None, bench: str | None, *, anew: bool
) -> Iterator[Catalogue]:
    """Yield the catalogue, with the records of the folder taken in."""
    records = user_folders.records() if folder is None else folder
    there = records.is_dir()
    if address is None:
        if not there:
            raise SetupError(
                f"There are no records in {records} yet. `bandwright accept` makes the first one; "
                "name another folder with --folder."
            )
    elif folder is not None and not there:
        raise SetupError(f"There is no folder {records}. Name the one that `accept` writes to.")
    catalogue = catalogue_of(records, address, bench)
    try:
        if there:
            _take_in(catalogue, records, anew=anew)
        elif anew:
            say(f"There are no records in {records} to be taken in.", console=stderr())
        yield catalogue
    finally:
        catalogue.close()


def _take_in(catalogue: Catalogue, records: Path, *, anew: bool) -> None:
    """Take in what is new, showing how far it is; say what a rebuilding came to."""
    with ExitStack() as shown:
        bars: list[Callable[[int, int], None]] = []

        def tell(done: int, of: int) -> None:
            if of >= SHOWN_FROM and not bars:
                bars.append(shown.enter_context(_bar()))
            for bar in bars:
                bar(done, of)

        try:
            taken = catalogue.take_in(records, tell, anew=anew)
        except KeyboardInterrupt:
            shown.close()
            say("The catalogue is as it was before.", console=stderr())
            raise
    if anew:
        left = f"; {_folders(taken.broken)} cannot be read" if taken.broken else ""
        made = "1 record" if taken.new == 1 else f"{taken.new} records"
        say(f"The catalogue was made anew of {made}{left}.", console=stderr())


@contextmanager
def _bar() -> Iterator[Callable[[int, int], None]]:
    """Yield what moves a bar on standard error; it shows nothing where that is no terminal."""
    console = stderr()
    columns = (TextColumn("Reading records"), BarColumn(), MofNCompleteColumn(), Remaining())
    with Progress(
        *columns, console=console, transient=True, disable=not console.is_terminal
    ) as progress:
        task = progress.add_task("", total=None)
        yield lambda done, of: progress.update(task, completed=done, total=of)


def _folders(count: int) -> str:
    return "1 folder" if count == 1 else f"{count} folders"
