"""A transport on which things go wrong between the analyzer and the program."""

from __future__ import annotations

import errno
import threading
from collections.abc import Callable
from typing import Literal

import numpy as np
import serial

from acquire.clock import Clock
from replay.faults.fault_kinds import (
    ON_THE_WAY_IN,
    ON_THE_WAY_OUT,
    PIECE_BYTES,
    Fault,
    FaultQueue,
    Kind,
)
from replay.recording.port_recording import Carrier

STOLEN_SHARE = 0.5
"""How much of what comes goes to a second program that reads the same port."""

TERMINAL_ERROR: type[Exception] = type("error", (Exception,), {"__module__": "termios"})
"""As `termios.error`, which is told by its name, since not every system has that module."""


class FaultyTransport:
    """Passes bytes on as `acquire.port.transport` wants it, but for what the trouble says."""

    def __init__(
        self,
        inner: Carrier,
        fault_queue: FaultQueue,
        clock: Clock,
        reply_end: bytes = b"",
        left: Callable[[Fault], None] = lambda _fault: None,
    ) -> None:
        """reply_end : what ends a reply, for "a reply's end inside the data".
        left : is told of a fault after which the port is no longer there."""
        self.address = inner.address
        self.kind: Literal["port", "virtual", "replay"] = inner.kind
        self._inner = inner
        self._fault_queue = fault_queue
        self._clock = clock
        self._reply_end = reply_end
        self._left = left
        self._broken: Exception | None = None
        self._held = bytearray()
        self._held_until_s = 0.0
        self._stolen_until_s = 0.0
        self._thief = np.random.default_rng(0)
        self._reply = bytearray()
        self._reply_before = b""
        self._never = threading.Event()

    def write(self, data: bytes) -> None:
        """Send bytes."""
        self._raise_if_broken()
        if self._reply:
            self._reply_before = bytes(self._reply)
            self._reply.clear()
        met = self._fault_queue.meets("out", ON_THE_WAY_OUT, len(data))
        if met is not None:
            fault, at = met
            self._note(fault)
            if fault.kind is Kind.LOST_COMMAND:
                data = data[:at] + data[at + fault.size :]
            else:
                data = data[:at] + flipped(data[at:], fault)
        if data:
            self._inner.write(data)

    def read(self, timeout_s: float) -> bytes:
        """Return what has arrived, b"" once so many seconds have passed."""
        self._raise_if_broken()
        if self._held:
            left_s = self._held_until_s - self._clock.monotonic()
            if left_s > 0:
                self._clock.wait(self._never, min(left_s, timeout_s))
                return b""
            held = bytes(self._held)
            self._held.clear()
            return held
        data = self._inner.read(timeout_s)
        if self._clock.monotonic() < self._stolen_until_s and data:
            data = data if self._thief.random() > STOLEN_SHARE else b""
        met = self._fault_queue.meets("in", ON_THE_WAY_IN, len(data)) if data else None
        self._reply += data
        if met is not None:
            data = self._spoilt(data, *met)
        return data

    def discard(self) -> None:
        """Throw away what has arrived; what is late has not."""
        self._raise_if_broken()
        if not self._held:
            self._inner.discard()

    def close(self) -> None:
        """Let go of the analyzer."""
        self._inner.close()

    def _spoilt(self, data: bytes, fault: Fault, at: int) -> bytes:
        before, after = data[:at], data[at:]
        match fault.kind:
            case Kind.LOST:
                after = after[fault.size :]
            case Kind.DOUBLED:
                after = after[: fault.size] + after
            case Kind.AGAIN | Kind.EXCHANGED:
                # whole packets where there are so many bytes, else half of what there is
                half = len(data) // 2
                size = max(
                    (each for each in PIECE_BYTES if each <= min(fault.size, half)), default=half
                )
                at = min(at, len(data) - 2 * size)
                one, two = data[at : at + size], data[at + size : at + 2 * size]
                before, after = data[:at], data[at + 2 * size :]
                after = (one if fault.kind is Kind.AGAIN else two) + one + after
            case Kind.FLIPPED:
                after = flipped(after, fault)
            case Kind.PROMPT:
                after = self._reply_end + after
            case Kind.REPEATED:
                before = self._reply_before + before
            case Kind.LATE:
                self._held += after
                after = b""
                self._held_until_s = self._clock.monotonic() + fault.lasts_s
            case Kind.MERGED:
                self._clock.wait(self._never, fault.lasts_s)
                while piece := self._inner.read(0.0):
                    self._reply += piece
                    after += piece
            case Kind.STOLEN:
                self._thief = fault.rng()
                self._stolen_until_s = self._clock.monotonic() + fault.lasts_s
            case _:
                self._broken = error_of(fault.kind)
                self._note(fault)
                self._left(fault)
                raise self._broken
        self._note(fault)
        return before + after

    def _note(self, fault: Fault) -> None:
        now_s = self._clock.monotonic()
        self._fault_queue.note(fault, now_s, now_s + fault.lasts_s)

    def _raise_if_broken(self) -> None:
        if self._broken is not None:
            raise self._broken


def error_of(kind: Kind) -> Exception:
    """What an operating system or pyserial raises when a port goes away so."""
    match kind:
        case Kind.OS_ERROR:
            return OSError(errno.EIO, "Input/output error")
        case Kind.TERMINAL_ERROR:
            return TERMINAL_ERROR(errno.EIO, "Input/output error")
        case _:
            return serial.SerialException(
                "device reports readiness to read but returned no data (device disconnected?)"
            )


def flipped(data: bytes, fault: Fault) -> bytes:
    """The data with some bits of its first bytes turned round."""
    rng = fault.rng()
    changed = bytearray(data)
    for at in range(min(fault.size, len(changed))):
        changed[at] ^= 1 << int(rng.integers(8))
    return bytes(changed)
