"""The server behind the page: on this machine only, in this process, until it is told to stop."""

from __future__ import annotations

import contextlib
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any, cast

from dashboard.errors import SetupError

if TYPE_CHECKING:
    from fastapi import FastAPI
    from starlette.websockets import WebSocket
    from uvicorn import Server

    from dashboard.bench import Bench

ADDRESS = "127.0.0.1"
PAGE_PORT = 8765
"""Where the page is unless another port is named."""
GOODBYE_S = 1
"""How long open connections are given when the server stops."""

Say = Callable[[str], None]


def build(bench: Bench) -> FastAPI:
    """Make the application that serves a bench: Dash's page and callbacks, and the feed."""
    from dash import Dash
    from fastapi import FastAPI
    from starlette.middleware.trustedhost import TrustedHostMiddleware
    from starlette.routing import WebSocketRoute

    from dashboard.callbacks import connect
    from dashboard.feed import feed
    from dashboard.gate import HOSTS, SameOrigin
    from dashboard.page import FRAME, layout

    server = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    app = Dash(
        "bandwright",
        server=cast(Any, server),  # Dash's annotation forgot its FastAPI backend
        assets_folder=str(Path(__file__).parent / "assets"),
        assets_ignore=r".*\.js$",  # modules: the frame names the first, which names the others
        index_string=FRAME,
        title="bandwright",
        update_title="",
        serve_locally=True,
        add_log_handler=False,
        # Views that are not shown are in the layout all the same, so nothing is missing.
        suppress_callback_exceptions=False,
    )
    app.layout = layout(bench)
    connect(app, bench)

    async def follow(socket: WebSocket) -> None:
        await feed(socket, bench)

    server.router.routes.append(WebSocketRoute("/feed", follow))
    server.add_middleware(SameOrigin)
    server.add_middleware(TrustedHostMiddleware, allowed_hosts=HOSTS)  # the outermost
    return server


def serve(
    bench: Bench,
    *,
    page_port: int = PAGE_PORT,
    open_browser: bool = True,
    say: Say = print,
) -> None:
    """Start a bench and serve its page until Ctrl-C or SIGTERM; then let go of both ports.

    page_port : where on 127.0.0.1; 0 takes any free one. say : tells the person the address.
    Raises SetupError where the port is taken or not allowed.
    """
    listening = listen(page_port)
    try:
        with ended_by_signals():
            url = f"http://{ADDRESS}:{listening.getsockname()[1]}/"

            def ready() -> None:
                say(f"The page is at {url} (this machine only). Stop with Ctrl-C.")
                if open_browser:
                    # Some systems' browsers hold their caller until they close.
                    threading.Thread(target=webbrowser.open, args=(url,), daemon=True).start()

            server = make_server(bench, ready)
            bench.start()
            with contextlib.suppress(KeyboardInterrupt):
                server.run(sockets=[listening])
    finally:
        bench.close()
        listening.close()


def listen(page_port: int) -> socket.socket:
    """Take the page's port, for this program alone; raises SetupError where that fails."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":  # there it would let two programs share the port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((ADDRESS, page_port))
        listening.listen()
    except (OSError, OverflowError) as error:
        listening.close()
        why = getattr(error, "strerror", None) or error
        raise SetupError(
            f"The page cannot be served on port {page_port} of this machine: {why}. Another "
            "bandwright may be running there; choose another port with --page-port, or 0 for any "
            "free one."
        ) from error
    return listening


def make_server(bench: Bench, ready: Callable[[], None]) -> Server:
    """Make the server; `ready` is called once it answers."""
    import uvicorn

    class Announced(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            ready()

    return Announced(
        uvicorn.Config(
            build(bench),
            # Dash adds a route for every unknown path when an application's life begins;
            # without that, unknown paths are not found.
            lifespan="off",
            ws="websockets-sansio",
            log_level="warning",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=GOODBYE_S,
        )
    )


@contextlib.contextmanager
def ended_by_signals() -> Iterator[None]:
    """Make SIGTERM end the work as Ctrl-C does: orderly, the ports let go of."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def end(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
