"""Tracking's phase carried back to 0 Hz: the one place where exchanged open and short show."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from acquire.coverage.spans import Span
from acquire.sweep import ComplexArray, FloatArray
from calibration.error_terms.interpolation import points_by_span

PLAUSIBLE_FACTOR = 2.0
"""A delay that misses by less than so many times the best one is as likely."""
LEAST_DELAY_S = -2e-10
"""A phase that rises with frequency comes from receivers whose sign is not known either."""
UNSEEN_RIPPLE = 3e-4
"""Ripple that a narrow span may hide, as half its mean square: 1.4 degrees rms."""


def phases_at_zero_hz(
    frequency_hz: FloatArray, tracking: ComplexArray, spans: Sequence[Span]
) -> tuple[float, ...]:
    """Phase of tracking carried back to 0 Hz, degrees, likeliest first; empty if untold.

    Tracking is taken as a delay: phase = origin - 2 pi f delay. The delay is read off inside
    the spans and then sharpened over all of them, by the sum of the unit vectors turned back by
    it, which is longest at the right delay. Gaps between spans and ripple leave several delays
    possible: all that fit nearly as well as the best are returned. Where the phase rises with
    frequency the reading is a bare ratio of receivers, one path longer than the other, and its
    sign says nothing (so it is with the measured coaxial set of the tests), or the points lie
    too far apart to follow it: nothing is returned. [derived]
    """
    inside = [points for points in points_by_span(frequency_hz, spans) if points.size >= 3]
    size = np.abs(tracking)
    if not inside or not (size > 0).all():
        return ()
    moment = turn = 0.0
    for points in inside:
        away = frequency_hz[points] - frequency_hz[points].mean()
        phase = np.unwrap(np.angle(tracking[points]))
        moment += float(away @ away)
        turn += float(away @ phase)
    every = np.concatenate(inside)
    f, phasor = frequency_hz[every], tracking[every] / size[every]
    width = float(np.sqrt(12 * moment / every.size))
    fine = int(np.ceil(min(36 * f.max() / width, 2000.0)))  # 10 degrees at 0 Hz a step
    delays = -turn / moment / (2 * np.pi) + np.linspace(-1, 1, 2 * fine + 1) / width
    mean_phasors = _turned_back(f, phasor, delays)
    miss = 1 - np.abs(mean_phasors)
    if delays[np.argmin(miss)] < LEAST_DELAY_S:
        return ()
    plausible = miss <= PLAUSIBLE_FACTOR * miss.min() + UNSEEN_RIPPLE
    order = np.argsort(miss[plausible])
    return tuple(np.degrees(np.angle(mean_phasors[plausible][order])).tolist())


def _turned_back(f: FloatArray, phasor: ComplexArray, delays: FloatArray) -> ComplexArray:
    """The mean of the unit vectors turned back by each of many delays that are evenly spaced.

    A delay is a coarse one and a fine one: two small tables of turns and one product of matrices
    in place of a turn for each point and delay.
    """
    side = math.isqrt(delays.size - 1) + 1
    coarse = np.exp(2j * np.pi * np.outer(delays[::side], f)) * phasor
    fine = np.exp(2j * np.pi * np.outer(f, delays[:side] - delays[0]))
    means: ComplexArray = (coarse @ fine).ravel()[: delays.size] / f.size
    return means
