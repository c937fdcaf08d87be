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
