"""A unit on a quiet port, and a hand that types."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer


@dataclass
class Knob:
    """A port whose reflection the test turns, remembered with the time it was turned."""

    turned: list[tuple[float, complex]] = field(default_factory=lambda: [(-np.inf, 0.5 + 0.1j)])

    def turn(self, value: complex, at_s: float) -> None:
        self.turned.append((at_s, value))

    def port_reflection(self, frequency_hz: FloatArray, at_s: FloatArray) -> ComplexArray:
        times = np.array([since_s for since_s, _ in self.turned])
        values = np.array([value for _, value in self.turned], dtype=np.complex128)
        return values[np.searchsorted(times, at_s, side="right") - 1]


class Typist:
    """Types to a unit at a time of the test's choosing, and reads what it answers."""

    def __init__(self, character: str, **options: Any) -> None:
        self.knob = Knob()
        self.analyzer = VirtualAnalyzer(self.knob, character, **{"noise": 0.0, **options})
        self.now_s = 1000.0  # long after power-up

    def type(self, data: bytes) -> bytes:
        """Send, and return what is answered at that very moment."""
        self.analyzer.feed(data, self.now_s)
        return self.hear()

    def hear(self, after_s: float = 0.0) -> bytes:
        """Let time pass, and return all that has been answered by then."""
        self.now_s += after_s
        heard = b""
        while piece := self.analyzer.take(self.now_s):
            heard += piece
        return heard

    def truth(self, grid_hz: FloatArray, value: complex | None = None) -> ComplexArray:
        """What the receiver reads of a reflection without noise, by its error terms."""
        errors = self.analyzer.receiver.errors(grid_hz)
        seen = self.knob.turned[-1][1] if value is None else value
        reading: ComplexArray = errors.directivity + errors.reflection_tracking * seen / (
            1.0 - errors.source_match * seen
        )
        return reading


@pytest.fixture
def typist() -> Callable[..., Typist]:
    return Typist
