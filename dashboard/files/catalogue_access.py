"""The catalogue of a folder of records, wherever it is kept, and what is asked of it.

Page and command line ask the same questions, in a person's own words.
"""

from __future__ import annotations

import os
import platform
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from acceptance.batch.record_comparison import RecordComparison
from acceptance.catalogue.record_catalogue import Catalogue, Found
from acceptance.catalogue.record_summary import CatalogueEntry, folded
from acceptance.limits.decision import State
from dashboard.errors import SetupError

IN_MEMORY = "sqlite://"
"""A catalogue that is gone with the command, and so belongs to one folder of records."""
ADDRESS, BENCH = "BANDWRIGHT_CATALOGUE", "BANDWRIGHT_BENCH"


def catalogue_of(records: Path, address: str | None, bench: str | None) -> Catalogue:
    """Return the catalogue at an address, for this bench's records; without one, that beside them.

    Raises CatalogueError.
    """
    if address is None:
        return Catalogue.in_folder(records)
    if address == IN_MEMORY:
        return Catalogue(address)
    name = bench or platform.node() or "bench"
    return Catalogue(address, bench=name, place=str(records.resolve()))


@contextmanager
def open_catalogue(records: Path) -> Iterator[Catalogue | None]:
    """Yield the catalogue with the records of a folder taken in; None while there are none.

    Where `BANDWRIGHT_CATALOGUE` names another one, it is that. Raises CatalogueError.
    """
    address = os.environ.get(ADDRESS) or None
    if address is None and not records.is_dir():
        yield None
        return
    catalogue = catalogue_of(records, address, os.environ.get(BENCH))
    try:
        if records.is_dir():
            catalogue.take_in(records)
        yield catalogue
    finally:
        catalogue.close()


def recipe_named(name: str | None, recipes: dict[str, int]) -> str:
    """Which recipe is meant. Raises SetupError, with those there are."""
    if not recipes:
        raise SetupError(
            "No record names a recipe, so nothing says which antennas are built alike. Give "
            "--recipe "
            "to `accept`."
        )
    counted = ", ".join(f"{each} ({count})" for each, count in recipes.items())
    if name is None:
        if len({folded(each) for each in recipes}) > 1:
            raise SetupError(f"Records name several recipes: {counted}. Name one of them.")
        return next(iter(recipes))
    for each in recipes:
        if folded(each) == folded(name):
            return each
    raise SetupError(f'No record names the recipe "{name}". There are: {counted}.')


def state_of(text: str) -> State | None:
    """The state that a person writes; None where nothing is. Raises SetupError."""
    if not text:
        return None
    try:
        return State(" ".join(text.casefold().split()))
    except ValueError:
        raise SetupError(f'"{text}" is no verdict. There are: {", ".join(State)}.') from None


def day(text: str, option: str, after: int = 0) -> datetime | None:
    """The beginning of a day here, or of one after it; None where nothing is written.

    Raises SetupError for what is no day.
    """
    if not text:
        return None
    try:
        wanted = date.fromisoformat(text) + timedelta(days=after)
        return datetime.combine(wanted, time()).astimezone()
    except (ValueError, OverflowError):
        raise SetupError(f'{option} "{text}" is no day. Write it as 2026-05-01.') from None


def counted(found: Found, *, filtered: bool) -> str:
    """How many there are, of which state, and how many of them are shown."""
    if not found.total:
        return "No record is like that." if filtered else "There is no record yet."
    states = ", ".join(f"{count} {state}" for state, count in found.states.items())
    one = "1 record" if found.total == 1 else f"{found.total} records"
    shown = len(found.entries)
    left = "" if shown == found.total else f" The newest {shown} are shown; --most 0 shows all."
    return f"{one}: {states}.{left}"


def invented_words(found: RecordComparison) -> list[str]:
    """Say how much of a line-up is invented, if any of it is."""
    invented = sum(each.summary.entry.invented for each in found.antennas)
    if not invented:
        return []
    how_much = "All" if invented == len(found.antennas) else "Some"
    return [f"{how_much} of it comes from the virtual bench: that data is invented."]


def entry_object(entry: CatalogueEntry) -> dict[str, Any]:
    """Return one record as the object that tells it."""
    return {
        "record": entry.folder,
        "bench": entry.bench or None,
        "antenna": entry.antenna,
        "signed_off_at": entry.at.isoformat(timespec="seconds"),
        "overall": str(entry.overall),
        "words": entry.words,
        "least_margin_db": entry.margin_or_bound_db,
        "least_margin_at": entry.least_margin_band or None,
        "recipe": entry.recipe or None,
        "plan": entry.plan,
        "operator": entry.operator,
        "note": entry.note,
        "kind": entry.kind,
        "invented": entry.invented,
        "software": entry.software,
        "caveat": entry.caveat or None,
    }
