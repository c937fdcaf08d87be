"""Who may talk to the page: this machine's own browser, from the page itself, and nobody else.

A server on 127.0.0.1 can be reached by any web site open in the same browser, by a name of the
site's own that resolves to it (DNS rebinding), or by requests sent across origins. So the host name
must be this machine's, and whatever changes something must come from the page's own origin.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse

HOSTS = ["127.0.0.1", "localhost"]

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Application = Callable[[Scope, Receive, Send], Awaitable[None]]

SAFE = ("GET", "HEAD", "OPTIONS")


class SameOrigin:
    """Turns away what does not come from the page, and adds headers to what goes out."""

    def __init__(self, app: Application) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection (ASGI)."""
        if scope["type"] == "http":
            if scope["method"] not in SAFE and not own_origin(scope):
                refusal = PlainTextResponse("This request does not come from the page.", 403)
                await refusal(scope, receive, send)
                return
            await self._app(scope, receive, _with_headers(send))
        elif scope["type"] == "websocket" and not own_origin(scope):
            await receive()
            await send({"type": "websocket.close", "code": 1008})
        else:
            await self._app(scope, receive, send)


def own_origin(scope: Scope) -> bool:
    """True where the sender names the page's own origin; browsers always name one here."""
    headers = Headers(scope=scope)
    host = headers.get("host")
    return host is not None and headers.get("origin") in (f"http://{host}", f"https://{host}")


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers["X-Content-Type-Options"] = "nosniff"
            headers["X-Frame-Options"] = "DENY"
            headers["Referrer-Policy"] = "no-referrer"
            # After an update the page must not run with the scripts of the version before.
            headers.setdefault("Cache-Control", "no-cache")
        await send(message)

    return sending
