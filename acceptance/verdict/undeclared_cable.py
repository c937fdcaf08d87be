"""A cable that nobody said lies between: a delay that all of a reading shares.

What is behind a cable turns in phase by 2 pi f times twice its delay, everywhere alike. An antenna
turns fast at its dips and hardly beside them. So each part of a dozen points is asked for its own
delay, the phase of

    sum of G[i+1] conj(G[i]),    which weighs each point by its power,

and a cable is told where most parts tell the same. [run: of 400 random antennas of one to three
resonances, Q 4 to 40, none; the cables of a published set of measurements, both.]
"""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import ComplexArray, FloatArray
from calibration.error_terms.interpolation import stretches
from calibration.plane.loss import M_PER_S

PART_POINTS, MOST_PARTS_ASKED = 12, 48
"""Points that are asked together, at least; and parts, about at most."""
LEAST_PARTS = 4
COHERENT_SHARE = 0.9
"""A part whose points do not turn alike tells no delay: noise, or a null."""
ALIKE_SHARE = 0.25
MOST_PARTS = 0.6
"""So many of the parts tell the same delay, within so much of it."""
LEAST_DELAY_S = 2e-9
"""One way: 0.4 m. What is shorter loses little, and an antenna's own feed may be so long."""
USUAL_VELOCITY = 0.69
"""PTFE's, for a length where nobody said of what [practice]."""


def usual_length_m(delay_s: float) -> float:
    """Length of a usual cable of that delay, one way, m."""
    return delay_s * M_PER_S * USUAL_VELOCITY


def cable_between(frequency_hz: FloatArray, reflection: ComplexArray) -> float:
    """Delay of a cable that the whole of a reading is behind, one way, s; 0 where none shows.

    frequency_hz, reflection : shape (points,), corrected; what is not finite was not measured.
    """
    points = max(PART_POINTS, frequency_hz.size // MOST_PARTS_ASKED)
    edges = np.array(
        [
            (first, last)
            for part in stretches(frequency_hz)
            for first, last in itertools.pairwise(
                [*range(part.start, part.stop, points), part.stop - 1]
            )
            if last - first >= PART_POINTS // 2
        ],
        dtype=np.intp,
    ).reshape(-1, 2)
    if len(edges) < LEAST_PARTS:
        return 0.0
    first, last = edges.T
    step_hz = (frequency_hz[last] - frequency_hz[first]) / (last - first)
    with np.errstate(invalid="ignore", divide="ignore"):
        turned = reflection[1:] * reflection[:-1].conj()
        total, power = (_part_sums(each, edges) for each in (turned, np.abs(turned)))
        coherent = np.abs(total) > COHERENT_SHARE * power
        delay = -np.angle(total) / (4 * np.pi * step_hz)
    coherent_delay = delay[coherent]
    if coherent_delay.size < LEAST_PARTS:
        return 0.0
    middle = float(np.median(coherent_delay))
    alike = np.abs(coherent_delay - middle) <= ALIKE_SHARE * abs(middle)
    return middle if middle >= LEAST_DELAY_S and np.mean(alike) >= MOST_PARTS else 0.0


def _part_sums(values: NDArray[Any], edges: NDArray[np.intp]) -> NDArray[Any]:
    """Sum from each first index up to, and without, each last one, shape (edges,)."""
    # the last edge may lie behind the last value, where reduceat takes no index
    result: NDArray[Any] = np.add.reduceat(np.append(values, 0), edges.ravel())[::2]
    return result
