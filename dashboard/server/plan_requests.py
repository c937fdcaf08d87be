"""What the page's plan form and its list of recent files ask for: values in, values out.

Nothing here changes the bench; that is done by actions alone. A viewer's page may look at the plan
and search bands; who may send a change is decided before (dashboard.access.access_control).
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from acquire.errors import BandwrightError
from dashboard.bench.composed_bench import Bench
from dashboard.page.plan_form import NEW_PLAN, edited, form_of, regions, search
from dashboard.page.recent_list import recent_list

Answer = Callable[[Request], Awaitable[Response]]
NOT_CACHED = {"Cache-Control": "no-store"}
INCOMPLETE = "The page sent something incomplete. Load it again."


def plan_in_use(bench: Bench) -> Answer:
    """The plan that is judged by, as a form; a new one where there is none."""

    async def answer(_request: Request) -> Response:
        plan = bench.snapshot().plan
        text = NEW_PLAN if plan is None else plan.text
        shown = await asyncio.to_thread(form_of, text)
        return _json({**shown, "regions": regions(), "new": plan is None})

    return answer


async def plan_edited(request: Request) -> Response:
    """A text after what a person did with the form, or typed; as a form again."""
    try:
        asked = await request.json()
        text, change = str(asked["text"]), asked.get("change")
    except (ValueError, TypeError, KeyError, AttributeError):
        return PlainTextResponse(INCOMPLETE, 400)
    return _json(await asyncio.to_thread(_edited, text, change))


async def bands_found(request: Request) -> Response:
    """Bands and services that may be meant by what was typed."""
    found = await asyncio.to_thread(search, request.query_params.get("find", ""))
    return _json({"found": found})


def recents(bench: Bench) -> Answer:
    """Plans, recipes and calibrations used lately."""

    async def answer(_request: Request) -> Response:
        return _json(await asyncio.to_thread(recent_list, bench, bench.clock.now()))

    return answer


def _edited(text: str, change: Any) -> dict[str, Any]:
    """What the form shows after a change; what was refused stands beside the text as it was."""
    refused = ""
    if change is not None:
        try:
            text = edited(text, change)
        except BandwrightError as error:
            refused = str(error)
        except (KeyError, IndexError, TypeError, ValueError, OverflowError):
            refused = INCOMPLETE
    return {**form_of(text), "refused": refused}


def _json(content: dict[str, Any]) -> JSONResponse:
    return JSONResponse(content, headers=NOT_CACHED)
