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

from acceptance.catalogue.record_summary import (
    CatalogueEntry,
    ConditionResult,
    RecordSummary,
    band_key,
    folded,
)
from acceptance.limits.decision import State

LAYOUT = 2
"""Counts up whenever a table changes, or what stands in one; 1 had sizes in two spellings."""

METADATA = MetaData()
_CHECKSUM_TEXT = String(64)
"""A SHA-256 in digits. Keys are sums, since not every database can index a text of any length."""
_LONG = Text().with_variant(MEDIUMTEXT, "mysql", "mariadb")
"""Where a database knows texts of several sizes, one that holds megabytes."""

LAYOUTS = Table("bandwright_layout", METADATA, Column("layout", Integer, nullable=False))

RECORDS = Table(
    "bandwright_record",
    METADATA,
    Column("id", _CHECKSUM_TEXT, primary_key=True),
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
    Column("recipe_checksum", Text, nullable=False),
    Column("plan", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("invented", Boolean, nullable=False),
    Column("software", Text, nullable=False),
    Column("at", String(32), nullable=False),  # UTC with every digit: text then sorts as time does
    Column("offset_minutes", Float, nullable=False),
    Column("overall", Text, nullable=False),
    Column("words", Text, nullable=False),
    Column("margin_or_bound_db", Float),
    Column("least_margin_band", Text, nullable=False),
    Column("caveat", Text, nullable=False),
    Column("search", _LONG, nullable=False),  # all that is searched, folded
    Column("details", _LONG, nullable=False),  # conditions and dimensions, as JSON
    Index("bandwright_record_at", "at"),
)

BANDS = Table(
    "bandwright_band",
    METADATA,
    Column("record", _CHECKSUM_TEXT, nullable=False),
    Column("key", Text, nullable=False),
    Column("state", Text, nullable=False),
    Index("bandwright_band_record", "record"),
)

RECIPES = Table(
    "bandwright_recipe",
    METADATA,
    Column("sum", _CHECKSUM_TEXT, primary_key=True),
    Column("text", _LONG, nullable=False),
)

OTHERS = Table(
    "bandwright_other",
    METADATA,
    Column("id", _CHECKSUM_TEXT, primary_key=True),
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
        "software", "at", "offset_minutes", "overall", "words",
        "margin_or_bound_db", "least_margin_band", "caveat",
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


def summary_row(summary: RecordSummary, *, place: str, stamp: str, digest: str) -> dict[str, Any]:
    """The row of RECORDS that a card is kept in."""
    entry = summary.entry
    searched = (
        entry.antenna, entry.operator, entry.note, entry.recipe, entry.plan, entry.folder
    )  # fmt: skip
    details = _Details(summary.conditions, summary.sizes_mm)
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
        "recipe_checksum": summary.recipe_checksum,
        "plan": entry.plan,
        "kind": entry.kind,
        "invented": entry.invented,
        "software": entry.software,
        "at": utc_text(entry.at),
        "offset_minutes": (entry.at.utcoffset() or timedelta()).total_seconds() / 60,
        "overall": str(entry.overall),
        "words": entry.words,
        "margin_or_bound_db": entry.margin_or_bound_db,
        "least_margin_band": entry.least_margin_band,
        "caveat": entry.caveat,
        "search": "\n".join(map(folded, searched)),
        "details": _details().dump_json(details).decode(),
    }
    return {key: storable(each) if isinstance(each, str) else each for key, each in row.items()}


def band_rows(summary: RecordSummary, row: Mapping[str, Any]) -> list[dict[str, str]]:
    """The rows of BANDS that tell how a record's bands were decided."""
    return [
        {"record": row["id"], "key": storable(band_key(band.judged.name)), "state": str(band.state)}
        for condition in summary.deciding
        for band in condition.bands
    ]


def entry_from_row(row: RowMapping) -> CatalogueEntry:
    """The entry that a row tells."""
    columns = {column.name: row[column.name] for column in LISTED}
    zone = timezone(timedelta(minutes=columns.pop("offset_minutes")))
    columns["at"] = datetime.fromisoformat(columns["at"]).astimezone(zone)
    columns["overall"] = State(columns["overall"])
    return CatalogueEntry(**columns)


def summary_from_row(row: RowMapping) -> RecordSummary:
    """The card that a whole row tells."""
    details = _details().validate_json(row["details"])
    return RecordSummary(
        entry=entry_from_row(row),
        conditions=details.conditions,
        sizes_mm=details.sizes_mm,
        recipe_checksum=row["recipe_checksum"],
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
