"""The port that a page is shared on: strangers reach it, so everything on it is counted and timed.

Whoever is on the network can open connections and say nothing. Each takes one of this process'
descriptors, which the bench's own port and the analyzer's need too: so there are only so many, in
all and from one address, a head that does not come is not waited for, and while nothing is shared
nothing listens.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
from collections import Counter
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from typing import Any

from dashboard.errors import NotNowError, SetupError

MOST_CONNECTIONS = 240
"""Thirty viewers' browsers; each keeps six for what it fetches, and some one more."""
MOST_BY_ADDRESS = 32
HEAD_WITHIN_S = 10.0
LARGEST_HEAD = 64 * 2**10
"""Bytes."""
GOODBYE_S = 1.0
"""How long connections are given to say why they end when the sharing stops."""
PAUSE_S = 0.2
"""Before the next one is accepted, where the system had no descriptor to give."""
PORT_PATIENCE_S = 5.0


@dataclass(frozen=True, slots=True)
class Bounds:
    """What may be open at once on a shared port, and for how long it may say nothing."""

    most: int = MOST_CONNECTIONS
    by_address: int = MOST_BY_ADDRESS
    head_within_s: float = HEAD_WITHIN_S

    @classmethod
    def of_this_process(cls) -> Bounds:
        """At most a quarter of what this process may open: the rest is the bench's own."""
        allowed = _descriptors()
        if allowed is None:
            return cls()
        most = max(1, min(MOST_CONNECTIONS, allowed // 4))
        return cls(most, max(1, min(MOST_BY_ADDRESS, most // 2)))


def _descriptors() -> int | None:
    """How many descriptors this process may have; None where that is not bounded, or not known."""
    try:
        import resource  # noqa: PLC0415 - POSIX alone has it
    except ImportError:
        return None
    allowed, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return None if allowed == resource.RLIM_INFINITY else allowed


class SharedPort:
    """Listens for viewers while the page is shared. Its port stays the same."""

    def __init__(
        self,
        listening: socket.socket,
        listen_again: Callable[[], socket.socket],
        make_protocol: Callable[[], Any],
        tls: ssl.SSLContext | None = None,
        bounds: Bounds | None = None,
    ) -> None:
        """Made within the loop that it runs in; `start` begins it.

        listening : bound. listen_again : binds the same port anew; raises SetupError.
        make_protocol : makes uvicorn's protocol for one connection.
        """
        self._listening = listening
        self._listen_again = listen_again
        self._make_protocol = make_protocol
        self._tls = tls
        self._bounds = Bounds.of_this_process() if bounds is None else bounds
        self._loop = asyncio.get_running_loop()
        self._accepting: asyncio.Task[None] | None = None
        self._held: dict[socket.socket, tuple[str, asyncio.Task[Any]]] = {}

    def start(self) -> None:
        """Listen; in the loop."""
        self._listening.setblocking(False)
        self._accepting = self._loop.create_task(self._accept())

    async def end(self) -> None:
        """Close the port, and after a moment every connection that came through it; in the loop."""
        if self._accepting is not None:
            self._accepting.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._accepting
            self._accepting = None
        self._listening.close()
        held, self._held = self._held, {}
        self._loop.call_later(GOODBYE_S, _cut, [task for _, task in held.values()])

    def close(self) -> None:
        """The same, from another thread; the port is closed when it returns."""
        self._in_loop(self.end())

    def open(self) -> None:
        """Listen again, from another thread. Raises NotNowError where the port is taken."""
        self._in_loop(self._again())

    async def _again(self) -> None:
        if self._accepting is not None:
            return
        try:
            self._listening = self._listen_again()
        except SetupError as error:
            raise NotNowError(
                "It cannot be shared again: another program took the port meanwhile. Start "
                "bandwright anew."
            ) from error
        self.start()

    def _in_loop(self, work: Coroutine[Any, Any, None]) -> None:
        try:
            asyncio.run_coroutine_threadsafe(work, self._loop).result(PORT_PATIENCE_S)
        except RuntimeError:  # the loop has ended, and the port with it
            work.close()
        except TimeoutError as error:
            raise NotNowError("The page is busy, so its port did not follow. Ask again.") from error

    async def _accept(self) -> None:
        while True:
            try:
                taken, (address, *_) = await self._loop.sock_accept(self._listening)
            except OSError:  # no descriptor is left, or who asked has gone
                await asyncio.sleep(PAUSE_S)
                continue
            if not self._has_room(address):
                taken.close()
                continue
            self._held[taken] = (address, self._loop.create_task(self._connect(taken)))

    def _has_room(self, address: str) -> bool:
        self._held = {each: whose for each, whose in self._held.items() if each.fileno() != -1}
        by_address = Counter(whose for whose, _ in self._held.values())
        return len(self._held) < self._bounds.most and (
            by_address[address] < self._bounds.by_address
        )

    async def _connect(self, taken: socket.socket) -> asyncio.BaseTransport | None:
        try:
            transport, _ = await self._loop.connect_accepted_socket(
                lambda: HeadInTime(self._make_protocol(), self._bounds.head_within_s),
                taken,
                ssl=self._tls,
                ssl_handshake_timeout=None if self._tls is None else self._bounds.head_within_s,
            )
        except (OSError, TimeoutError):  # no TLS was spoken, or none in time
            taken.close()
            return None
        return transport


def _cut(connecting: list[asyncio.Task[Any]]) -> None:
    for each in connecting:
        if not each.done():
            each.cancel()
        elif not each.cancelled() and each.exception() is None and each.result() is not None:
            each.result().abort()


class HeadInTime(asyncio.Protocol):
    """Hands a connection to uvicorn's protocol, and cuts it where a request's head does not come.

    A connection that becomes a web socket gets a protocol of its own, and is left alone from then.
    """

    def __init__(self, inner: Any, within_s: float) -> None:
        self._inner = inner
        self._within_s = within_s
        self._transport: Any = None
        self._timer: asyncio.TimerHandle | None = None
        self._came = 0

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Begin to wait for the first head."""
        self._transport = transport
        self._inner.connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Hand on what came; wait on where it was no whole head."""
        self._inner.data_received(data)
        cycle = self._inner.cycle
        answering = cycle is not None and not cycle.response_complete
        if answering or self._transport.get_protocol() is not self:
            self._rest()
            return
        self._came += len(data)
        if self._came > LARGEST_HEAD:
            self._transport.abort()
        self._wait()

    def eof_received(self) -> bool | None:
        """Hand it on."""
        ended: bool | None = self._inner.eof_received()
        return ended

    def connection_lost(self, exc: Exception | None) -> None:
        """Hand it on."""
        self._rest()
        self._inner.connection_lost(exc)

    def pause_writing(self) -> None:
        """Hand it on."""
        self._inner.pause_writing()

    def resume_writing(self) -> None:
        """Hand it on."""
        self._inner.resume_writing()

    def _wait(self) -> None:
        if self._timer is None:
            loop = asyncio.get_running_loop()
            self._timer = loop.call_later(self._within_s, self._transport.abort)

    def _rest(self) -> None:
        self._came = 0
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
