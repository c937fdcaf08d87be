"""Which records of a catalogue are wanted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

import sqlalchemy as sa

from acceptance.catalogue.record_summary import band_keys, folded
from acceptance.catalogue.tables import BANDS, RECORDS, utc_text
from acceptance.limits.decision import State


@dataclass(frozen=True, slots=True, kw_only=True)
class Query:
    """Which records are wanted; what is left empty does not matter."""

    words: tuple[str, ...] = ()
    """Each stands somewhere in antenna, operator, note, recipe, plan or the folder's name."""
    antennas: tuple[str, ...] = ()
    """Antennas, or folders, by their whole names: any of them."""
    recipe: str = ""
    operator: str = ""
    bench: str = ""
    band: str = ""
    """A band that decides, such as "20" or "gauge backhaul"."""
    state: State | None = None
    """Of the band where one is named, else of the whole."""
    since: datetime | None = None
    until: datetime | None = None
    """Signed off before this."""


SortKey = Literal["at", "antenna", "verdict", "margin", "recipe", "operator"]
"""What a list of records can be sorted by."""


@dataclass(frozen=True, slots=True)
class Order:
    """How a list of records is sorted; among equals the newest first."""

    key: SortKey = "at"
    descending: bool = True


NEWEST_FIRST = Order()


def sorted_by(order: Order) -> list[sa.ColumnElement[Any]]:
    """An order in the database's own terms; what is not known comes last either way."""
    severity = {str(state): at for at, state in enumerate(State)}
    column: sa.ColumnElement[Any] = {
        "at": RECORDS.c.at,
        "antenna": RECORDS.c.antenna_key,
        "verdict": sa.case(severity, value=RECORDS.c.overall, else_=len(severity)),
        "margin": RECORDS.c.margin_or_bound_db,
        "recipe": RECORDS.c.recipe_key,
        "operator": RECORDS.c.operator_key,
    }[order.key]
    unknown = sa.case((column.is_(None), 1), else_=0)
    turned = column.desc() if order.descending else column.asc()
    return [unknown, turned, RECORDS.c.at.desc(), RECORDS.c.folder]


def where(query: Query) -> list[sa.ColumnElement[bool]]:
    """A query in the database's own terms."""
    wanted: list[sa.ColumnElement[bool]] = [
        RECORDS.c.search.contains(folded(word), autoescape=True) for word in query.words
    ]
    if query.antennas:
        keys = [folded(each) for each in query.antennas]
        wanted.append(RECORDS.c.antenna_key.in_(keys) | RECORDS.c.folder.in_(query.antennas))
    if query.recipe:
        wanted.append(RECORDS.c.recipe_key == folded(query.recipe))
    if query.operator:
        wanted.append(RECORDS.c.operator_key == folded(query.operator))
    if query.bench:
        wanted.append(RECORDS.c.bench == query.bench)
    if query.since is not None:
        wanted.append(RECORDS.c.at >= utc_text(query.since))
    if query.until is not None:
        wanted.append(RECORDS.c.at < utc_text(query.until))
    if query.band:
        of_band = [BANDS.c.record == RECORDS.c.id, BANDS.c.key.in_(sorted(band_keys(query.band)))]
        if query.state is not None:
            of_band.append(BANDS.c.state == str(query.state))
        wanted.append(sa.exists().where(*of_band))
    elif query.state is not None:
        wanted.append(RECORDS.c.overall == str(query.state))
    return wanted
