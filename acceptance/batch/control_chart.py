"""The control chart of single values: what is the process, and what is out of the ordinary.

With one value an antenna there are no groups to take a spread from, so it is taken from what
changes from one antenna to the next: the mean moving range MR, divided by d2 for groups of two, is
the standard deviation, and three of those on either side of the mean are the limits:

    limits = mean +/- 3 MR / 1.128 = mean +/- 2.66 MR;   a moving range is at most 3.267 MR

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals charts) and its table
of d2, D4 for n = 2; Montgomery, Introduction to Statistical Quality Control, appendix VI [memory].
The rules for runs are those of the Western Electric Handbook (1956) and of 6.3.2 there [memory].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acceptance.batch.straight_line import Line, fit
from acquire.sweep import FloatArray

RANGE_OF_TWO_MEAN = 1.128
"""Mean range of two values of a normal law, in standard deviations: 2 / sqrt(pi)."""
RANGE_OF_TWO_LARGEST = 3.267
"""Largest ordinary range of two, in mean ranges."""
LIMIT_SIGMAS = 3.0
LEAST_VALUES = 8
"""With fewer the limits are a guess; they are told, and said to be one [practice]."""
LEAST_DRAWN = 5
"""With fewer than four changes from one to the next no limits are worth drawing [practice]."""
RUN_LENGTH = 8
"""So many in a row on one side of the mean are no chance."""
CLIMB_LENGTH = 6
"""Nor are so many in a row each above, or each below, the one before."""
SLOPE_CONFIDENCE = 0.99
ROUNDING_SHARE = 1e-12
"""Differences below this part of the largest value are the arithmetic's."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Values in a row that are no chance together."""

    first: int
    last: int
    """Numbers of the first and last value, counted from 0."""
    upward: bool
    """True where they lie above the mean, or rise."""


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Values in the order they came about, and what is ordinary among them."""

    values: tuple[float, ...]
    mean: float
    sd: float | None
    """Standard deviation of all values; None for fewer than two."""
    low: float | None
    high: float | None
    """The limits; None for fewer than two values."""
    moving_range: float | None
    """Mean of the changes from one value to the next, without sign."""
    outliers: tuple[int, ...]
    """Numbers of the values beyond the limits."""
    jumps: tuple[int, ...]
    """Numbers of the values that changed more against the one before than is ordinary."""
    runs: tuple[Stretch, ...]
    """RUN or more in a row on one side of the mean."""
    climbs: tuple[Stretch, ...]
    """CLIMB or more in a row that rise, or fall."""
    slope: Line | None
    """The line through all of them by their numbers, where it surely is not level."""

    @property
    def provisional(self) -> bool:
        """True where too few values are there for limits to rely on."""
        return len(self.values) < LEAST_VALUES

    @property
    def ordinary(self) -> bool:
        """True where nothing is out of the ordinary."""
        return not (self.outliers or self.jumps or self.runs or self.climbs or self.slope)


def control_chart(values: Sequence[float]) -> ControlChart:
    """Chart single values in the order they came about; at least one, all finite.

    Raises ValueError for none, and for what is not finite.
    """
    x = np.asarray(values, dtype=np.float64)
    if x.size == 0 or not np.isfinite(x).all():
        raise ValueError("A control chart needs values, all of them finite.")
    mean = float(x.mean())
    figures = tuple(map(float, x))
    if x.size < 2:
        return ControlChart(figures, mean, None, None, None, None, (), (), (), (), None)
    slack = ROUNDING_SHARE * float(np.abs(x).max())
    steps, off = _rounded(np.diff(x), slack), _rounded(x - mean, slack)
    ranges = np.abs(steps)
    moving = float(ranges.mean())
    low, high = (
        mean - LIMIT_SIGMAS * moving / RANGE_OF_TWO_MEAN,
        mean + LIMIT_SIGMAS * moving / RANGE_OF_TWO_MEAN,
    )
    return ControlChart(
        figures,
        mean,
        float(x.std(ddof=1)),
        low,
        high,
        moving,
        tuple(int(n) for n in np.flatnonzero(np.abs(off) > high - mean + slack)),
        tuple(int(n) + 1 for n in np.flatnonzero(ranges > RANGE_OF_TWO_LARGEST * moving + slack)),
        tuple(each for each in _stretches(np.sign(off), 0) if _count(each) >= RUN_LENGTH),
        tuple(each for each in _stretches(np.sign(steps), 1) if _count(each) >= CLIMB_LENGTH),
        _slope(x),
    )


def _rounded(x: FloatArray, slack: float) -> FloatArray:
    """What is no more than a rounding counts as nothing."""
    return np.where(np.abs(x) <= slack, 0.0, x)


def _count(stretch: Stretch) -> int:
    return stretch.last - stretch.first + 1


def _stretches(signs: FloatArray, widened: int) -> list[Stretch]:
    """Stretches of one sign, as long as they go; widened : so many more values at their ends."""
    found: list[Stretch] = []
    begin = 0
    for n in range(1, signs.size + 1):
        if n < signs.size and signs[n] == signs[begin]:
            continue
        if signs[begin] != 0:
            found.append(Stretch(begin, n - 1 + widened, bool(signs[begin] > 0)))
        begin = n
    return found


def _slope(x: FloatArray) -> Line | None:
    line = fit(np.arange(x.size, dtype=np.float64), x) if x.size >= LEAST_VALUES else None
    return line if line is not None and line.is_sloped(SLOPE_CONFIDENCE) else None
