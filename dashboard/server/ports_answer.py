"""The ports that the bench's page offers, as JSON: listed anew for each request, none opened."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import asdict

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from acquire.errors import BandwrightError
from dashboard.bench.composed_bench import Bench

Answer = Callable[[Request], Awaitable[Response]]


def listed_ports(bench: Bench) -> Answer:
    """Serve the list, or why there is none."""

    def now() -> dict[str, object]:
        try:
            return {"ports": [asdict(each) for each in bench.port.listed()], "problem": ""}
        except (BandwrightError, OSError) as error:
            return {"ports": [], "problem": str(error)}

    async def serve(_request: Request) -> Response:
        answer = await asyncio.to_thread(now)
        return JSONResponse(answer, headers={"Cache-Control": "no-store"})

    return serve
