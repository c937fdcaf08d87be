"""A check piece: something of a known return loss near the limit, kept for one sweep each morning.

5 dB of pad with an open reads 10 dB, two loads on a tee, 25 ohm, read 9.54 dB [derived], and any
piece that is kept for nothing else reads what it read the first time. Standards say how good the
calibration is where they are, at 0 dB and far down; a check piece says it where verdicts are made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import numpy as np
from pydantic import TypeAdapter

from acquire.sweep import FloatArray, Sweep
from calibration.uncertainty.interval import Interval

MOST_POINTS = 41
"""So many points of a reading are kept."""
DEFAULT_TOLERANCE_DB = 0.3
"""How far the return loss of a piece may be off where nobody states it: two pads of .15 dB
[practice]."""
SHARE_INSIDE = 0.95
LEAST_SHARED_POINTS = 3


@dataclass(frozen=True, slots=True)
class PieceReading:
    """One sweep of a check piece, corrected."""

    piece: str
    taken_at: datetime
    """Carries its time zone."""
    calibration: str
    """When the calibration that corrected it was made."""
    analyzer: str
    frequency_hz: tuple[float, ...]
    """At most `MOST_POINTS`, rising."""
    reflection: tuple[float, ...]
    """Size of the reflection there, linear."""
    half_width: tuple[float, ...]
    """How far each may be off, about 95 %, linear."""
    stated_db: float | None = None
    """Return loss stated of the piece, dB; None: its own first reading is what it should read."""
    tolerance_db: float = DEFAULT_TOLERANCE_DB
    holds: bool = True
    """False where it reads what it should not."""
    words: str = ""
    """What it shows, a sentence or two."""

    def __post_init__(self) -> None:
        if self.taken_at.tzinfo is None:
            raise ValueError("The time of a check piece's reading must carry its time zone.")
        if not (0 < len(self.frequency_hz) == len(self.reflection) == len(self.half_width)):
            raise ValueError("A check piece's reading needs a size and its width at every point.")
        sizes = np.array([*self.frequency_hz, *self.reflection, *self.half_width])
        if not np.isfinite(sizes).all() or (sizes < 0).any():
            raise ValueError("A check piece's reading holds a number that is none.")

    @property
    def mean_db(self) -> float:
        """Return loss of the mean power reflected, dB: what is charted."""
        power = float(np.mean(np.square(self.reflection)))
        return -10 * float(np.log10(max(power, 1e-12)))

    def as_json(self) -> dict[str, Any]:
        """What is kept of it."""
        return {**asdict(self), "taken_at": self.taken_at.isoformat()}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> PieceReading:
        """Make it again. Raises ValueError where it is none."""
        made: PieceReading = _READER.validate_python(kept)
        return made


_READER = TypeAdapter(PieceReading)


def piece_reading(
    piece: str,
    corrected: Sweep,
    uncertainty: Interval,
    calibration: str,
    *,
    stated_db: float | None = None,
    tolerance_db: float = DEFAULT_TOLERANCE_DB,
) -> PieceReading:
    """Take a corrected sweep of the piece down to what is kept of it; not judged yet."""
    known = np.flatnonzero(
        np.isfinite(corrected.reflection) & np.isfinite(uncertainty.high - uncertainty.low)
    )
    if not known.size:
        raise ValueError("No point of the sweep was measured. Check cable and analyzer.")
    few = known[np.unique(np.linspace(0, known.size - 1, MOST_POINTS).round().astype(int))]
    widths = np.maximum(uncertainty.upward, uncertainty.downward)[few]
    return PieceReading(
        piece,
        corrected.taken_at,
        calibration,
        corrected.source.analyzer,
        tuple(map(float, corrected.frequency_hz[few])),
        tuple(map(float, np.abs(corrected.reflection[few]))),
        tuple(map(float, widths)),
        stated_db,
        tolerance_db,
    )


@dataclass(frozen=True, slots=True)
class PieceDifference:
    """A reading held against what the piece should read."""

    agrees: bool
    at_hz: float
    """Where it differs most, against what is allowed."""
    read_db: float
    wanted_db: float
    least_db: float
    most_db: float
    """Between these it may read there."""


def piece_difference(reading: PieceReading, first: PieceReading | None) -> PieceDifference | None:
    """How far a reading is off what is stated of the piece, or off its first reading.

    first : the piece's oldest reading; None where there is none. Returns None where there is
    nothing to hold it against: the first reading of a piece of which nothing is stated.
    """
    f, size = np.array(reading.frequency_hz), np.array(reading.reflection)
    width = np.array(reading.half_width)
    if reading.stated_db is not None:
        wanted = np.full(f.size, 10 ** (-reading.stated_db / 20))
        own = wanted * (10 ** (reading.tolerance_db / 20) - 1)
    elif first is not None:
        inside = (f >= first.frequency_hz[0]) & (f <= first.frequency_hz[-1])
        if np.count_nonzero(inside) < LEAST_SHARED_POINTS:
            return None
        f, size, width = f[inside], size[inside], width[inside]
        wanted = np.interp(f, first.frequency_hz, first.reflection)
        own = np.interp(f, first.frequency_hz, first.half_width)
    else:
        return None
    allowed: FloatArray = np.hypot(width, own)
    off = np.abs(size - wanted) / np.maximum(allowed, 1e-9)
    at = int(np.argmax(off))
    return PieceDifference(
        float(np.mean(off <= 1)) >= SHARE_INSIDE,
        float(f[at]),
        _db(size[at]),
        _db(wanted[at]),
        _db(wanted[at] + allowed[at]),
        _db(wanted[at] - allowed[at]),
    )


def _db(size: float) -> float:
    return -20 * float(np.log10(max(size, 1e-6)))
