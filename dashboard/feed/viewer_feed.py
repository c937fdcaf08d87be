"""The live feed: one binary message a snapshot, to each viewer at its own pace.

A message is the header's length (uint32), a JSON header padded to four bytes, then float32
parts, little-endian throughout: the grid in MHz, the trace and the held traces as (real,
imaginary) pairs, the sizes between which each point lies as (low, high) pairs, the trust floor as
sizes, the curve expected after the advised step as (MHz, size) pairs, the worst margin's history
as (seconds ago, dB) pairs. All but the trace and its intervals are sent only when they change.

A viewer's markers are its own: its page says where they are as it says what it has drawn, and gets
the reading at each of them with the frame.

Every viewer has room for one snapshot, the newest, and gets the next one only once it has drawn
all but `WINDOW` of those it was sent: a slow page skips frames, a frozen one costs nothing and is
dropped. Both ends notice silence: a heartbeat goes out whenever nothing else did.
"""

from __future__ import annotations

import asyncio
import json
import struct
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from starlette.websockets import WebSocket, WebSocketDisconnect

from acquire.printable_text import plain
from acquire.sweep import Sweep
from calibration.uncertainty.interval import Interval
from dashboard.access.access_control import NAME, ROLE
from dashboard.bench.composed_bench import Bench
from dashboard.bench.snapshot import Snapshot, TuningState
from dashboard.feed.frame import header
from dashboard.feed.marker_frame import dip_readings, marker_readings

WINDOW = 2
"""Messages on their way to a viewer that it has not drawn yet, at most."""
HEARTBEAT_S = 1.0
STALLED_S = 10.0
"""A viewer that draws nothing for so long is dropped; it joins again by itself."""
TRY_AGAIN_LATER = 1013
"""Close code for a stalled viewer; RFC 6455's registry."""
NOT_UNDERSTOOD = 1003
"""Close code for a page that sends what is no text; the same registry."""
PUT_OUT = 4001
"""Close code for a viewer that is let in no more; of those that RFC 6455 leaves to applications."""
LONGEST_ACKNOWLEDGEMENT = 600
MOST_MARKERS = 12
HIGHEST_MHZ = 1e6

Float32 = NDArray[np.float32]


class Encoder:
    """Makes the messages of one viewer, and remembers which parts it has."""

    def __init__(self) -> None:
        self._sent: dict[str, str] = {}
        self._messages = 0
        self.markers_mhz: tuple[float, ...] = ()
        """Where this viewer wants to read the trace."""

    def message(self, now: Snapshot, clock_s: float, role: str = "bench", name: str = "") -> bytes:
        """One snapshot as one message; the parts the viewer has already are left out.

        role : whose page it is: "bench", "viewer", or "lent" the control. name : the viewer's.
        """
        self._messages += 1
        head: dict[str, Any] = header(now, clock_s) | {"dips": dip_readings(now)}
        parts: list[tuple[str, str | None, Float32]] = []
        if (shown := now.shown) is not None:
            grid = head["grid"]
            if self._is_new("grid", grid):
                parts.append(("grid", grid, (shown.frequency_hz / 1e6).astype("<f4")))
            parts.append(("trace", None, pairs(shown)))
            if now.uncertainty is not None:
                parts.append(("interval", None, interval_pairs(now.uncertainty)))
            if self.markers_mhz:
                head["markers"] = marker_readings(now, self.markers_mhz)
        if now.uncertainty is not None and self._is_new("floor", head["trust"]["id"]):
            parts.append(("floor", head["trust"]["id"], now.uncertainty.floor.astype("<f4")))
        if now.tuning is not None and self._is_new("history", head["tuning"]["history"]):
            ago = now.tuning.history - [clock_s, 0.0]
            parts.append(("history", head["tuning"]["history"], ago.astype("<f4").ravel()))
        tuning = head["tuning"]
        if now.tuning is not None and self._is_new("after", tuning and tuning["after"]):
            parts.append(("after", tuning["after"], curve_after(now.tuning)))
        labels = {each["number"]: each["id"] for each in head["holds"]}
        for hold in now.holds:
            part, identity = f"hold{hold.number}", labels[hold.number]
            if self._is_new(part, identity):
                parts.append((part, identity, pairs(hold.sweep)))
        whose = {"role": role} | ({"name": plain(name)} if name else {})
        return encode(as_shown(head) | {"message": self._messages} | whose, parts)

    @property
    def messages(self) -> int:
        """How many messages were made so far."""
        return self._messages

    def _is_new(self, name: str, identity: str | None) -> bool:
        if identity is None or self._sent.get(name) == identity:
            return False
        self._sent[name] = identity
        return True


def as_shown(value: Any) -> Any:
    """A header with every text in it plain, for names in it come from files, analyzers and
    people."""
    match value:
        case str():
            return plain(value)
        case dict():
            return {key: as_shown(each) for key, each in value.items()}
        case list() | tuple():
            return [as_shown(each) for each in value]
        case _:
            return value


def encode(head: dict[str, Any], parts: Sequence[tuple[str, str | None, Float32]]) -> bytes:
    """Put a header and its parts into one message.

    parts : name, id under which the viewer keeps it or None, and float32 values.
    A value that was not measured stays NaN; a NaN in the header is a defect and is refused.
    """
    listed = [{"name": name, "id": identity, "count": part.size} for name, identity, part in parts]
    text = json.dumps(head | {"parts": listed}, allow_nan=False, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    return b"".join([struct.pack("<I", len(text)), text, *(part.tobytes() for *_, part in parts)])


def pairs(sweep: Sweep) -> Float32:
    """The reflection as little-endian float32 (real, imaginary) pairs, shape (2 x points,)."""
    values: Float32 = sweep.reflection.astype("<c8").view("<f4")
    return values


def interval_pairs(interval: Interval) -> Float32:
    """Between which sizes each point lies, as (low, high) pairs, shape (2 x points,)."""
    return np.stack([interval.low, interval.high], axis=1).astype("<f4").ravel()


def curve_after(tuning: TuningState) -> Float32:
    """The curve expected after the advised step, as (MHz, size) pairs; NaN where nobody knows."""
    after = None if tuning.advice is None else tuning.advice.after
    if after is None:
        return np.empty(0, dtype="<f4")
    scaled: Float32 = (after * [1e-6, 1.0]).astype("<f4").ravel()
    return scaled


class Socket(Protocol):
    """What a viewer needs of a connection."""

    async def send_bytes(self, data: bytes) -> None: ...
    async def send_text(self, data: str) -> None: ...
    async def receive_text(self) -> str: ...


class NoTextError(Exception):
    """A page sent bytes, where it only says what it has drawn."""


class PutOutError(Exception):
    """Nothing is shared with this viewer any more."""


class _Page:
    """A page's connection: it takes both kinds of message, and says text."""

    def __init__(self, socket: WebSocket) -> None:
        self._socket = socket
        self.send_bytes, self.send_text = socket.send_bytes, socket.send_text

    async def receive_text(self) -> str:
        """What the page says next. Raises NoTextError, WebSocketDisconnect."""
        message = await self._socket.receive()
        if message["type"] == "websocket.disconnect":
            raise WebSocketDisconnect(message["code"], message.get("reason"))
        text = message.get("text")
        if text is None:
            raise NoTextError
        return str(text)


class Viewer:
    """One page that follows the bench."""

    def __init__(
        self,
        bench: Bench,
        socket: Socket,
        role: Callable[[], str] = lambda: "bench",
        name: str = "",
    ) -> None:
        self._role = role
        self._name = name
        self._bench = bench
        self._socket = socket
        self._encoder = Encoder()
        self._drawn = 0
        self._stirred = asyncio.Event()

    async def follow(self) -> None:
        """Send the newest snapshot whenever the page can take one, until it leaves or stalls.

        Raises TimeoutError where it stalls, WebSocketDisconnect where it leaves, NoTextError
        where it sends bytes, PutOutError where nothing is shared with it any more; in a group.
        """
        loop = asyncio.get_running_loop()

        def stir() -> None:
            with suppress(RuntimeError):  # the loop may have ended while a sweep came in
                loop.call_soon_threadsafe(self._stirred.set)

        forget = self._bench.watch(stir)
        try:
            async with asyncio.TaskGroup() as tasks:
                tasks.create_task(self._send())
                tasks.create_task(self._listen())
        finally:
            forget()

    async def _send(self) -> None:
        sent: tuple[int, tuple[float, ...]] = (0, ())
        stalled_since = None
        loop = asyncio.get_running_loop()
        while True:
            self._stirred.clear()
            role = self._role()
            if role == "out":
                raise PutOutError
            newest = self._bench.snapshot()
            waiting = self._encoder.messages - self._drawn
            if waiting == 0:
                stalled_since = None
            elif stalled_since is None:
                stalled_since = loop.time()
            elif loop.time() - stalled_since > STALLED_S:
                raise TimeoutError
            wanted = (newest.version, self._encoder.markers_mhz)
            if wanted != sent and waiting < WINDOW:
                sent = wanted
                clock_s = self._bench.clock.monotonic()
                message = self._encoder.message(newest, clock_s, role, self._name)
                # wait_for may swallow, in Python 3.11, that the other task has ended
                async with asyncio.timeout(STALLED_S):
                    await self._socket.send_bytes(message)
                continue
            try:
                async with asyncio.timeout(HEARTBEAT_S):
                    await self._stirred.wait()
            except TimeoutError:
                async with asyncio.timeout(STALLED_S):
                    await self._socket.send_text("still here")

    async def _listen(self) -> None:
        while True:
            text = await self._socket.receive_text()
            markers = wanted_markers(text)
            if markers is not None and markers != self._encoder.markers_mhz:
                self._encoder.markers_mhz = markers
                self._stirred.set()
            drawn = acknowledged(text)
            if drawn is not None and self._drawn < drawn <= self._encoder.messages:
                self._drawn = drawn
                self._stirred.set()


def acknowledged(text: str) -> int | None:
    """The message that a page says it has drawn; None for anything else it may say."""
    if len(text) > LONGEST_ACKNOWLEDGEMENT:
        return None
    try:
        drawn = json.loads(text)["drawn"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    return drawn if type(drawn) is int else None


def wanted_markers(text: str) -> tuple[float, ...] | None:
    """The frequencies, MHz, at which a page wants readings; None where it says nothing of them."""
    if len(text) > LONGEST_ACKNOWLEDGEMENT:
        return None
    try:
        given = json.loads(text)["markers"]
        found = tuple(float(each) for each in given[:MOST_MARKERS])
    except (ValueError, KeyError, TypeError, RecursionError, OverflowError):
        return None
    return tuple(each for each in found if 0 < each < HIGHEST_MHZ)


async def feed(socket: WebSocket, bench: Bench) -> None:
    """Serve one viewer's connection; whoever may not connect was turned away before."""
    await socket.accept()
    try:
        role = socket.scope.get(ROLE, lambda: "bench")
        await Viewer(bench, _Page(socket), role, socket.scope.get(NAME, "")).follow()
    except* PutOutError:
        with suppress(RuntimeError, WebSocketDisconnect):
            await socket.close(PUT_OUT, "Nothing is shared with you any more.")
    except* NoTextError:
        with suppress(RuntimeError, WebSocketDisconnect):
            await socket.close(NOT_UNDERSTOOD, "Only text is understood here.")
    except* TimeoutError:
        with suppress(RuntimeError, WebSocketDisconnect):
            await socket.close(TRY_AGAIN_LATER)
    except* (WebSocketDisconnect, RuntimeError):
        pass  # it left; starlette says so by either, depending on who noticed
