"""What is on the screen, saved: as a picture for people, as numbers for programs."""

from __future__ import annotations

import asyncio
import math
from collections.abc import Awaitable, Callable, Mapping
from typing import cast, get_args

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from acceptance.bands.band_table import Span
from acceptance.pictures.screen_picture import Shown
from acceptance.pictures.sweep_pictures import MOST_CURVES, Trace, overview
from dashboard.bench.composed_bench import Bench
from dashboard.feed.marker_frame import marked_points
from dashboard.feed.viewer_feed import HIGHEST_MHZ, MOST_MARKERS
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

    Which part of the axis is shown and which markers are set is the page's to say: `low_mhz`,
    `high_mhz`, `markers=1:826,2:841.3`. 404 for a form there is none of, and for what is no number;
    409 while nothing was swept.
    """

    async def serve(request: Request) -> Response:
        suffix = f".{request.path_params['form']}"
        shown = request.query_params.get("shown", "loss")
        if suffix not in FORMS or shown not in get_args(Shown):
            return PlainTextResponse("Not found", 404)
        try:
            part, markers = part_of(request.query_params), markers_of(request.query_params)
        except ValueError:
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
            part=part,
            marked=marked_points(now, markers),
        )
        name = f"bandwright-{taken.taken_at.astimezone():%Y-%m-%dT%H%M%S}{suffix}"
        headers = {
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "no-store",
        }
        return Response(content, media_type=FORMS[suffix], headers=headers)

    return serve


def part_of(query: Mapping[str, str]) -> Span | None:
    """The range of frequencies that a page shows, Hz; None: all. Raises ValueError."""
    if "low_mhz" not in query and "high_mhz" not in query:
        return None
    low_hz, high_hz = (1e6 * float(query.get(name, "nan")) for name in ("low_mhz", "high_mhz"))
    if not 0 <= low_hz < high_hz < math.inf:
        raise ValueError
    return low_hz, high_hz


def markers_of(query: Mapping[str, str]) -> list[tuple[int, float]]:
    """Number and frequency, MHz, of each marker of a page. Raises ValueError."""
    given = [each.partition(":") for each in query.get("markers", "").split(",") if each]
    found = [(int(number), float(mhz)) for number, _, mhz in given[:MOST_MARKERS]]
    if not all(0 < number < 100 and 0 < mhz < HIGHEST_MHZ for number, mhz in found):
        raise ValueError
    return found
