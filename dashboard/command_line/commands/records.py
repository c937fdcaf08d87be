"""`records`: what was accepted so far, listed, searched and filtered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.table import Column
from rich.text import Text

from acceptance.catalogue.query import Query
from acceptance.catalogue.record_catalogue import Broken, Found
from acceptance.chain.chain_folder import STUBS, delete_record
from acceptance.verdict.wording import margin_of
from acquire.printable_text import plain
from dashboard.command_line.options import Json
from dashboard.command_line.record_selection import (
    CatalogueOptions,
    Operator,
    Since,
    Until,
)
from dashboard.errors import SetupError
from dashboard.files.catalogue_access import counted, day, entry_object, state_of
from dashboard.terminal.output import (
    UNKNOWN,
    mark,
    number,
    say,
    show,
    show_json,
    spelt,
    stderr,
    stdout,
    table,
)

MOST_LISTED = 30


@dataclass(frozen=True, slots=True)
class QueryOptions:
    """Which records are listed."""

    antenna: Annotated[
        list[str] | None,
        typer.Option("--antenna", metavar="NAME", help="Only this antenna. Repeat for several."),
    ] = None
    recipe: Annotated[
        str, typer.Option("--recipe", metavar="NAME", help="Only antennas built by this recipe.")
    ] = ""
    operator: Operator = ""
    band: Annotated[
        str,
        typer.Option(
            "--band",
            metavar="BAND",
            help="Only records with this band; --verdict is then of the band.",
        ),
    ] = ""
    verdict: Annotated[
        str, typer.Option("--verdict", metavar="STATE", help="Only records with this verdict.")
    ] = ""
    since: Since = ""
    until: Until = ""

    def query(self, words: Sequence[str]) -> Query:
        """The same as a query, with words that a record must hold. Raises SetupError."""
        return Query(
            words=tuple(words),
            antennas=tuple(self.antenna or ()),
            recipe=self.recipe,
            operator=self.operator,
            band=self.band,
            state=state_of(self.verdict),
            since=day(self.since, "--since"),
            until=day(self.until, "--until", after=1),
        )


@dataclass(frozen=True, slots=True)
class DeleteOptions:
    """A record that is deleted on purpose."""

    delete: Annotated[
        str,
        typer.Option("--delete", metavar="RECORD", help="Delete this record; a stub of it stays."),
    ] = ""
    why: Annotated[
        str, typer.Option("--why", metavar="TEXT", help="Reason, which the stub keeps.")
    ] = ""

    def done(self, records: Path) -> None:
        """Delete it, where one is named. Raises RecordError, SetupError."""
        if self.delete:
            delete_record(records, self.delete, self.why, datetime.now(UTC))
            say(f"{self.delete} is deleted. Its stub is in {records / STUBS}.", console=stderr())
        elif self.why:
            raise SetupError("--why says why a record is deleted. Name it: --delete RECORD.")


def records(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="WORD",
            help="Only records that mention this text.",
        ),
    ] = None,
    *,
    wanted: QueryOptions,
    most: Annotated[
        int,
        typer.Option("--most", metavar="N", min=0, help="How many to show; 0 shows all."),
    ] = MOST_LISTED,
    rebuild: Annotated[
        bool,
        typer.Option("--rebuild", help="Rebuild the catalogue from every record."),
    ] = False,
    deleting: DeleteOptions,
    catalogue_options: CatalogueOptions,
    as_json: Json = False,
) -> None:
    """List, search and filter the records, newest first.

    Needs no hardware. The list follows the folder each time; --rebuild reads every record again.
    """
    query = wanted.query(words or ())
    deleting.done(catalogue_options.records)
    with catalogue_options.opened(anew=rebuild) as opened:
        found = opened.find(query, None if as_json or most == 0 else most)
        broken = opened.broken()
    if as_json:
        show_json(as_object(found, broken))
    else:
        show_found(found, broken, filtered=query != Query())


def as_object(found: Found, broken: Sequence[Broken]) -> dict[str, Any]:
    """Return the object that `records --json` prints."""
    return {
        "total": found.total,
        "states": {str(state): count for state, count in found.states.items()},
        "records": [entry_object(each) for each in found.entries],
        "broken": [
            {"bench": each.bench or None, "folder": each.folder, "why": each.why} for each in broken
        ],
    }


def show_found(found: Found, broken: Sequence[Broken], *, filtered: bool) -> None:
    """Show what was found as a table, and what the table does not say."""
    ascii_only = not stdout().encoding.lower().startswith("utf")
    entries, alike = found.entries, []
    if entries:
        facts = {
            "recipe": [each.recipe or "none" for each in entries],
            "by": [each.operator or "nobody named" for each in entries],
            "bench": [each.bench for each in entries],
        }
        columns = {name: values for name, values in facts.items() if len(set(values)) > 1}
        alike = [
            f"{name} {values[0]}"
            for name, values in facts.items()
            if name not in columns and values[0] and len(entries) > 1
        ]
        if len(entries) == 1:
            columns = {name: values for name, values in facts.items() if values[0]}
        rows = table(
            Column(header="signed off", no_wrap=True),
            Column(header="antenna", overflow="fold"),
            Column(header="verdict", no_wrap=True),
            number("least\nmargin"),
            Column(header="in", no_wrap=True),
            *(Column(header=name, overflow="fold") for name in columns),
        )
        for count, each in enumerate(entries):
            rows.add_row(
                f"{each.at:%Y-%m-%d}",
                Text(plain(each.antenna) + (" *" if each.caveat else "")),
                mark(each.overall, each.words, ascii_only=ascii_only),
                spelt(margin_of(each.margin_or_bound_db) or UNKNOWN, ascii_only=ascii_only),
                each.least_margin_band,
                *(values[count] for values in columns.values()),
            )
        show(rows)
        say()
    say(counted(found, filtered=filtered), style="bold")
    if alike:
        say(f"The same for all of these: {', '.join(alike)}.")
    for each in found.entries:
        if each.caveat:
            say(
                f"* {each.antenna}: {each.caveat}. `bandwright recheck` on {each.folder} says more."
            )
    invented = sum(each.invented for each in found.entries)
    if invented:
        whose = "All of these" if invented == len(found.entries) else f"{invented} of these"
        say(f"{whose} come from the virtual bench: the data is invented.")
    for folder in broken:
        say(folder.why)
