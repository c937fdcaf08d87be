"""Whatever fails while the page is served leaves a trace, and an answer that says so."""

from __future__ import annotations

from dash.exceptions import PreventUpdate
from starlette.websockets import WebSocketDisconnect

from dashboard.access.access_control import (
    Application,
    Message,
    Receive,
    Scope,
    Send,
    turn_away,
)
from dashboard.files.defect_log import defect_words, note_defect

SERVER_ERROR = 1011
"""Close code of a web socket (RFC 6455)."""


class NotedDefects:
    """Serves an application, the innermost; notes what fails in it."""

    def __init__(self, app: Application) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection (ASGI)."""
        begun = False

        async def sending(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        try:
            await self._app(scope, receive, sending)
        except (PreventUpdate, WebSocketDisconnect):
            raise
        except Exception as error:  # noqa: BLE001 - whatever it is, it is told
            note_defect(error, f"serving {scope.get('path', '')}")
            if scope["type"] == "websocket" and begun:
                await send({"type": "websocket.close", "code": SERVER_ERROR})
            elif not begun:
                await turn_away(scope, receive, send, defect_words(), 500)
