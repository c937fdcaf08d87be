"""Deleting a record from its page: what was confirmed there is done, and its stub stays."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from acceptance.chain.chain_folder import delete_record
from acquire.errors import BandwrightError
from acquire.printable_text import plain
from dashboard.access.access_control import first_of
from dashboard.server.page_template import refused_page
from dashboard.server.records_page import LONGEST_REASON

Answer = Callable[[Request], Awaitable[Response]]
CONFIRMED = "yes"
UNCONFIRMED = "Nothing was deleted. Tick the box to confirm, and write down why."


def record_deletion(records: Path) -> Answer:
    """Delete the record that a form names, as `bandwright records --delete` does.

    records : the folder of all records. The form holds `confirmed` and `why`.
    """

    async def serve(request: Request) -> Response:
        name = request.path_params["record"]
        form = first_of(await request.body())
        why = plain(form.get("why", "")).strip()[:LONGEST_REASON]
        if form.get("confirmed") != CONFIRMED or not why:
            return refused_page(UNCONFIRMED)
        try:
            await asyncio.to_thread(delete_record, records, name, why, datetime.now(UTC))
        except (BandwrightError, OSError) as error:
            return refused_page(str(error))
        return RedirectResponse(f"/records?{urlencode({'deleted': name})}", 303)

    return serve
