"""The tables of a catalogue, and how a record's card stands in them.

All of it is derived from the records' folders: where the layout changes, it is made anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from functools import cache
from typing import Any

from pydantic import TypeAdapter
from sqlalchemy import (
    Boolean,
    Column,
    Float,
    Index,
    Integer,
    MetaData,
    RowMapping,
    String,
    Table,
    Text,
)
from sqlalchemy.dialects.mysql import MEDIUMTEXT

from acceptance.catalogue.entry import Card, ConditionResult, Entry, band_key, folded
from acceptance.limits.decision import State

LAYOUT = 2
"""Counts up whenever a table changes, or what stands in one; 1 had sizes in two spellings."""

METADATA = MetaData()
_SUM = String(64)
"""A SHA-256 in digits. Keys are sums, since not every database can index a text of any length."""
_LONG = Text().with_variant(MEDIUMTEXT, "mysql", "mariadb")
"""Where a database knows texts of several sizes, one that holds megabytes."""

LAYOUTS = Table("bandwright_layout", METADATA, Column("layout", Integer, nullable=False))

RECORDS = Table(
    "bandwright_record",
    METADATA,
    Column("id", _SUM, primary_key=True),
    Column("bench", Text, nullable=False),
    Column("place", Text, nullable=False),  # the bench's folder of records; empty beside them
    Column("folder", Text, nullable=False),
    Column("stamp", Text, nullable=False),  # changes when files come into the folder or leave it
    Column("digest", Text, nullable=False),  # of the files that were read
    Column("antenna", Text, nullable=False),
    Column("antenna_key", Text, nullable=False),
    Column("operator", Text, nullable=False),
    Column("operator_key", Text, nullable=False),
    Column("note", _LONG, nullable=False),
    Column("recipe", Text, nullable=False),
    Column("recipe_key", Text, nullable=False),
    Column("recipe_sum", Text, nullable=False),
    Column("plan", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("invented", Boolean, nullable=False),
    Column("software", Text, nullable=False),
    Column("at", String(32), nullable=False),  # UTC with every digit: text then sorts as time does
    Column("offset_minutes", Float, nullable=False),
    Column("overall", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("spare_db", Float),
    Column("spare_at", Text, nullable=False),
    Column("doubt", Text, nullable=False),
    Column("search", _LONG, nullable=False),  # all that is searched, folded
    Column("details", _LONG, nullable=False),  # conditions and dimensions, as JSON
    Index("bandwright_record_at", "at"),
)

BANDS = Table(
    "bandwright_band",
    METADATA,
    Column("record", _SUM, nullable=False),
    Column("key", Text, nullable=False),
    Column("state", Text, nullable=False),
    Index("bandwright_band_record", "record"),
)

RECIPES = Table(
    "bandwright_recipe",
    METADATA,
    Column("sum", _SUM, primary_key=True),
    Column("text", _LONG, nullable=False),
)

OTHERS = Table(
    "bandwright_other",
    METADATA,
    Column("id", _SUM, primary_key=True),
    Column("bench", Text, nullable=False),
    Column("place", Text, nullable=False),
    Column("folder", Text, nullable=False),
    Column("stamp", Text, nullable=False),
    Column("why", Text, nullable=False),  # it cannot be read; empty where it is no record at all
)

LISTED = tuple(
    RECORDS.c[name]
    for name in (
        "bench", "folder", "antenna", "operator", "note", "recipe", "plan", "kind", "invented",
        "software", "at", "offset_minutes", "overall", "words", "spare_db", "spare_at", "doubt",
    )
)  # fmt: skip
"""What an entry is made of."""


@dataclass(frozen=True, slots=True)
class _Details:
    conditions: tuple[ConditionResult, ...]
    sizes_mm: dict[str, float]


@cache
def _details() -> TypeAdapter[_Details]:
    return TypeAdapter(_Details)


def row_of(card: Card, *, place: str, stamp: str, digest: str) -> dict[str, Any]:
    """The row of RECORDS that a card is kept in."""
    entry = card.entry
    searched = (
        entry.antenna, entry.operator, entry.note, entry.recipe, entry.plan, entry.folder
    )  # fmt: skip
    details = _Details(card.conditions, card.sizes_mm)
    row = {
        "id": identity(entry.bench, place, entry.folder),
        "bench": entry.bench,
        "place": place,
        "folder": entry.folder,
        "stamp": stamp,
        "digest": digest,
        "antenna": entry.antenna,
        "antenna_key": folded(entry.antenna),
        "operator": entry.operator,
        "operator_key": folded(entry.operator),
        "note": entry.note,
        "recipe": entry.recipe,
        "recipe_key": folded(entry.recipe),
        "recipe_sum": card.recipe_sum,
        "plan": entry.plan,
        "kind": entry.kind,
        "invented": entry.invented,
        "software": entry.software,
        "at": utc_text(entry.at),
        "offset_minutes": (entry.at.utcoffset() or timedelta()).total_seconds() / 60,
        "overall": str(entry.overall),
        "words": entry.words,
        "spare_db": entry.spare_db,
        "spare_at": entry.spare_at,
        "doubt": entry.doubt,
        "search": "\n".join(map(folded, searched)),
        "details": _details().dump_json(details).decode(),
    }
    return {key: storable(each) if isinstance(each, str) else each for key, each in row.items()}


def bands_of(card: Card, row: Mapping[str, Any]) -> list[dict[str, str]]:
    """The rows of BANDS that tell how a record's bands were decided."""
    return [
        {"record": row["id"], "key": storable(band_key(band.judged.name)), "state": str(band.state)}
        for condition in card.deciding
        for band in condition.bands
    ]


def entry_of(row: RowMapping) -> Entry:
    """The entry that a row tells."""
    told = {column.name: row[column.name] for column in LISTED}
    zone = timezone(timedelta(minutes=told.pop("offset_minutes")))
    told["at"] = datetime.fromisoformat(told["at"]).astimezone(zone)
    told["overall"] = State(told["overall"])
    return Entry(**told)


def card_of_row(row: RowMapping) -> Card:
    """The card that a whole row tells."""
    details = _details().validate_json(row["details"])
    return Card(
        entry=entry_of(row),
        conditions=details.conditions,
        sizes_mm=details.sizes_mm,
        recipe_sum=row["recipe_sum"],
    )


def identity(bench: str, place: str, folder: str) -> str:
    """What a record is kept under."""
    return hashlib.sha256("\0".join((bench, place, folder)).encode(errors="replace")).hexdigest()


def utc_text(at: datetime) -> str:
    """A time as it is kept: of one length, so that text sorts as time does."""
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def storable(text: str) -> str:
    """A text without what some databases refuse: NUL, and halves of letters."""
    return text.encode(errors="backslashreplace").decode().replace("\0", "\\x00")
