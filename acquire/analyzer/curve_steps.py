"""Where the numbers of a reply step, more than they do all around.

What a cable and an antenna reflect bends from point to point about as much as beside it; where two
pieces of a reply meet that do not belong together, it steps.
"""

from __future__ import annotations

import numpy as np

from acquire.sweep import FloatArray

LEAST_STEP = 1e-3
"""Linear, -60 dB: as little as `acquire.analyzer.outliers` doubts."""
STEP_FACTOR = 8.0
"""How many times higher than half of all around it a step is, at least."""
MOST_STEPS = 24
"""So many are looked at, the highest first."""


def bend(values: FloatArray) -> FloatArray:
    """How far each step from one point to the next is from those beside it, shape (..., points);
    that to point k stands at k."""
    rise = np.diff(values)
    off = np.zeros(values.shape)
    off[..., 2:-1] = rise[..., 1:-1] - (rise[..., :-2] + rise[..., 2:]) / 2.0
    off[..., 1], off[..., -1] = rise[..., 0] - rise[..., 1], rise[..., -1] - rise[..., -2]
    return np.abs(off)


def least_step(bends: FloatArray) -> float:
    """How high a step is at least, in a reply that bends so."""
    return max(LEAST_STEP, STEP_FACTOR * float(np.median(bends)))


def steps(bends: FloatArray, least: float) -> list[int]:
    """Where the curve steps by more than that, and more than right beside it; in order."""
    padded = np.concatenate(([0.0], bends, [0.0]))
    highest = (bends >= padded[:-2]) & (bends >= padded[2:]) & (bends > least)
    at = np.flatnonzero(highest)
    return sorted(at[np.argsort(-bends[at])][:MOST_STEPS].tolist())
