"""How far a corrected reflection can be trusted: its interval, point by point.

The true |reflection| lies in the interval with about 95 %, under what the budget states. Along the
direction of the reading the contributions add as `error_sum.half_width_95` says, one of known
direction with what it has along that direction; since they grow with the reflection itself, each
end is worked out half way between reading and end, which is right to second order. A reading no
larger than the trust floor says nothing of how small the reflection is: its interval begins at 0,
and only "better than" is proven. Nothing is proven better than the floor: beside a reading of next
to nothing the error has no direction, and the radius that holds 95 % of it is larger than the half
width that does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.budget import Budget, Contribution, Law
from calibration.uncertainty.error_sum import half_width_95, radius_95


@dataclass(frozen=True, slots=True, eq=False)
class Interval:
    """Where the true |reflection| lies, at every point, about 95 %; linear."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    reflection: FloatArray
    """|reflection| as read, shape (points,)."""
    low: FloatArray
    """Shape (points,), 0 where the reading does not exceed the floor."""
    high: FloatArray
    """Shape (points,): what is proven not to be exceeded; never below the floor."""
    floor: FloatArray
    """The uncertainty at zero reflection, shape (points,): what reads smaller is not proven."""
    budget: Budget | None = None
    """What it was worked out from; None where only its ends are known."""

    @property
    def upward(self) -> FloatArray:
        """How much larger than read the reflection may be, linear."""
        return self.high - self.reflection

    @property
    def downward(self) -> FloatArray:
        """How much smaller than read the reflection may be, linear."""
        return self.reflection - self.low

    @property
    def return_loss_db(self) -> tuple[FloatArray, FloatArray]:
        """Least and greatest return loss the truth may have, dB; infinite where it may be 0.

        Never below 0: an antenna is passive, and reflects no more than it gets.
        """
        with np.errstate(divide="ignore"):
            least, greatest = (-20 * np.log10(each) for each in (self.high, self.low))
        return np.maximum(least, 0.0), np.maximum(greatest, 0.0)

    @property
    def vswr(self) -> tuple[FloatArray, FloatArray]:
        """Least and greatest VSWR the truth may have; infinite where all may come back."""
        least = (1 + self.low) / np.maximum(1 - self.low, 0.0)
        with np.errstate(divide="ignore"):
            return least, (1 + self.high) / np.maximum(1 - self.high, 0.0)

    @property
    def beyond_floor(self) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """True where a reading is all uncertainty: it gets no number of its own."""
        return self.reflection <= self.floor


def interval(budget: Budget, reflection: ComplexArray) -> Interval:
    """Work out the interval of a corrected reading on the budget's grid.

    reflection : complex, shape (points,), at the connector; not finite stays not finite.
    """
    sized = [each for each in budget.contributions if not each.across]
    stacked = _Stacked(sized, budget.frequency_hz.size)
    size = np.abs(reflection)
    with np.errstate(invalid="ignore", divide="ignore"):
        direction = np.where(size > 0, reflection / size, 1.0)
        first = stacked.half_width(reflection, direction)
        up = stacked.half_width(reflection + direction * first / 2, direction)
        down = stacked.half_width(reflection - direction * first / 2, direction)
        floor = stacked.floor()
        low = np.where(size > floor, np.maximum(size - down, 0.0), np.where(size >= 0, 0.0, size))
        high = np.where(size >= 0, np.maximum(size + up, floor), size)
    return Interval(budget.frequency_hz, size, low, high, floor, budget)


@dataclass(frozen=True, slots=True, eq=False)
class Residuals:
    """What a calibration leaves of the three error terms, about 95 %, linear, each (points,).

    A corrected reading of G is off by at most about directivity + tracking |G| +
    source_match |G|^2, and by less where one cause is in several of them.
    """

    directivity: FloatArray
    tracking: FloatArray
    source_match: FloatArray


def residuals(budget: Budget) -> Residuals:
    """Add up what all contributions do to each error term by itself."""
    none = np.zeros((1, budget.frequency_hz.size))
    found = []
    for term in range(3):
        sizes = [np.abs(each.coefficients[term]) for each in budget.contributions if each.bounded]
        sigma = np.sqrt(
            np.square(
                [abs(each.coefficients[term]) for each in budget.contributions if not each.bounded]
                or none
            ).sum(axis=0)
        )
        found.append(radius_95(np.array(sizes) if sizes else none, sigma))
    return Residuals(*found)


def radius(budget: Budget, reflection: ComplexArray) -> FloatArray:
    """How far the complex truth may lie from a corrected reading, about 95 %, shape (points,).

    reflection : complex, shape (points,), at the connector. The random part counts 2.45 times,
    as a complex difference needs, and not 1.96 times [derived: sqrt(-2 ln 0.05)]. In any direction
    an error of known direction reaches as far as one of unknown phase, and is taken as such.
    """
    bounds = [each.size(reflection) for each in budget.contributions if each.bounded]
    random = [each.size(reflection) for each in budget.contributions if not each.bounded]
    none = np.zeros((1, budget.frequency_hz.size))
    sigma: FloatArray = np.sqrt(np.square(random or none).sum(axis=0))
    return radius_95(np.array(bounds) if bounds else none, sigma)


class _Stacked:
    """All coefficients of a budget in three arrays, to be evaluated at once."""

    def __init__(self, contributions: Sequence[Contribution], points: int) -> None:
        def of(law: Law) -> ComplexArray:
            found = [each.coefficients for each in contributions if each.law == law]
            return np.array(found) if found else np.zeros((0, 3, points), dtype=np.complex128)

        self._any_phase = of("bounded, phase unknown")
        self._known = of("bounded, direction known")
        self._random = of("normal, complex")

    def half_width(self, reflection: ComplexArray, direction: ComplexArray) -> FloatArray:
        """95 % half-width along one direction at these reflections, shape (points,)."""
        bounds = np.sqrt(_squares(_at(self._any_phase, reflection)))
        if len(self._known):
            along = _at(self._known, reflection) * direction.conj()
            bounds = np.concatenate([bounds, np.abs(along.real)])
        return half_width_95(bounds, self._sigma(_at(self._random, reflection)))

    def floor(self) -> FloatArray:
        """95 % radius at zero reflection, shape (points,)."""
        bounds = np.abs(np.concatenate([self._any_phase[:, 0], self._known[:, 0]]))
        if not len(bounds):
            bounds = np.zeros((1, bounds.shape[1]))
        return radius_95(bounds, self._sigma(self._random[:, 0]))

    @staticmethod
    def _sigma(values: ComplexArray) -> FloatArray:
        total: FloatArray = np.sqrt(_squares(values).sum(axis=0))
        return total


def _squares(values: ComplexArray) -> FloatArray:
    """|values| squared; numpy's own size of a complex number takes three times as long."""
    squares: FloatArray = values.real**2
    squares += values.imag**2
    return squares


def _at(coefficients: ComplexArray, reflection: ComplexArray) -> ComplexArray:
    """e0 + e1 G + e2 G^2, in one array: making more of them takes as long as the sums."""
    values: ComplexArray = coefficients[:, 2] * reflection
    values += coefficients[:, 1]
    values *= reflection
    values += coefficients[:, 0]
    return values
