"""What is on the port where it is no antenna: a load, an open, a short or nothing.

Such a reading gets no pass and no fail on the page: a load passes everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import FloatArray
from dashboard.bench.snapshot import Snapshot

MOST_OF_A_LOAD = 0.05
"""26 dB: what a usual load reflects at most [practice]."""
LEAST_OF_A_SHORT = 0.95
"""0.45 dB: what an open or a short reflects at least, behind a little cable that came since."""
NO_ANTENNA_RATIO = 1.2
"""Highest to lowest frequency: over so much no hand-built antenna is matched so [practice]."""
NO_ANTENNA = "no antenna connected"


@dataclass(frozen=True, slots=True)
class NoAntenna:
    """Something that is no antenna."""

    words: str
    """What it looks like, and what to see to if it is the antenna after all."""


LOAD = NoAntenna(
    "That looks like a load: next to nothing comes back. If it is the antenna, check the cable in "
    "front of it."
)
OPEN_OR_SHORT = NoAntenna(
    "That looks like an open or a short: nearly everything comes back. If it is the antenna, look "
    "for a broken joint or a short at its feed."
)


def what_is_on(now: Snapshot) -> NoAntenna | None:
    """What is on the port, where a wide sweep shows that it is no antenna; else None."""
    size = _wide_sweep(now)
    if size is None:
        return None
    if float(np.nanmax(size, initial=0)) <= MOST_OF_A_LOAD:
        return LOAD
    return OPEN_OR_SHORT if float(np.nanmin(size, initial=1)) >= LEAST_OF_A_SHORT else None


def _wide_sweep(now: Snapshot) -> FloatArray | None:
    """|reflection|, shape (points,), of a sweep over which no hand-built antenna is all alike."""
    if now.corrected is None:
        return None
    f = now.corrected.frequency_hz
    wide = f[-1] >= NO_ANTENNA_RATIO * f[0]
    return np.abs(now.corrected.reflection) if wide else None
