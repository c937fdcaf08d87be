"""What an analyzer can sweep: how far, how many points a pass, and where it switches range."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from acquire.coverage.spans import span_words

LEAST_RANGE_HZ = 10e3
"""Range steps lie no closer: far below anything an antenna does."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What an analyzer can sweep."""

    low_hz: float
    high_hz: float
    points: int
    """Most points a pass."""
    range_steps_hz: tuple[float, ...] = ()
    """Where the analyzer switches range, so that its errors are not continuous."""
    fewest_points: int = 2
    """Fewest points a pass; equal to `points` for an analyzer that knows no other number."""

    def __post_init__(self) -> None:
        if not 0 <= self.low_hz < self.high_hz < math.inf:
            raise ValueError("An analyzer's limits run upwards from 0 Hz or more.")
        if not 2 <= self.fewest_points <= self.points:
            raise ValueError(
                "An analyzer sweeps at least 2 points a pass, and no fewer than it must."
            )
        ends = (self.low_hz, *self.range_steps_hz, self.high_hz)
        if any(after - before < LEAST_RANGE_HZ for before, after in itertools.pairwise(ends)):
            raise ValueError(
                "An analyzer's range steps rise and lie within its limits, 10 kHz or more apart."
            )

    @property
    def words(self) -> str:
        """As "0.05 to 900 MHz"."""
        return span_words((self.low_hz, self.high_hz))
