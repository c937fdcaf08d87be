"""What the three ways of talking share: bytes in, and bytes out once their time has come."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Protocol

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from replay.virtual_analyzer.receiver import Receiver, Sweeping

PACKET_BYTES = 64
"""Most bytes given out at once, as a USB serial port does: replies come in pieces."""


class Limits(Protocol):
    """What an analyzer can do, whatever it is asked for."""

    @property
    def low_hz(self) -> float: ...
    @property
    def high_hz(self) -> float: ...
    @property
    def points(self) -> int: ...
    @property
    def seconds_per_point(self) -> float: ...
    @property
    def rounding_hz(self) -> float: ...


class Wire(ABC):
    """One analyzer on its wire: obeys one command after the other, and answers when it is done.

    Time is told, never asked for: `feed` and `take` are given the present. While a command
    is being carried out, what comes in waits.
    """

    def __init__(self, receiver: Receiver, limits: Limits) -> None:
        self.receiver = receiver
        self.limits = limits
        self.inbox = bytearray()
        self.outbox = bytearray()
        self._settings = 0
        self._fed_s = 0.0
        self._free_s = 0.0
        self._pending: tuple[float, Callable[[], bytes]] | None = None

    def feed(self, data: bytes, now_s: float) -> None:
        """Receive bytes from the program."""
        self._work(now_s)
        self.inbox += data
        self._fed_s = now_s
        self._work(now_s)

    def take(self, now_s: float) -> bytes:
        """Return the next piece of what has been answered by now; b"" if there is none."""
        self._work(now_s)
        piece = bytes(self.outbox[:PACKET_BYTES])
        del self.outbox[:PACKET_BYTES]
        return piece

    def due_s(self) -> float | None:
        """When the next bytes appear; None if only a command could make some appear."""
        if self.outbox:
            return self._free_s
        return None if self._pending is None else self._pending[0]

    @abstractmethod
    def obey(self, at_s: float) -> bool:
        """Carry out the next command in the inbox; False if there is no whole one."""

    def answer_at(self, due_s: float, answer: Callable[[], bytes]) -> None:
        """Answer later, with what is known by then; until then obey nothing else."""
        self._pending = (due_s, answer)

    def begin(self, grid_hz: FloatArray, at_s: float) -> Sweeping:
        """Begin to sweep over a new grid."""
        self._settings += 1
        return Sweeping(self._settings, grid_hz, at_s, self.limits.seconds_per_point)

    def clamped_grid_hz(self, start_hz: float, stop_hz: float, points: int) -> FloatArray:
        """The frequencies the analyzer really takes when asked for these: without a word."""
        limits = self.limits
        points = min(max(points, 2), limits.points)
        start_hz = min(max(start_hz, limits.low_hz), limits.high_hz)
        stop_hz = min(max(stop_hz, limits.low_hz), limits.high_hz)
        grid = np.linspace(start_hz, stop_hz, points)
        return np.rint(grid / limits.rounding_hz) * limits.rounding_hz

    def _work(self, now_s: float) -> None:
        while True:
            if self._pending is not None:
                due_s, answer = self._pending
                if due_s > now_s:
                    return
                self._pending, self._free_s = None, due_s
                self.outbox += answer()
            elif not self.obey(max(self._fed_s, self._free_s)):
                return


class Sweeper:
    """Readings of an analyzer that sweeps by itself: the newest sweep that nobody has read yet.

    Right after a new setting the finished sweep is still the one before it, and it is given
    out once more (a leftover); after that, whoever asks waits for the sweep in progress.
    """

    def __init__(self, receiver: Receiver, sweeping: Sweeping, *, leftovers: bool) -> None:
        self._receiver = receiver
        self._leftovers = leftovers
        self._leftover: ComplexArray | None = None
        self._read = 0
        self.sweeping = sweeping

    def set(self, sweeping: Sweeping, at_s: float) -> None:
        """Go over to a new setting."""
        finished = self.sweeping.finished_by(at_s)
        if self._leftovers and finished:
            self._leftover = self._receiver.read(self.sweeping, finished - 1)
        self.sweeping = sweeping
        self._read = 0

    def next_s(self, at_s: float) -> float:
        """When a sweep that has not been read is there."""
        if self._leftover is not None or self.sweeping.finished_by(at_s) > self._read:
            return at_s
        return self.sweeping.ends_s(self._read)

    def take(self, at_s: float) -> ComplexArray:
        """Read out that sweep, shape (points,)."""
        if self._leftover is not None:
            leftover, self._leftover = self._leftover, None
            return leftover
        self._read = self.sweeping.finished_by(at_s)
        return self._receiver.read(self.sweeping, self._read - 1)
