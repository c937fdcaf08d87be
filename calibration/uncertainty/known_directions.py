"""What a known device proves of errors whose direction is known: the planes of open and short.

Each is x times a known complex number c at the device's reflection, x real and within 1. Seen
together with all else of their group they add up to no more than B, so that for two of them

    |x1 c1 + x2 c2| <= B' = B + all else   =>   |x1| <= B' |c2| / |Im(c1 c2*)|

[derived: the part of c1 that is across c2 is there whatever x2 is], and for any number of them
|x1| |c1| <= B' + the others at their bound. Each device gives this at every frequency by itself,
and the least counts: one of them is enough. The direction stays known, where a ring in its place
would turn a shift of phase into one of size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.budget import Contribution

SMALLEST_SIZE = 1e-300


def proven_along(
    members: Sequence[Contribution], reflection: ComplexArray, proven: FloatArray, words: str
) -> tuple[Contribution, ...]:
    """The members of a group, those of known direction made as small as is proven.

    reflection : what the devices reflect as read, shape (devices, points). proven : most that the
        group may add to each reading, linear, same shape; nan where a device proves nothing.
    words : which devices they are.
    """
    known = [each for each in members if each.direction_known]
    if not known:
        return tuple(members)
    others = sum(
        (each.size(reflection) for each in members if not each.direction_known),
        start=np.zeros(reflection.shape),
    )
    most = np.nan_to_num(proven + others, nan=np.inf)
    made: dict[int, Contribution] = {}
    for each in known:
        beside = [one.at(reflection) for one in known if one is not each]
        own = each.at(reflection)
        factor = np.minimum(_at_most(own, beside, most).min(axis=0), 1.0)
        if (factor < 1).any():
            made[id(each)] = replace(
                each,
                origin="measured",
                words=f"at most {factor.max():.0%} of what was assumed, proven by the {words}",
                coefficients=factor * each.coefficients,
            )
    return tuple(made.get(id(each), each) for each in members)


def _at_most(own: ComplexArray, beside: Sequence[ComplexArray], most: FloatArray) -> FloatArray:
    """Bound of |x| of one of them, shape (devices, points)."""
    size = np.maximum(np.abs(own), SMALLEST_SIZE)
    bound: FloatArray = (most + sum(np.abs(each) for each in beside)) / size
    if len(beside) == 1:
        across = np.abs(np.imag(own * beside[0].conj())) / np.maximum(
            np.abs(beside[0]), SMALLEST_SIZE
        )
        bound = np.minimum(bound, most / np.maximum(across, SMALLEST_SIZE))
    return bound
