"""Where a frequency and a reflection lie in a picture: the axes of strips and overview.

Uplink and downlink may lie far apart: then a strip shows two stretches with a break between them,
so that neither is squeezed to a line. A good match is a dip in every metric.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from acceptance.bands.band_table import Span
from acceptance.limits.match import return_loss_db, vswr
from acceptance.pictures.svg_drawing import Point
from acquire.sweep import FloatArray

LEAST_MARGIN_HZ = 6e6
"""A dip on its way into a band is seen before it arrives."""
LINK_MARGIN = 0.25
"""Of the widest link, on either side."""
NOT_SWEPT_HZ, NOT_SWEPT_STEPS = 30e6, 4.0
"""Points further apart than both (the second in steps such as most are) are not joined by a line:
nothing was swept there."""
LEAST_STEP = 0.15
"""Points closer together along a picture than this, in points, are drawn as one upright line."""


@dataclass(frozen=True, slots=True, eq=False)
class Metric:
    """What a reflection is shown as."""

    label: str
    top: float
    """The value at the upper edge."""
    bottom: float
    ticks: tuple[float, ...]
    of: Callable[[FloatArray], FloatArray]
    """From |reflection|."""


METRICS = {
    "loss": Metric("Return loss, dB", 0.0, 36.0, (0.0, 10.0, 20.0, 30.0), return_loss_db),
    "vswr": Metric("VSWR", 5.0, 1.0, (5.0, 4.0, 3.0, 2.0, 1.0), vswr),
}


@dataclass(frozen=True, slots=True, eq=False)
class Upright:
    """The upright axis: a metric between two edges of a picture."""

    metric: Metric
    top: float
    bottom: float

    def value(self, value: float) -> float:
        """Where a value lies; beyond the scale, on its edge."""
        return float(self._places(np.array([value]))[0])

    def size(self, reflection: float) -> float:
        """Where a |reflection| lies."""
        return float(self.sizes(np.array([reflection]))[0])

    def sizes(self, reflection: FloatArray) -> FloatArray:
        """Where each |reflection| lies; nan where it was not measured."""
        with np.errstate(invalid="ignore"):
            return self._places(self.metric.of(reflection))

    def _places(self, values: FloatArray) -> FloatArray:
        along = (values - self.metric.top) / (self.metric.bottom - self.metric.top)
        placed: FloatArray = self.top + np.clip(along, 0.0, 1.0) * (self.bottom - self.top)
        return placed


class Ranged(Protocol):
    """What has a range of frequencies."""

    @property
    def low_hz(self) -> float:
        """Where it begins."""
        ...

    @property
    def high_hz(self) -> float:
        """Where it ends."""
        ...


@dataclass(frozen=True, slots=True)
class Stretch:
    """One unbroken piece of the frequency axis."""

    low_hz: float
    high_hz: float
    left: float
    right: float

    def x(self, frequency_hz: float) -> float:
        """Where a frequency lies."""
        part = (frequency_hz - self.low_hz) / (self.high_hz - self.low_hz)
        return self.left + part * (self.right - self.left)

    def holds(self, span: Span) -> bool:
        """True where a range lies in it."""
        return self.low_hz <= span[0] and span[1] <= self.high_hz

    def cut(self, band: Ranged) -> Span | None:
        """As much of a band as lies in it; None where none does."""
        low, high = max(band.low_hz, self.low_hz), min(band.high_hz, self.high_hz)
        return (low, high) if high >= low else None

    def pieces(self, frequency_hz: FloatArray, y: FloatArray) -> list[list[Point]]:
        """A curve within it from edge to edge, in pieces where it was not measured.

        y : where each point lies, shape (points,), nan where it was not measured.
        """
        f, placed = _from_edge_to_edge(frequency_hz, y, (self.low_hz, self.high_hz))
        if f.size == 0:
            return []
        x = self.left + (f - self.low_hz) / (self.high_hz - self.low_hz) * (self.right - self.left)
        apart = breaks(f, placed)
        cut = zip(np.split(x, apart), np.split(placed, apart), strict=True)
        return [_thinned(each_x, each_y) for each_x, each_y in cut if np.isfinite(each_y).all()]


def breaks(frequency_hz: FloatArray, value: FloatArray) -> NDArray[np.intp]:
    """Where a line is to be broken: before each point that was not swept on from the last.

    value : real, shape (points,), nan where it was not measured.
    """
    known = np.isfinite(value)
    steps = np.diff(frequency_hz)
    far = steps > max(NOT_SWEPT_HZ, NOT_SWEPT_STEPS * _usual(steps))
    return np.flatnonzero(far | ~known[:-1] | ~known[1:]) + 1


def swept_spans(frequency_hz: FloatArray, within: Span | None = None) -> list[Span]:
    """What was swept without a break, as far as it lies within a range; the whole where nothing
    does.

    frequency_hz : increasing, shape (points,).
    """
    apart = breaks(frequency_hz, np.zeros(frequency_hz.size))
    parts = [each for each in np.split(frequency_hz, apart) if each.size > 1]
    low, high = within or (-np.inf, np.inf)
    found = [(max(float(each[0]), low), min(float(each[-1]), high)) for each in parts]
    whole = [(float(frequency_hz[0]), float(frequency_hz[-1]))]
    return [(start, end) for start, end in found if end > start] or whole


def stretches(spans: Sequence[Span]) -> list[Span]:
    """What a strip shows of the frequency axis: its links with a margin, near ones together."""
    widest = max(high - low for low, high in spans)
    total = sum(high - low for low, high in spans)
    margin = max(LINK_MARGIN * widest, LEAST_MARGIN_HZ)
    joined: list[list[float]] = []
    for low, high in sorted(spans):
        if joined and low - joined[-1][1] < max(total, 2 * margin):
            joined[-1][1] = max(joined[-1][1], high)
        else:
            joined.append([low, high])
    return [(low - margin, high + margin) for low, high in joined]


def placed(spans: Sequence[Span], left: float, right: float, gap: float) -> list[Stretch]:
    """Lay stretches side by side, each as wide as it spans frequencies."""
    whole = sum(high - low for low, high in spans)
    room = right - left - gap * (len(spans) - 1)
    found, x = [], left
    for low, high in spans:
        width = room * (high - low) / whole
        found.append(Stretch(low, high, x, x + width))
        x += width + gap
    return found


def round_ticks(low: float, high: float, most: int) -> list[float]:
    """At most so many round values between two: steps of 1, 2 or 5 times a power of ten."""
    least = (high - low) / max(most, 1)
    power = 10.0 ** np.floor(np.log10(least))
    step = next(power * each for each in (1, 2, 5, 10) if power * each >= least * (1 - 1e-9))
    first = int(np.ceil(low / step - 1e-9))
    last = int(np.floor(high / step + 1e-9))
    return [step * each for each in range(first, last + 1)]


def _from_edge_to_edge(
    frequency_hz: FloatArray, y: FloatArray, span: Span
) -> tuple[FloatArray, FloatArray]:
    low, high = span
    first, last = np.searchsorted(frequency_hz, [low, high])
    f, values = frequency_hz[first:last], y[first:last]
    if 0 < first < frequency_hz.size and (f.size == 0 or f[0] > low):
        f = np.concatenate([[low], f])
        values = np.concatenate([[_between(frequency_hz, y, int(first), low)], values])
    if 0 < last < frequency_hz.size:
        f = np.concatenate([f, [high]])
        values = np.concatenate([values, [_between(frequency_hz, y, int(last), high)]])
    return f, values


def _between(frequency_hz: FloatArray, y: FloatArray, after: int, at: float) -> float:
    before = after - 1
    part = (at - frequency_hz[before]) / (frequency_hz[after] - frequency_hz[before])
    return float(y[before] + part * (y[after] - y[before]))


def _thinned(x: FloatArray, y: FloatArray) -> list[Point]:
    """The same line with fewer points: of those that lie in one place, the highest and lowest."""
    if x.size < 3 or (x[-1] - x[0]) / x.size > LEAST_STEP:
        return list(zip(x.tolist(), y.tolist(), strict=True))
    column = np.floor((x - x[0]) / LEAST_STEP).astype(np.intp)
    kept = []
    for part in np.split(np.arange(x.size), np.flatnonzero(np.diff(column)) + 1):
        kept += sorted({int(part[np.argmin(y[part])]), int(part[np.argmax(y[part])])})
    kept = sorted({0, x.size - 1, *kept})
    return list(zip(x[kept].tolist(), y[kept].tolist(), strict=True))


def _usual(steps: FloatArray) -> float:
    return float(np.median(steps)) if steps.size else 0.0
