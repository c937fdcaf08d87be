"""What the bench's own page shows of the sharing: the code as a picture, and who is looking."""

from __future__ import annotations

import io
from collections.abc import Awaitable, Callable
from dataclasses import asdict

import segno
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from dashboard.access.sharing import Sharing, privacy

Answer = Callable[[Request], Awaitable[Response]]


def picture_of(sharing: Sharing) -> Answer:
    """Serve the address with its code as a QR code (ISO/IEC 18004)."""

    async def serve(_request: Request) -> Response:
        address = sharing.state.address
        if not address:
            return PlainTextResponse("Not found", 404)
        picture = io.BytesIO()
        segno.make(address, error="m").save(picture, kind="svg", scale=6, border=3, light="white")
        headers = {"Cache-Control": "no-store"}
        return Response(picture.getvalue(), media_type="image/svg+xml", headers=headers)

    return serve


def share_state(sharing: Sharing) -> Answer:
    """Serve how the sharing stands."""

    async def serve(_request: Request) -> Response:
        answer = asdict(sharing.state) | {"privacy": privacy(sharing)}
        return JSONResponse(answer, headers={"Cache-Control": "no-store"})

    return serve
