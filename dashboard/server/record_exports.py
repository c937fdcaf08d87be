"""The list of records as a table for spreadsheets and programs, and one record as an archive."""

from __future__ import annotations

import asyncio
import csv
import io
import json
import zipfile
from collections.abc import Awaitable, Callable, Iterable
from pathlib import Path
from urllib.parse import quote

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from acceptance.catalogue.record_summary import CatalogueEntry
from acceptance.errors import RecordError
from acceptance.record.record_folder import load_record
from acquire.errors import BandwrightError
from dashboard.files.catalogue_access import entry_object, open_catalogue
from dashboard.server.page_template import FormValues, refused_page
from dashboard.server.records_page import asked_order, asked_query

Answer = Callable[[Request], Awaitable[Response]]
FORMS = {"csv": "text/csv; charset=utf-8", "json": "application/json"}
LARGEST_ARCHIVE = 256 * 2**20
"""Bytes of files that one archive may hold."""
COMMANDING = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for a formula where a cell of text begins with it."""


def list_export(records: Path) -> Answer:
    """Serve all records that the list's search finds, in the list's order: `/records.csv?band=20`.

    404 for a form there is none of.
    """

    def make(form: FormValues, kind: str) -> bytes:
        query, order = asked_query(form), asked_order(form)
        with open_catalogue(records) as catalogue:
            entries = () if catalogue is None else catalogue.find(query, None, order).entries
        return as_csv(entries) if kind == "csv" else as_json(entries)

    async def serve(request: Request) -> Response:
        kind = request.path_params["form"]
        if kind not in FORMS:
            return PlainTextResponse("Not found", 404)
        form = FormValues(QueryParams(request.query_params.multi_items()))
        try:
            content = await asyncio.to_thread(make, form, kind)
        except (BandwrightError, OSError) as error:
            return refused_page(str(error))
        headers = {
            "Cache-Control": "no-store",
            "Content-Disposition": attachment(f"records.{kind}"),
        }
        return Response(content, media_type=FORMS[kind], headers=headers)

    return serve


def as_csv(entries: Iterable[CatalogueEntry]) -> bytes:
    """One line a record, RFC 4180, in UTF-8; numbers keep their points, unknown is empty."""
    text = io.StringIO(newline="")
    rows = [entry_object(each) for each in entries]
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    writer.writerows([[_cell(row[name]) for name in COLUMNS] for row in rows])
    return text.getvalue().encode()


def as_json(entries: Iterable[CatalogueEntry]) -> bytes:
    """The same objects that `bandwright records --json` prints, in a list."""
    rows = [entry_object(each) for each in entries]
    return f"{json.dumps(rows, indent=1, allow_nan=False)}\n".encode()


COLUMNS = (
    "record",
    "antenna",
    "signed_off_at",
    "overall",
    "words",
    "least_margin_db",
    "least_margin_at",
    "recipe",
    "plan",
    "operator",
    "note",
    "kind",
    "invented",
    "software",
    "caveat",
    "bench",
)


def record_zip(folder: Path) -> bytes:
    """A record's folder as one archive, under its own name. Raises RecordError, OSError.

    What is no ordinary file is left out; a folder that holds no record is refused.
    """
    load_record(folder)
    files = [each for each in sorted(folder.rglob("*")) if each.is_file() and not each.is_symlink()]
    if sum(each.stat().st_size for each in files) > LARGEST_ARCHIVE:
        raise RecordError(
            f"{folder.name} is larger than {LARGEST_ARCHIVE // 2**20} MB. Copy its folder instead."
        )
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for each in files:
            archive.write(each, f"{folder.name}/{each.relative_to(folder).as_posix()}")
    return made.getvalue()


def attachment(name: str) -> str:
    """The header that has a browser keep an answer as a file (RFC 6266)."""
    return f"attachment; filename*=UTF-8''{quote(name, safe='')}"


def _cell(value: object) -> object:
    """A cell; a text that a spreadsheet would take for a formula is marked as text."""
    if isinstance(value, str) and value.startswith(COMMANDING):
        return f"'{value}"
    return "" if value is None else value
