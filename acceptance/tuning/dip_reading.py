"""A dip as it is read off: its depth, its -10 dB bandwidth, its loaded Q.

Loaded Q: the share that an antenna absorbs around one resonance is (1 - |G0|^2) / (1 + x^2) with
x = Q_loaded (f/f0 - f0/f), so half of what is absorbed at f0 is absorbed at two frequencies
f0 / Q_loaded apart [derived; exact for a series or parallel RLC]. Where the sweep ends before that,
the widest level that both sides reach serves as well: two frequencies of equal absorption lie
f0 x / Q_loaded apart, with x^2 = share at f0 / share there - 1 [derived]. It is what source and
antenna have together: a matched antenna's own Q is twice that (`acceptance.tuning.dips`).

The -10 dB bandwidth is the unbroken range around the dip where no more than a tenth of the power
comes back, by straight lines in |G| between the points: common practice in antenna data sheets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acceptance.limits.match import one_return_loss_db
from acceptance.tuning.dips import STRETCH_GAP_FACTOR, Dip
from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.interval import Interval

TENTH_OF_THE_POWER = 10**-0.5
"""|G| where the return loss is 10 dB."""
LEAST_DETUNING = 0.4
"""x at the level that a Q is taken from: nearer to the bottom its width says little."""


@dataclass(frozen=True, slots=True)
class DipReading:
    """What is read off one dip."""

    frequency_hz: float
    depth_db: float | None
    """Return loss at the bottom, dB; None where that lies beyond the trust floor."""
    proven_db: float | None
    """What is proven of the depth then."""
    low_hz: float | None
    high_hz: float | None
    """Where the return loss is 10 dB on either side; None where the dip is shallower."""
    cut_below: bool
    cut_above: bool
    """True where the sweep ends before that: the range reaches at least so far."""
    loaded_q: float | None
    """None where too little of the dip is within the sweep."""
    half_in_sight: bool
    """True where half of the absorbed power is reached on both sides."""

    @property
    def bandwidth_hz(self) -> float | None:
        """Width of the -10 dB range, Hz; at least so much where it is cut."""
        if self.low_hz is None or self.high_hz is None:
            return None
        return self.high_hz - self.low_hz

    @property
    def depth_words(self) -> str:
        """As "17.4 dB", or "better than 24.1 dB"."""
        if self.depth_db is None:
            return f"better than {self.proven_db or 0.0:.1f} dB"
        return f"{self.depth_db:.1f} dB"

    @property
    def bandwidth_words(self) -> str:
        """As "34.2 MHz (821.4 to 855.6)"; says where the sweep ends first, or the dip is too
        shallow."""
        if self.low_hz is None or self.high_hz is None:
            return "none: the dip is shallower than 10 dB"
        least = "at least " if self.cut_below or self.cut_above else ""
        wide = (self.high_hz - self.low_hz) / 1e6
        return f"{least}{wide:.1f} MHz ({self.low_hz / 1e6:.1f} to {self.high_hz / 1e6:.1f})"

    @property
    def q_words(self) -> str:
        """As "26"; says why where it is not known."""
        if self.loaded_q is None:
            return "not known: the sweep ends too near"
        number = f"{self.loaded_q:.1f}" if self.loaded_q < 10 else f"{self.loaded_q:.0f}"
        return number if self.half_in_sight else f"about {number}, from the part in sight"


def read_dip(
    dip: Dip,
    frequency_hz: FloatArray,
    reflection: ComplexArray,
    uncertainty: Interval | None = None,
) -> DipReading:
    """Read a dip off the corrected sweep it was found in.

    frequency_hz, reflection : shape (points,); what is not finite was not measured. uncertainty :
    on the same grid; None where it is not known.
    """
    f, size = _stretch_around(dip.frequency_hz, frequency_hz, np.abs(reflection))
    depth_db: float | None = dip.return_loss_db
    proven_db = None
    if uncertainty is not None:
        floor, upward = (
            float(np.interp(dip.frequency_hz, uncertainty.frequency_hz, part))
            for part in (uncertainty.floor, uncertainty.upward)
        )
        if dip.reflection <= floor:
            depth_db = None
            proven_db = one_return_loss_db(max(dip.reflection + upward, floor))
    low_hz = high_hz = None
    cut_below = cut_above = False
    if dip.reflection <= TENTH_OF_THE_POWER and f.size:
        low_hz, cut_below = _edge(f, size, dip, TENTH_OF_THE_POWER, below=True)
        high_hz, cut_above = _edge(f, size, dip, TENTH_OF_THE_POWER, below=False)
    loaded_q, half_in_sight = (None, False) if dip.beyond else _loaded_q(f, size, dip)
    return DipReading(
        dip.frequency_hz,
        depth_db,
        proven_db,
        low_hz,
        high_hz,
        cut_below,
        cut_above,
        loaded_q,
        half_in_sight,
    )


def _loaded_q(f: FloatArray, size: FloatArray, dip: Dip) -> tuple[float | None, bool]:
    """Loaded Q by the widest level that both sides reach, at most half of what is absorbed at the
    bottom; and whether that is reached."""
    bottom = 1 - dip.reflection**2
    sides = (size[f < dip.frequency_hz], size[f > dip.frequency_hz])
    if bottom <= 0 or not all(each.size for each in sides):
        return None, False
    least = max(float(1 - each.max() ** 2) for each in sides)
    share = max(least + 1e-9, bottom / 2)
    x = np.sqrt(max(bottom / share - 1, 0.0))
    if x < LEAST_DETUNING:
        return None, False
    level = float(np.sqrt(1 - share))
    low_hz, cut_below = _edge(f, size, dip, level, below=True)
    high_hz, cut_above = _edge(f, size, dip, level, below=False)
    if cut_below or cut_above or high_hz <= low_hz:
        return None, False
    return float(dip.frequency_hz * x / (high_hz - low_hz)), least <= bottom / 2


def _stretch_around(
    at_hz: float, frequency_hz: FloatArray, size: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The points that were swept in one go around a frequency."""
    known = np.isfinite(size)
    f, kept = frequency_hz[known], size[known]
    steps = np.diff(f)
    near = np.maximum(np.r_[0.0, steps[:-1]], np.r_[steps[1:], 0.0])
    for part in np.split(np.arange(f.size), np.flatnonzero(steps > STRETCH_GAP_FACTOR * near) + 1):
        if part.size and f[part[0]] <= at_hz <= f[part[-1]]:
            return f[part], kept[part]
    return f[:0], kept[:0]


def _edge(
    f: FloatArray, size: FloatArray, dip: Dip, level: float, *, below: bool
) -> tuple[float, bool]:
    """Where |G| first rises to the level on one side of a dip; and whether the sweep ends first."""
    side = f < dip.frequency_hz if below else f > dip.frequency_hz
    along, values = f[side], size[side]
    if below:
        along, values = along[::-1], values[::-1]
    above = np.flatnonzero(values > level)
    if not above.size:
        return (float(along[-1]) if along.size else dip.frequency_hz), True
    at = int(above[0])
    before_hz, before = (
        (dip.frequency_hz, dip.reflection)
        if at == 0
        else (float(along[at - 1]), float(values[at - 1]))
    )
    share = (level - before) / (float(values[at]) - before)
    return before_hz + share * (float(along[at]) - before_hz), False
