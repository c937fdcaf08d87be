"""Two loads held against each other: the one calibrated with, and another one measured back.

Each reflects at most what is stated of it, of unknown phase, and often just so much: two rings, of
radius a and b. Their difference exceeds sqrt(a^2 + b^2) for half of all phases though both are as
stated [derived], so U_lab and U_device are not put together as two normal laws are. Resistors are
off one way or the other, so that half of such pairs differ by a + b to the full: all bounded parts
are added up, and of the random ones 1.8 standard deviations.

**The sweep is decided as a whole.** Its points share the phases of the loads, the making of the
connectors and the drift, so that one draw decides most of them alike. Where the phases stay, the
root mean square over the sweep of |difference| over that sum is such a draw; where they turn, it is
smaller. A load that is bad in a part of the sweep only, as one with an inductance is, shows there:
each fifth of the sweep is looked at too, against 2.6 standard deviations, since where the phases
turn some fifth sees the worst one.

**Too good.** The load calibrated with, measured back as another one, differs by the connector's
repeatability, by noise and by drift alone. So small a difference all over the sweep is asked about.

**What it can tell.** By the same law it is worked out in how many of all phases a load 6 dB worse
than stated would be found; with two loads of one quality that are few, and it is said.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.budget import Budget, Contribution
from calibration.uncertainty.error_sum import RADIAL_95
from calibration.uncertainty.interval import radius

ORDINARY = 1.8
"""Standard deviations of a component that 1 of 28 exceed to one side [table]: together with the
half of all pairs that reach the bounds, 1 of 56, which leaves room for what is not of this law."""
WORSE_BY = 2.0
"""What a load 6 dB worse than stated reflects more."""
FOUND_SHARE = 0.9
"""A comparison that finds such a load in a smaller share of phases is said not to tell."""
PARTS = 5
"""Into so many parts the sweep is cut, and looked at once more between two of them."""
IN_A_PART = 2.6
"""Standard deviations of a component that a complex normal law exceeds in 1 of 29 in whichever
direction: exp(-2.6^2 / 2) [derived]."""
FAR = 2.0
"""One point so many times beyond the law is no chance."""
SAME_BY_CHANCE = 1 / 3
"""Where two honest loads differ by as little in a larger share of phases, nothing is asked."""
PHASES = 2 * np.pi * (np.arange(180) + 0.5) / 180


@dataclass(frozen=True, slots=True, eq=False)
class TwoLoads:
    """What the difference of two honest loads follows, linear; each of shape (points,)."""

    first: FloatArray
    """Most that the load calibrated with may add to the reading of the other."""
    second: FloatArray
    """Most that the other one may reflect."""
    others: FloatArray
    """All else that is bounded, added up."""
    sigma: FloatArray
    """Standard deviation of a component of all that is random."""
    law: FloatArray
    """What the difference of honest loads seldom exceeds, all of it together."""
    repeats: FloatArray
    """What the difference of one load from itself exceeds in 1 of 20."""

    @classmethod
    def of(cls, budget: Budget, reflection: ComplexArray, second: FloatArray) -> TwoLoads:
        """By a calibration's budget at the reading of the second load, shape (points,)."""
        # the plane of open and short turns a small reading, and leaves its size as it is to first
        # order [derived]; only its size is compared
        kept = [
            each
            for each in budget.contributions
            if each.part != "definition" or each.cause == "the load"
        ]
        load = [each.size(reflection) for each in kept if each.part == "definition"]
        others = [
            each.size(reflection) for each in kept if each.bounded and each.part != "definition"
        ]
        random = [each.size(reflection) for each in kept if not each.bounded]
        none = np.zeros((1, budget.frequency_hz.size))
        first, rest = (np.sum(each or none, axis=0) for each in (load, others))
        sigma = np.sqrt(np.square(random or none).sum(axis=0))
        return cls(
            first,
            second,
            rest,
            sigma,
            rest + np.maximum(first + second + ORDINARY * sigma, RADIAL_95 * sigma),
            radius(budget.without("definition"), reflection),
        )

    def agree(self, difference: FloatArray) -> bool:
        """True where the difference, shape (points,), is one of two loads as stated; False where
        a point was not measured."""
        if not np.isfinite(difference).all():
            return False
        by_law = difference / self.law
        whole, worst_part = float(_rms(by_law)), self._in_parts(difference).max()
        return whole <= 1 and float(worst_part) <= 1 and float(by_law.max()) <= FAR

    def too_alike(self, difference: FloatArray) -> bool:
        """True where the second may be the very load that was calibrated with."""
        known = np.isfinite(difference)
        if not known.any() or float(_rms((difference / self.repeats)[known])) > 1:
            return False
        apart = self._apart(self.first, self.second)
        return float(np.mean(_rms(apart / self.repeats) <= 1)) < SAME_BY_CHANCE

    @property
    def found_share(self) -> tuple[float, float]:
        """Share of all phases in which the first, and the second, is found 6 dB worse, be it in
        one part of the sweep alone."""
        return (
            self._beyond_law(self._apart(WORSE_BY * self.first, self.second)),
            self._beyond_law(self._apart(self.first, WORSE_BY * self.second)),
        )

    @property
    def words(self) -> str:
        """What this pair could have told, in one sentence."""
        first, second = (share >= FOUND_SHARE for share in self.found_share)
        if first and second:
            return "If either load were 6 dB worse than stated, it would have shown."
        if first or second:
            sure, unsure = ("calibrated with", "measured back")[:: 1 if first else -1]
            return (
                f"If the load {sure} were 6 dB worse than stated, it would have shown. Of the "
                f"load {unsure} that cannot be told by this pair."
            )
        return (
            "Whether either load is 6 dB worse than stated cannot be told by this pair. Measure "
            "back a load that is stated at least 6 dB better than the other, with a connector "
            "that repeats well."
        )

    def _apart(self, first: FloatArray, second: FloatArray) -> FloatArray:
        """How far two rings are apart, shape (phases, points)."""
        result: FloatArray = np.abs(first - np.exp(1j * PHASES)[:, None] * second)
        return result

    def _beyond_law(self, apart: FloatArray) -> float:
        """Share of the phases, and of what is random beside, in which the sweep disagrees."""
        spread = max(float(np.mean(self.sigma / self.law)), 1e-12)
        beyond = (self._in_parts(apart) - 1) / spread
        found = 1 / (1 + np.exp(-1.702 * np.clip(beyond, -40, 40)))  # near the normal law
        return float(found.mean(axis=1).min())

    def _in_parts(self, difference: FloatArray) -> FloatArray:
        """Root mean square over its law in each part of the sweep, shape (parts, ...)."""
        law = self.law + (IN_A_PART - ORDINARY) * self.sigma
        points = law.size
        wide = max(points // PARTS, 1)
        begins = range(0, points - wide + 1, max(wide // 2, 1))
        return np.array([_rms((difference / law)[..., at : at + wide]) for at in begins])


def with_bound(budget: Budget, reflection: ComplexArray, bound: FloatArray) -> FloatArray:
    """How far all of a budget at a reading and one more bounded part reach, 95 %, (points,)."""
    coefficients = np.zeros((3, bound.size), dtype=np.complex128)
    coefficients[0] = bound
    one = Contribution("the other load", "stated", "", True, coefficients)
    return radius(replace(budget, contributions=(*budget.contributions, one)), reflection)


def _rms(values: FloatArray) -> FloatArray:
    """Root mean square over the points, the last axis."""
    result: FloatArray = np.sqrt(np.mean(values * values, axis=-1))
    return result
