"""What differs between two readings of the same thing: movement, or noise.

How movement is told from noise. The difference d of two sweeps of the same thing is noise, and
noise at one frequency knows nothing of its neighbour. What moves (a nut still turning, a cable
bent, a hand near) changes neighbouring frequencies alike, but for a steady turn of phase. So the
part of the power that neighbours share,

    movement^2 = |sum of d[i+1] conj(d[i])| / (points - 1),

is movement, and what is left of the mean of |d|^2 is noise. Derived here; checked on noise of
1e-3 and of 1e-6, on drift and on wiggle, in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, Sweep
from calibration.error_terms.interpolation import same_grid

NEGLIGIBLE_CHANGE = 1e-3
"""A change below 60 dB is never called movement: no load at hand is known that well."""
MOST_NOISE = 0.02
"""Scatter above this, 34 dB below full reflection, is a fault and not noise."""
SHARED_BY_CHANCE = 4.0
"""Noise alone shares less than this, over the root of the points, but once in 1e7 [derived]."""
MOST_SHARED_BY_CHANCE = 0.8
"""On a handful of points the rule above says nothing; what moves shares nearly everything."""
JUMP_FACTOR = 10.0
"""A point this many times off the noise was disturbed: a burst, a contact that broke."""


@dataclass(frozen=True, slots=True)
class Change:
    """What differs between two readings of the same thing."""

    movement: float
    """Linear, rms: the part of the difference that neighbouring frequencies share."""
    noise: float
    """Linear, rms: the part of the difference that they do not share."""
    jump: float
    """Linear: the largest difference at any one frequency."""
    movement_limit: float
    """The movement that noise alone, or 60 dB, explains."""

    @property
    def steady(self) -> bool:
        """True where nothing but noise changed."""
        return (
            self.movement <= self.movement_limit
            and self.noise <= MOST_NOISE * np.sqrt(2)
            and self.jump <= max(JUMP_FACTOR * self.noise, 10 * NEGLIGIBLE_CHANGE)
        )

    @property
    def steadiness(self) -> float:
        """From 0 to 1: how much of the movement noise or 60 dB explains."""
        return min(1.0, self.movement_limit / max(self.movement, 1e-12))


def change_between(earlier: ComplexArray, later: ComplexArray) -> Change:
    """Split the difference of two readings, each of shape (points,), into movement and noise."""
    difference = later - earlier
    power = float(np.mean(np.abs(difference) ** 2))
    if difference.size < 2:
        shared = power
    else:
        shared = abs(complex(np.mean(difference[1:] * difference[:-1].conj())))
    chance = power * min(
        SHARED_BY_CHANCE / np.sqrt(max(difference.size - 1, 1)), MOST_SHARED_BY_CHANCE
    )
    return Change(
        movement=float(np.sqrt(shared)),
        noise=float(np.sqrt(max(power - shared, 0.0))),
        jump=float(np.abs(difference).max()),
        movement_limit=float(np.sqrt(max(NEGLIGIBLE_CHANGE**2, chance))),
    )


def continues(last: Sweep, sweep: Sweep) -> bool:
    """True where two sweeps may be averaged: same analyzer, same passes, same frequencies, in
    order."""
    return (
        not sweep.source.differs_from(last.source)
        and last.request == sweep.request
        and sweep.sequence > last.sequence
        and same_grid(last.frequency_hz, sweep.frequency_hz)
    )
