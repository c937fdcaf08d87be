"""Bytes in and out of an analyzer, and the one function that moves them.

An address is a serial device, any other address pyserial knows (socket://, rfc2217://,
loop://), or one of a scheme that the caller brings an opener for (virtual:, replay:).
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from types import MappingProxyType
from typing import Literal, Protocol, TypeVar

from acquire.clock import Clock, SystemClock
from acquire.dialect import Ask, Steps
from acquire.errors import AcquireError, BandwrightError, NoReplyError, ReplyDefectError, ReplyError
from acquire.port.port_errors import faults_named
from acquire.port.reply_timeout import ReplyTimeouts
from acquire.port.serial_transport import SLICE_S, open_serial

T = TypeVar("T")

MOST_REPLY_BYTES = 4_000_000
"""Far above the largest sweep; an analyzer that never stops talking is cut off here."""


class Transport(Protocol):
    """Bytes to and from one analyzer."""

    address: str
    kind: Literal["port", "virtual", "replay"]

    def write(self, data: bytes) -> None:
        """Send bytes."""
        ...

    def read(self, timeout_s: float) -> bytes:
        """Return what has arrived, at least one byte; b"" once so many seconds have passed."""
        ...

    def discard(self) -> None:
        """Throw away what has arrived."""
        ...

    def close(self) -> None:
        """Let go of the analyzer; closing twice does no harm."""
        ...


Opener = Callable[[str, int], Transport]
"""Opens an address at a baud rate."""

NO_OPENERS: Mapping[str, Opener] = MappingProxyType({})


class StoppedError(AcquireError):
    """Someone asked for the conversation to end."""


def open_port(
    address: str,
    *,
    baud_rate: int = 115200,
    openers: Mapping[str, Opener] = NO_OPENERS,
    clock: Clock | None = None,
) -> Transport:
    """Open a port, for this program alone where the system allows that.

    address : a device, a pyserial URL, or "scheme:..." or "scheme://..." of one of the openers.
    Raises PortError, which tells busy, forbidden and absent apart and names the cure.
    """
    scheme = address.partition(":")[0]
    if scheme in openers:
        return openers[scheme](address, baud_rate)
    return open_serial(address, baud_rate, SystemClock() if clock is None else clock)


@contextmanager
def defects_named(address: str) -> Iterator[None]:
    """Raise ReplyDefectError where making sense of a reply fails by a fault of this program.

    What an analyzer says is anybody's words; what no dialect or check thought of is a bad reply.
    """
    try:
        yield
    except BandwrightError:
        raise
    except Exception as fault:
        raise ReplyDefectError(
            f"The analyzer at {address} sent a reply that cannot be read "
            f"({type(fault).__name__}: {str(fault)[:80]}). Sweep again. If it happens again, "
            "report it with a recording (--record)."
        ) from fault


class Line:
    """A transport, and what arrived on it beyond the end of the last reply."""

    def __init__(
        self,
        transport: Transport,
        clock: Clock,
        interrupted: threading.Event | None = None,
        most_reply_bytes: int = MOST_REPLY_BYTES,
        reply_timeouts: ReplyTimeouts | None = None,
    ) -> None:
        self.transport = transport
        self._clock = clock
        self._interrupted = threading.Event() if interrupted is None else interrupted
        self._most_reply_bytes = most_reply_bytes
        self._reply_timeouts = ReplyTimeouts() if reply_timeouts is None else reply_timeouts
        self._held = bytearray()
        self._command = b""

    def converse(self, steps: Steps[T]) -> T:
        """Carry out a conversation: fulfil each ask, send its reply in, return the result.

        Where a reply does not come in time, NoReplyError is thrown into the conversation.
        Raises what the conversation raises, PortError where the port fails, StoppedError.
        """
        try:
            ask = next(steps)
            while True:
                try:
                    reply = self._fulfil(ask)
                except NoReplyError as fault:
                    ask = steps.throw(fault)
                else:
                    ask = steps.send(reply)
        except StopIteration as done:
            result: T = done.value
            return result
        finally:
            steps.close()

    def converse_guarded(self, steps: Steps[T]) -> T:
        """The same, where whatever else goes wrong in making sense of a reply is a ReplyError."""
        with defects_named(self.transport.address):
            return self.converse(steps)

    def _fulfil(self, ask: Ask) -> bytes:
        with faults_named(self.transport.address):
            if ask.fresh:
                self._held.clear()
                self.transport.discard()
            if ask.write:
                self._command = ask.write
                self.transport.write(ask.write)
        return self._read_until_quiet(ask) if ask.quiet_s is not None else self._reply(ask)

    def _reply(self, ask: Ask) -> bytes:
        """Read until the reply's end; what lies beyond is kept."""
        heard_s = self._clock.monotonic()
        deadline_s = heard_s + ask.deadline_s
        allowed_s = self._reply_timeouts.reply_gap_s(self._command)
        longest_s = 0.0
        searched = 0
        while True:
            end = ask.count
            if ask.until is not None:
                found = self._held.find(ask.until, max(0, searched - len(ask.until) + 1))
                end = None if found < 0 else found + len(ask.until)
                searched = len(self._held)
            if end is not None and len(self._held) >= end:
                reply = bytes(self._held[:end])
                del self._held[:end]
                if end:
                    self._reply_timeouts.answered(self._command, max(0.0, longest_s - ask.busy_s))
                return reply
            self._bound()
            now_s = self._clock.monotonic()
            left_s = deadline_s - now_s
            if allowed_s is not None:
                left_s = min(left_s, heard_s + ask.busy_s + allowed_s - now_s)
            if left_s <= 0:
                self._reply_timeouts.missed(self._command)
                received = bytes(self._held)
                self._held.clear()
                raise NoReplyError(
                    f"The analyzer at {self.transport.address} did not finish its reply within "
                    f"{ask.deadline_s - deadline_s + now_s:.3g} s; {len(received)} bytes came. "
                    "Check that it is switched on and that the profile fits it.",
                    received,
                )
            if piece := self._read(left_s):
                self._held += piece
                now_s = self._clock.monotonic()
                longest_s, heard_s = max(longest_s, now_s - heard_s), now_s

    def _read_until_quiet(self, ask: Ask) -> bytes:
        """Read until nothing has come for so many seconds; all of it is the reply."""
        quiet_s = ask.quiet_s or 0.0
        heard_s = self._clock.monotonic()
        deadline_s = heard_s + max(ask.deadline_s, quiet_s)
        while (left_s := heard_s + quiet_s - self._clock.monotonic()) > 0:
            if self._clock.monotonic() >= deadline_s:
                received = bytes(self._held)
                self._held.clear()
                raise NoReplyError(
                    f"The analyzer at {self.transport.address} kept sending for "
                    f"{ask.deadline_s:g} s. Switch it off and on again.",
                    received,
                )
            piece = self._read(left_s)
            if piece:
                self._held += piece
                self._bound()
                heard_s = self._clock.monotonic()
        reply = bytes(self._held)
        self._held.clear()
        return reply

    def _read(self, timeout_s: float) -> bytes:
        if self._interrupted.is_set():
            raise StoppedError("The sweep was stopped.")
        with faults_named(self.transport.address):
            return self.transport.read(min(timeout_s, SLICE_S))

    def _bound(self) -> None:
        if len(self._held) > self._most_reply_bytes:
            self._held.clear()
            raise ReplyError(
                f"The analyzer at {self.transport.address} sent more than {self._most_reply_bytes} "
                "bytes without an end. Check that the profile fits it."
            )


def converse(transport: Transport, steps: Steps[T], clock: Clock) -> T:
    """Carry out one conversation on a transport; see `Line.converse`."""
    return Line(transport, clock).converse(steps)
