"""Means over the neighbours of every point."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def mean_between(
    values: NDArray[Any], first: NDArray[np.intp], last: NDArray[np.intp]
) -> NDArray[Any]:
    """Mean of the values from each index up to, and without, another: shape of the indices.

    values : shape (points,), finite. first, last : 0 to points, first below last.
    """
    total = np.concatenate([[0], np.cumsum(values)])
    result: NDArray[Any] = (total[last] - total[first]) / (last - first)
    return result


def largest_mean(frequency_hz: NDArray[Any], values: NDArray[Any], share: float = 0.1) -> float:
    """The largest mean over a window of that share of the frequency to either side of any point.

    frequency_hz : rising, shape (points,). values : shape (points,), finite.
    """
    first = np.searchsorted(frequency_hz, frequency_hz * (1 - share))
    last = np.searchsorted(frequency_hz, frequency_hz * (1 + share), side="right")
    return float(mean_between(values, first, last).max())
