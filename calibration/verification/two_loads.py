"""Two loads held against each other: the one calibrated with, and another one measured back.

Each reflects at most what is stated of it, of unknown phase, and often just so much: two rings, of
radius a and b. Their difference exceeds sqrt(a^2 + b^2) for half of all phases though both are as
stated [derived], so U_lab and U_device are not put together as two normal laws are. Resistors are
off one way or the other, so that half of such pairs differ by a + b to the full.

**The sweep is decided as a whole.** What the loads may add lies in a disc of radius a + b and all
else that is bounded, at every frequency. What is random beside that is nearly all the making of the
connectors: one complex value m for the sweep, times a size that is known at each frequency. So one
question is asked: how small an m explains every part of the sweep?

    T = min |m|  so that  |d_i - m S_i| <= R_i  in every part i

d_i is the difference, R_i the disc, S_i the standard deviation of a component. The pair disagrees
where T exceeds `ORDINARY`. It is the likelihood ratio of "as stated" against "anything" [derived],
and it looks by itself where the making is smallest against the loads.

**Too good.** The load calibrated with, measured back as another one, differs by the connector's
repeatability, by noise and by drift alone. So small a difference all over the sweep is asked about.

**What it can tell.** By the same law it is worked out in how many of all phases a load 6 dB worse
than stated would be found; with two loads of one quality that are few, and it is said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.budget import Budget, Contribution
from calibration.uncertainty.error_sum import RADIAL_95
from calibration.uncertainty.interval import radius

ORDINARY = 2.0
"""Standard deviations of a component. 1 of 44 makings exceed it to one side [table], and so do that
many honest pairs of which the bounds oppose each other to the full. Where the difference turns from
direction to direction over the sweep more do; all such pairs are few."""
WORSE_BY = 2.0
"""What a load 6 dB worse than stated reflects more."""
FOUND_SHARE = 0.9
"""A comparison that finds such a load in a smaller share of phases is said not to tell."""
PARTS = 10
"""Into so many parts the sweep is cut, and looked at once more between two of them. More leave too
few points of a coarse sweep in each for the noise."""
FAR = 2.0
"""One point so many times beyond the law is no chance."""
SAME_BY_CHANCE = 1 / 3
"""Where two honest loads differ by as little in a larger share of phases, nothing is asked."""
SMALL_ROOM = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.75)
MORE_ROOM = (0.6, 0.39, 0.24, 0.15, 0.09, 0.05, 0.0)
"""By R / S: what is added to it, so that a making in a direction of its own beside loads at their
bound stays within in 19 of 20 [run: noncentral chi-square law of two degrees of freedom, and 0.15
for loads that turn]."""
SMALLEST, ROUNDING = 1e-12, 1e-9
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

    def agree(self, read: ComplexArray) -> bool:
        """True where what the second load reads, shape (points,), is the difference of two loads as
        stated; False where a point was not measured."""
        if not np.isfinite(read).all():
            return False
        if float((np.abs(read) / self.law).max()) > FAR:
            return False
        parts = self._parts()
        means = np.array([read[part].mean() for part in parts])
        sizes = np.array([_rms(np.abs(read[part])) for part in parts])
        # the mean tells the direction; where the reading turns within a part it loses size
        middles: ComplexArray = (sizes / self._spread(parts)).astype(complex)
        middles *= np.exp(1j * np.angle(means))
        return smallest_within(middles, self._room(parts)) <= ORDINARY

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
        """Share of the phases, and of what is random beside, in which the sweep disagrees.

        The phases stay over the sweep: then T exceeds `ORDINARY` where m along the difference
        exceeds what the part with the least room leaves.
        """
        parts = self._parts()
        sizes = np.array([_rms(apart[:, part]) for part in parts])
        beyond = sizes / self._spread(parts)[:, None] - self._room(parts)[:, None]
        found = [0.5 * math.erfc((ORDINARY - each) / math.sqrt(2)) for each in beyond.max(axis=0)]
        return float(np.mean(found))

    def _parts(self) -> list[slice]:
        """The parts of the sweep, each with half of the one before."""
        points = self.law.size
        wide = max(points // PARTS, 1)
        return [slice(at, at + wide) for at in range(0, points - wide + 1, max(wide // 2, 1))]

    def _spread(self, parts: list[slice]) -> FloatArray:
        """S of each part, shape (parts,)."""
        return np.array([max(float(self.sigma[part].mean()), SMALLEST) for part in parts])

    def _room(self, parts: list[slice]) -> FloatArray:
        """R / S of each part, shape (parts,), and `MORE_ROOM`."""
        bounded = self.first + self.second + self.others
        room = np.array([bounded[part].mean() for part in parts]) / self._spread(parts)
        result: FloatArray = room + np.interp(room, SMALL_ROOM, MORE_ROOM)
        return result


def smallest_within(middles: ComplexArray, radii: FloatArray) -> float:
    """Size of the smallest complex number that lies in every disc; infinite where none does.

    middles, radii : shape (discs,). The smallest one is 0, the nearest point of one disc, or a
    crossing of two circles [derived: the discs are convex].
    """
    away = np.abs(middles)
    nearest = middles * np.maximum(1 - radii / np.maximum(away, SMALLEST), 0)
    first, second = np.triu_indices(middles.size, 1)
    between = middles[second] - middles[first]
    apart = np.maximum(np.abs(between), SMALLEST)
    along = (apart**2 + radii[first] ** 2 - radii[second] ** 2) / (2 * apart)
    square = radii[first] ** 2 - along**2
    crossing = square >= 0
    across = 1j * np.sqrt(np.maximum(square, 0))
    turned = between / apart
    crossings = [
        (middles[first] + (along + side * across) * turned)[crossing] for side in (1.0, -1.0)
    ]
    candidates = np.concatenate([[0j], nearest, *crossings])
    inside = np.abs(candidates[:, None] - middles) <= radii * (1 + ROUNDING) + ROUNDING
    possible = np.abs(candidates[inside.all(axis=1)])
    return float(possible.min()) if possible.size else math.inf


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
