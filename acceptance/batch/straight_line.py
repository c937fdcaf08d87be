"""A straight line through points, how far it can be trusted, and where on it a target lies.

    y = mean_y + slope (x - mean_x),   s^2 = sum of squared residuals / (n - 2)

One further point at x lies within t s sqrt(1 + 1/n + (x - mean_x)^2 / Sxx) of the line, the line
itself within t s sqrt(1/n + (x - mean_x)^2 / Sxx), with t of n - 2 degrees of freedom. Where y is
wanted, x follows by the same relations read backwards (Fieller): a quadratic whose two roots are
the ends, as long as the slope is not zero within its own uncertainty. Source: Draper and Smith,
Applied Regression Analysis, 3rd ed. (1998), 1.3, 1.4 and 3.2 [memory].
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from acquire.sweep import FloatArray

CONFIDENCE = 0.95
LEAST_POINTS = 3
"""With two the line is exact and nothing is known of how far it holds."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line by least squares."""

    count: int
    mean_x: float
    mean_y: float
    slope: float
    scatter: float
    """Standard deviation of the points about the line, n - 2 degrees of freedom; in y's unit."""
    sxx: float
    """Sum of squares of x about its mean."""
    low_x: float
    high_x: float
    """Ends of what it was fitted to."""

    def at(self, x: float) -> float:
        """The line's y."""
        return self.mean_y + self.slope * (x - self.mean_x)

    def slope_interval(self, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Where the slope may truly lie."""
        half = self._t(confidence) * self.scatter / math.sqrt(self.sxx)
        return self.slope - half, self.slope + half

    def is_sloped(self, confidence: float = CONFIDENCE) -> bool:
        """True where the slope's interval does not hold zero."""
        low, high = self.slope_interval(confidence)
        return low > 0 or high < 0

    def next_within(self, x: float, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Where one further point at x will lie."""
        half = self._t(confidence) * self._spread(x, 1.0)
        return self.at(x) - half, self.at(x) + half

    def line_within(self, x: float, confidence: float = CONFIDENCE) -> tuple[float, float]:
        """Where the line itself may truly lie at x."""
        half = self._t(confidence) * self._spread(x, 0.0)
        return self.at(x) - half, self.at(x) + half

    def x_for(self, y: float) -> float:
        """Where the line comes to y."""
        return self.mean_x + (y - self.mean_y) / self.slope

    def x_within(
        self, y: float, confidence: float = CONFIDENCE, *, of_one: bool = False
    ) -> tuple[float, float] | None:
        """Between which x the line comes to y; None where not even the slope's sign is sure.

        of_one : for one further point instead of the line: at these x it may come to y.
        """
        k = self._t(confidence) * self.scatter
        off = y - self.mean_y
        a = self.slope**2 - k**2 / self.sxx
        if a <= 0:
            return None
        b = self.slope * off
        c = off**2 - k**2 * (1 / self.count + (1.0 if of_one else 0.0))
        root = math.sqrt(max(b**2 - a * c, 0.0))
        ends = sorted((self.mean_x + (b - root) / a, self.mean_x + (b + root) / a))
        return ends[0], ends[1]

    def _spread(self, x: float, of_one: float) -> float:
        """Standard deviation at x, of the line, or with 1 of one further point."""
        away = (x - self.mean_x) ** 2 / self.sxx
        return self.scatter * math.sqrt(of_one + 1 / self.count + away)

    def _t(self, confidence: float) -> float:
        # Slow to import, and of all there is only a batch needs it.
        from scipy.special import stdtrit  # type: ignore[import-untyped]  # noqa: PLC0415

        return float(stdtrit(self.count - 2, (1 + confidence) / 2))


def fit(x: Sequence[float] | FloatArray, y: Sequence[float] | FloatArray) -> Line | None:
    """Lay a line through points by least squares.

    x, y : shape (points,), finite. None for fewer than LEAST_POINTS, and where all x are one.
    """
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if xs.size < LEAST_POINTS:
        return None
    mean_x, mean_y = float(xs.mean()), float(ys.mean())
    sxx = float(np.sum((xs - mean_x) ** 2))
    if sxx <= (1e-9 * max(1.0, abs(mean_x))) ** 2:
        return None
    # Slow to import, and of all there is only a batch needs it.
    from scipy.stats import linregress  # type: ignore[import-untyped]  # noqa: PLC0415

    found: Any = linregress(xs, ys)
    slope = float(found.slope)
    # Its standard error comes from 1 - r^2, which loses digits where the points lie close.
    residuals = ys - mean_y - slope * (xs - mean_x)
    scatter = float(np.sqrt(np.sum(residuals**2) / (xs.size - 2)))
    return Line(xs.size, mean_x, mean_y, slope, scatter, sxx, float(xs.min()), float(xs.max()))
