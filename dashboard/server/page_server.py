"""The server behind the page: on this machine only, in this process, until it is told to stop."""

from __future__ import annotations

import contextlib
import signal
import socket
import ssl
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any, cast

import uvicorn
from dash import Dash
from fastapi import FastAPI
from starlette.middleware import Middleware

from dashboard.access.access_control import Door
from dashboard.access.certificate import load_certificate
from dashboard.access.security_headers import Policy
from dashboard.access.sharing import Sharing, own_address, privacy
from dashboard.bench.composed_bench import Bench
from dashboard.errors import SetupError
from dashboard.page.callbacks import connect
from dashboard.page.layout import FRAME, layout
from dashboard.page.station_page import STATION_FRAME, connect_station, station_layout
from dashboard.server.noted_defects import NotedDefects
from dashboard.server.routes import of_dash, own_routes
from dashboard.server.shared_port import Bounds, SharedPort

ADDRESS = "127.0.0.1"
EVERYWHERE = "0.0.0.0"  # noqa: S104 - only where the person shares, and only by a code
PAGE_PORT = 8765
"""Where the page is unless another port is named."""
LONGEST_MESSAGE = 4096
"""Bytes of one message that a page may send; it only says what it has drawn."""
GOODBYE_S = 1
"""How long open connections are given when the server stops."""

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Share:
    """How the page is shared."""

    certificate: Path | None = None
    """PEM; without one there is no TLS."""
    key: Path | None = None
    """PEM; in the certificate's file where None."""
    name: str = ""
    """What others call this machine by; its address on the network where empty."""

    def tls(self) -> ssl.SSLContext | None:
        """What the shared port speaks TLS by; None without. Raises SetupError."""
        if self.certificate is None:
            return None
        return load_certificate(self.certificate, self.key)


def build(bench: Bench, sharing: Sharing | None = None) -> FastAPI:
    """Make the application that serves a bench: Dash's page and callbacks, and the feed."""
    server = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    station = bench.station is not None
    app = Dash(
        "bandwright",
        server=cast(Any, server),  # Dash's annotation forgot its FastAPI backend
        assets_folder=str(Path(__file__).parents[1] / "page" / "assets"),
        # modules: the frame names the first, which names the others; and what other pages wear
        assets_ignore=r".*\.js$|records\.css$",
        index_string=STATION_FRAME if station else FRAME,
        title="bandwright",
        update_title="",
        serve_locally=True,
        add_log_handler=False,
        # Views that are not shown are in the layout all the same, so nothing is missing.
        suppress_callback_exceptions=False,
    )
    # It would answer callbacks on a socket, where nothing tells a change from a look.
    app.backend.websocket_capability = False
    # anew for each page: what was chosen since stands in it
    app.layout = partial(station_layout if station else layout, bench)
    (connect_station if station else connect)(app, bench, sharing)

    routes = server.router.routes
    routes[:] = [*own_routes(app, bench, sharing), *filter(of_dash, routes)]
    server.router.redirect_slashes = False
    # within Dash's own, which swallows what fails without a trace
    server.user_middleware.append(Middleware(NotedDefects))
    server.add_middleware(Door, sharing=sharing)
    server.add_middleware(Policy, scripts=app.csp_hashes())  # the outermost
    return server


def serve(
    bench: Bench,
    *,
    page_port: int = PAGE_PORT,
    open_browser: bool = True,
    share: Share | None = None,
    say: Say = print,
) -> None:
    """Start a bench and serve its page until Ctrl-C or SIGTERM; then let go of both ports.

    page_port : where on 127.0.0.1; 0 takes any free one. say : tells the person the address.
    share : let others on the network look, by a one-time code that the page shows.
    Raises SetupError where the port is taken or not allowed, or a certificate cannot be used.
    """
    tls = None if share is None else share.tls()
    listening = listen(page_port)
    sockets, sharing = [listening], None
    if share is not None:
        sockets.append(listen(0, EVERYWHERE))
        port = sockets[1].getsockname()[1]
        sharing = Sharing(share.name or own_address(), port, private=tls is not None)
    try:
        with ended_by_signals():
            url = f"http://{ADDRESS}:{listening.getsockname()[1]}/"

            def ready() -> None:
                say(f"The page is at {url} (this machine only). Stop with Ctrl-C.")
                if sharing is not None:
                    say(f"Shared, to look at: {sharing.state.address}")
                    say(f"The code in it is good once; the page shows the next. {privacy(sharing)}")
                if open_browser:
                    # Some systems' browsers hold their caller until they close.
                    threading.Thread(target=webbrowser.open, args=(url,), daemon=True).start()

            server = make_server(bench, ready, sharing, tls)
            bench.start()
            with contextlib.suppress(KeyboardInterrupt):
                server.run(sockets=sockets)
    finally:
        bench.close()
        for each in sockets:
            each.close()


def listen(page_port: int, address: str = ADDRESS) -> socket.socket:
    """Take the page's port, for this program alone; raises SetupError where that fails."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if sys.platform != "win32":  # there it would let two programs share the port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, page_port))
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


def make_server(
    bench: Bench,
    ready: Callable[[], None],
    sharing: Sharing | None = None,
    tls: ssl.SSLContext | None = None,
    bounds: Bounds | None = None,
) -> uvicorn.Server:
    """Make the server; `ready` is called once it answers. The second socket is the shared one.

    tls : what the shared port speaks; the bench's own is plain, for it never leaves this machine.
    bounds : of what may be open on the shared port; by what this process may open where None.
    """

    class Announced(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            own, others = (sockets or [])[:1], (sockets or [])[1:]
            await super().startup(own)
            self.shared: SharedPort | None = None
            if sharing is not None and others:
                self.shared = self.share(sharing, others[0])
            ready()

        def share(self, sharing: Sharing, listening: socket.socket) -> SharedPort:
            address, port = listening.getsockname()

            def make_protocol() -> Any:
                made: Any = self.config.http_protocol_class
                return made(
                    config=self.config,
                    server_state=self.server_state,
                    app_state=self.lifespan.state,
                )

            shared = SharedPort(
                listening, lambda: listen(port, address), make_protocol, tls, bounds
            )
            shared.start()
            sharing.at(shared)
            return shared

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            if self.shared is not None:
                await self.shared.end()
            # beside it, so that the analyzer's port is free at once, whoever is still looking
            threading.Thread(target=bench.close, name="letting go").start()
            await super().shutdown(sockets)

    return Announced(
        uvicorn.Config(
            build(bench, sharing),
            # Dash adds a route for every unknown path when an application's life begins;
            # without that, unknown paths are not found.
            lifespan="off",
            ws="websockets-sansio",
            ws_max_size=LONGEST_MESSAGE,
            ws_per_message_deflate=False,  # noise does not shrink, and packing it takes time
            proxy_headers=False,  # else whoever comes through could say who they are
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
