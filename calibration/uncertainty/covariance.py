"""The uncertainty of complex values, and of what follows from one reading or from two.

Whatever is linear in the errors, a mean over a band or a dip's place, is a sum over the causes; a
cause that is one for all the points, or for both of two readings, goes into it once, with its
phases as they are there. So what two readings under one calibration have in common is gone from
their difference.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.budget import Budget, Contribution
from calibration.uncertainty.error_sum import half_width_95

LEAST_POINTS = 5
SMALLEST_SIZE = 1e-12
SMALLEST_CURVATURE = 1e-24
"""1 / Hz^2: a curve that does not turn has no minimum of its own."""


def covariance(budget: Budget, reflection: ComplexArray) -> FloatArray:
    """Covariance of real and imaginary part at every point, linear, shape (points, 2, 2).

    reflection : complex, shape (points,), on the budget's grid. A phasor of unknown phase and
    bound a has a^2 / 2 in either part; one of known direction a / sqrt(2) along it, and nothing
    across; a random one its variance [derived].
    """
    found = np.zeros((reflection.size, 2, 2))
    for each in budget.contributions:
        value = each.at(reflection)
        if each.direction_known:
            parts = np.stack([value.real, value.imag], axis=1)
            found += parts[:, :, None] * parts[:, None, :] / 2
        else:
            own = np.abs(value) ** 2 / (2 if each.bounded else 1)
            found += own[:, None, None] * np.eye(2)
    return found


@dataclass(frozen=True, slots=True, eq=False)
class WeighedReading:
    """A quantity that hangs on a reading: its change is the real part of the sum over the points
    of the reading's error times a weight."""

    budget: Budget
    reflection: ComplexArray
    """Shape (points,), on the budget's grid."""
    weight: ComplexArray
    """Change of the quantity for an error of 1, shape (points,); 0 where it does not hang on it."""


def uncertainty_of(quantity: WeighedReading) -> float:
    """How far a quantity may be off, about 95 %, in its unit."""
    return _half_width(_effects(quantity).values())


def uncertainty_of_difference(one: WeighedReading, other: WeighedReading) -> float:
    """How far a quantity's change from one reading to another may be off, about 95 %.

    Both are on one grid and were corrected by one calibration. What it has wrong is the same in
    both, and only what it does differently to them is left; connecting the antenna, the cable,
    drift and the reading's own noise are another with every reading, and count for either.
    Raises ValueError for readings on different grids.
    """
    if not np.array_equal(one.budget.frequency_hz, other.budget.frequency_hz):
        raise ValueError("Two readings are held against each other on one grid of frequencies.")
    before, after = _effects(one), _effects(other)
    left: list[_Effect] = []
    for key in dict.fromkeys([*before, *after]):
        pair = [each[key] for each in (before, after) if key in each]
        if len(pair) == 1 or pair[0].cause.anew:
            left += pair
        else:
            left.append(_Effect(pair[1].cause, pair[1].at_points - pair[0].at_points))
    return _half_width(left)


@dataclass(frozen=True, slots=True, eq=False)
class _Effect:
    """What one cause does to a quantity through each point."""

    cause: Contribution
    at_points: ComplexArray


def _effects(quantity: WeighedReading) -> dict[tuple[str, int], _Effect]:
    """By name, and number where several have one."""
    found: dict[tuple[str, int], _Effect] = {}
    for each in quantity.budget.contributions:
        number = sum(name == each.name for name, _ in found)
        at_points = np.where(quantity.weight == 0, 0, each.at(quantity.reflection))
        found[each.name, number] = _Effect(each, at_points * quantity.weight)
    return found


def _half_width(effects: Iterable[_Effect]) -> float:
    bounds, variance = [0.0], 0.0
    for each in effects:
        if each.cause.by_point:
            variance += float(np.square(np.abs(each.at_points)).sum())
            continue
        whole = complex(each.at_points.sum())
        if each.cause.direction_known:
            bounds.append(abs(whole.real))
        elif each.cause.bounded:
            bounds.append(abs(whole))
        else:
            variance += abs(whole) ** 2
    return float(half_width_95(np.array(bounds)[:, None], np.sqrt([variance]))[0])


def of_size(budget: Budget, reflection: ComplexArray, at: int) -> WeighedReading:
    """How |reflection| at one point hangs on the reading: d|G| = Re(conj(G) dG) / |G|.

    reflection : shape (points,), on the budget's grid.
    """
    weight = np.zeros(reflection.size, dtype=np.complex128)
    weight[at] = reflection[at].conj() / max(float(np.abs(reflection[at])), SMALLEST_SIZE)
    return WeighedReading(budget, reflection, weight)


def of_average_power(
    budget: Budget, reflection: ComplexArray, inside: slice
) -> tuple[float, WeighedReading]:
    """Mean of |reflection|^2 over some points, weighed by the width each stands for, and how it
    hangs on them: d|G|^2 = 2 Re(conj(G) dG) [derived].

    reflection : shape (points,), on the budget's grid. inside : which points; two or more.
    """
    weight = np.zeros(reflection.size)
    weight[inside] = np.gradient(budget.frequency_hz[inside])
    weight[inside.start] /= 2
    weight[inside.stop - 1] /= 2
    weight /= weight.sum()
    mean = float(np.sum(np.where(weight > 0, weight * np.abs(reflection) ** 2, 0.0)))
    change = np.where(weight > 0, 2 * weight * reflection.conj(), 0)
    return mean, WeighedReading(budget, reflection, np.asarray(change, dtype=np.complex128))


def of_minimum(
    budget: Budget, reflection: ComplexArray, at_hz: float, within_hz: float
) -> WeighedReading:
    """How the place of a minimum of |reflection|, Hz, hangs on the reading there.

    By least squares |G|^2 = a + b x + c x^2 around it, x = f - at_hz, and so the place moves by
    -db / (2 c) where |G|^2 changes by 2 Re(conj(G) dG) [derived].
    reflection : shape (points,), on the budget's grid. at_hz : in the grid. within_hz : how far on
    either side the curve is taken; never fewer than five points.
    """
    f = budget.frequency_hz
    near = np.flatnonzero(np.abs(f - at_hz) <= within_hz)
    if near.size < LEAST_POINTS:
        near = np.sort(np.argsort(np.abs(f - at_hz))[:LEAST_POINTS])
    scale = max(float(np.abs(f[near] - at_hz).max()), 1.0)
    fitting = np.linalg.pinv(np.vander((f[near] - at_hz) / scale, 3, increasing=True))
    _, slope, bend = fitting * scale ** -np.arange(3.0)[:, None]
    curvature = max(float(bend @ np.abs(reflection[near]) ** 2), SMALLEST_CURVATURE)
    weight = np.zeros(f.size, dtype=np.complex128)
    weight[near] = -slope * reflection[near].conj() / curvature
    return WeighedReading(budget, reflection, weight)
