"""What a dimension does to a dip: expected at first, learned from every bend.

Each dimension is taken to move the logarithm of a dip's frequency, and the reflection at its
bottom, in proportion to the millimetres. Before anything was bent, scaling says df/f = -dL/L
[derived: exact only if every dimension scales], give or take as much again, so that the other sign
stays possible; a dimension that scales nothing is expected to do nothing, give or take. Every bend
that is told then corrects what is expected, as a Kalman filter's diagonal does: the surer a move
was seen, the more it counts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from acceptance.plan.recipe import Dimension, Recipe
from acceptance.tuning.dip_tracking import Tracked
from acceptance.tuning.dips import Dip

SCALING_SD = 0.55
"""How unsure scaling is, as a part of itself, one deviation: a factor of two is 1.8 of them."""
COUPLING_SHARE = 0.6
"""What a dimension that is not said to move a dip may do to it, as a part of scaling 100 mm."""
DEPTH_SD = 0.06
"""How much a millimetre may change the reflection at a dip's bottom, one deviation."""
NONLINEAR_SHARE = 0.12
"""Share of a move that the next one may differ by though the bend is the same."""
HAND_ERROR_SHARE = 0.08
"""How far a hand misses what it says it did, as a part of it."""
NEXT_BUILD_FACTOR = 2.0
"""How much less sure what was learned is on the next antenna of the recipe, in deviations."""
TYPICAL_MM = 100.0


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number and how sure it is."""

    mean: float
    sd: float

    def updated(self, cause: float, effect: float, effect_sd: float) -> Estimate:
        """Corrected by one observation effect = self * cause, give or take effect_sd."""
        if cause == 0:
            return self
        variance = self.sd**2
        gain = variance * cause / (cause**2 * variance + effect_sd**2)
        mean = self.mean + gain * (effect - cause * self.mean)
        return Estimate(mean, float(np.sqrt(max((1 - gain * cause) * variance, 0.0))))

    def inflated(self, share: float) -> Estimate:
        """Less sure by a share of itself."""
        return replace(self, sd=float(np.hypot(self.sd, share * abs(self.mean))))


@dataclass(frozen=True, slots=True)
class Effect:
    """What a millimetre of one dimension does to one dip."""

    shift: Estimate
    """d ln(frequency) per mm."""
    depth: Estimate
    """d |reflection at the bottom| per mm."""


Learned = Mapping[tuple[str, int], Effect]
"""By dimension's name and dip's number."""


def expected(dimension: Dimension, dip: int) -> Effect:
    """What is expected before anything was bent."""
    depth = Estimate(0.0, DEPTH_SD)
    length = dimension.length_mm
    if length is not None and dimension.moves in (None, dip):
        return Effect(Estimate(-1 / length, SCALING_SD / length), depth)
    return Effect(Estimate(0.0, COUPLING_SHARE / TYPICAL_MM), depth)


def pairs_of(before: Sequence[Tracked], after: Sequence[Tracked]) -> list[tuple[int, Dip, Dip]]:
    """Every dip that is there before and after: its number, before, after."""
    now = {each.number: each.dip for each in after}
    return [(each.number, each.dip, now[each.number]) for each in before if each.number in now]


class DimensionEffects:
    """What was learned of one recipe's dimensions, for one antenna."""

    def __init__(self, recipe: Recipe, before: Learned | None = None) -> None:
        """before : what earlier antennas of the recipe taught; it counts, less sure."""
        self.recipe = recipe
        self._learned: dict[tuple[str, int], Effect] = {
            key: Effect(
                Estimate(effect.shift.mean, NEXT_BUILD_FACTOR * effect.shift.sd),
                Estimate(effect.depth.mean, NEXT_BUILD_FACTOR * effect.depth.sd),
            )
            for key, effect in (before or {}).items()
        }

    @property
    def learned(self) -> Learned:
        """All that differs from what was expected at first."""
        return dict(self._learned)

    def effect(self, dimension: str, dip: int) -> Effect:
        """What a millimetre of a dimension does to a dip, as far as is known."""
        known = self._learned.get((dimension, dip))
        return expected(self.recipe.find(dimension), dip) if known is None else known

    def has_learned(self, dimension: str) -> bool:
        """True once a bend of it was seen, on this antenna or one before."""
        return any(name == dimension for name, _ in self._learned)

    def learn(self, dimension: str, delta_mm: float, pairs: Sequence[tuple[int, Dip, Dip]]) -> None:
        """Learn from one bend: dips before and after it, by number.

        A dip beyond what was swept teaches nothing.
        Raises RecipeError where the recipe has no such dimension.
        """
        self.recipe.find(dimension)
        for number, before, after in pairs:
            if before.beyond or after.beyond:
                continue  # where it is was not seen, so neither was how far it moved
            effect = self.effect(dimension, number)
            moved = float(np.log(after.frequency_hz / before.frequency_hz))
            unsure = np.hypot(
                before.frequency_sd_hz / before.frequency_hz,
                after.frequency_sd_hz / after.frequency_hz,
            )
            shift_sd = (
                float(np.hypot(unsure, (HAND_ERROR_SHARE + NONLINEAR_SHARE / 2) * abs(moved)))
                + 1e-5
            )
            deeper = after.reflection - before.reflection
            depth_sd = float(np.hypot(0.004, 0.2 * deeper))
            self._learned[dimension, number] = Effect(
                effect.shift.updated(delta_mm, moved, shift_sd).inflated(NONLINEAR_SHARE),
                effect.depth.updated(delta_mm, deeper, depth_sd).inflated(2 * NONLINEAR_SHARE),
            )
