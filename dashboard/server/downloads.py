"""What is on the screen, saved: as a picture for people, as numbers for programs."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import cast, get_args

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from acceptance.pictures.screen_picture import Shown
from acceptance.pictures.sweep_pictures import MOST_CURVES, Trace, overview
from dashboard.bench.composed_bench import Bench
from dashboard.files.sweep_file import FORMS, sweep_file

WIDTH, HEIGHT = 640.0, 190.0
"""Of the conditions' picture, points."""
Answer = Callable[[Request], Awaitable[Response]]


def conditions_picture(bench: Bench) -> Answer:
    """Serve the conditions that were swept of the present antenna over one another; 404 for one."""

    async def serve(_request: Request) -> Response:
        examined = bench.acceptance.examined()
        if examined is None or len(examined.conditions) < 2:
            return PlainTextResponse("Not found", 404)
        traces = [
            Trace.of(each.corrected, label=each.condition.label) for each in examined.conditions
        ]
        bands = examined.conditions[-1].verdict.bands
        svg = overview(WIDTH, HEIGHT, traces[:MOST_CURVES], bands, title="The conditions").svg()
        return Response(svg, media_type="image/svg+xml", headers={"Cache-Control": "no-store"})

    return serve


def saved(bench: Bench) -> Answer:
    """Serve the sweep on the screen as a file, `/save/sweep.png?shown=smith` for one.

    404 for a form there is none of; 409 while nothing was swept.
    """

    async def serve(request: Request) -> Response:
        suffix = f".{request.path_params['form']}"
        shown = request.query_params.get("shown", "loss")
        if suffix not in FORMS or shown not in get_args(Shown):
            return PlainTextResponse("Not found", 404)
        now = bench.snapshot()
        taken = now.shown
        if taken is None:
            return PlainTextResponse("Nothing was swept yet, so there is nothing to save.", 409)
        held = [
            (each.name or f"hold {each.number}", each.sweep)
            for each in now.holds
            if each.shown and each.sweep.plane is taken.plane
        ]
        content = await asyncio.to_thread(
            sweep_file,
            taken,
            suffix,
            now.uncertainty,
            now.verdict,
            held=held,
            shown=cast("Shown", shown),
        )
        name = f"bandwright-{taken.taken_at.astimezone():%Y-%m-%dT%H%M%S}{suffix}"
        headers = {
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "no-store",
        }
        return Response(content, media_type=FORMS[suffix], headers=headers)

    return serve
