"""A virtual analyzer that stalls, resets, forgets its setting, or does not measure a point."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from replay.faults.fault_kinds import IN_THE_ANALYZER, IN_THE_SETTING, Fault, FaultQueue, Kind
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer

BOOTS_S = 0.5
"""How long an analyzer that reset itself takes nothing in and says nothing."""


class FaultyAnalyzer:
    """An analyzer as `VirtualAnalyzer`, but for what the trouble says; time is told to it just
    so."""

    def __init__(
        self, make: Callable[[float], VirtualAnalyzer], fault_queue: FaultQueue, banner: bytes = b""
    ) -> None:
        """make : an analyzer switched on at that time. banner : what it says once it has
        started."""
        self._make = make
        self._fault_queue = fault_queue
        self._banner = banner
        self._analyzer = make(0.0)
        self._silent_until_s = 0.0
        self._booting = False
        self._odd_until_s = 0.0
        self._outgoing = bytearray()

    def feed(self, data: bytes, now_s: float) -> None:
        """Receive bytes from the program; what comes while it starts is lost."""
        self._wake(now_s)
        if self._booting:
            return
        met = self._fault_queue.meets("setting", IN_THE_SETTING, len(data))
        if met is not None:
            self._turn_odd(met[0], now_s)
        self._analyzer.feed(data, now_s)

    def take(self, now_s: float) -> bytes:
        """Return the next piece of what it has answered by now; b"" if there is none."""
        self._wake(now_s)
        if now_s < self._silent_until_s:
            return b""
        if self._outgoing:
            transmitted = bytes(self._outgoing)
            self._outgoing.clear()
            return transmitted
        piece = self._analyzer.take(now_s)
        met = self._fault_queue.meets("analyzer", IN_THE_ANALYZER, len(piece)) if piece else None
        if met is None:
            return piece
        fault, at = met
        self._silent_until_s = now_s + fault.lasts_s
        if fault.kind is Kind.RESET:
            self._restart(now_s, now_s + fault.lasts_s + BOOTS_S)
        else:
            self._outgoing += piece[at:]
        self._fault_queue.note(fault, now_s, self._silent_until_s)
        return piece[:at]

    def due_s(self) -> float | None:
        """When its next bytes appear; None if only a command could make some appear."""
        if self._outgoing or self._booting:
            return self._silent_until_s
        due_s = self._analyzer.due_s()
        return None if due_s is None else max(due_s, self._silent_until_s)

    def power_cycle(self, now_s: float) -> None:
        """Switch it off and on again."""
        self._restart(now_s, now_s)
        self._outgoing.clear()

    def _restart(self, now_s: float, ready_s: float) -> None:
        self._analyzer = self._make(now_s)
        self._odd_until_s = 0.0
        self._silent_until_s = ready_s
        self._booting = True

    def _wake(self, now_s: float) -> None:
        """Come to one's senses, once it is time."""
        if self._booting and now_s >= self._silent_until_s:
            self._booting = False
            self._outgoing += self._banner
        if self._odd_until_s and now_s >= self._odd_until_s:
            self._turn_right()

    def _turn_right(self) -> None:
        self._odd_until_s = 0.0
        self._analyzer.limits = self._analyzer.description
        self._analyzer.receiver.dead = frozenset()

    def _turn_odd(self, fault: Fault, now_s: float) -> None:
        """In one way at a time."""
        self._turn_right()
        rng, described = fault.rng(), self._analyzer.description
        match fault.kind:
            case Kind.POINTS:
                self._analyzer.limits = replace(described, points=int(rng.integers(2, 30)))
            case Kind.DIGITS:
                rounding_hz = float(rng.choice([3, 10, 100, 1000]))
                self._analyzer.limits = replace(described, rounding_hz=rounding_hz)
            case _:
                dead = rng.integers(0, described.points // 10 + 2, size=fault.size)
                self._analyzer.receiver.dead = frozenset(int(each) for each in dead)
        self._odd_until_s = now_s + fault.lasts_s
        self._fault_queue.note(fault, now_s, self._odd_until_s)
