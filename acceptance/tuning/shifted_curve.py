"""The measured curve as advice sees it: what a slide or a deeper dip would do to every band."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from acceptance.plan.acceptance_plan import Target
from acceptance.tuning.dip_tracking import DipTracker, Tracked
from acceptance.tuning.dips import Dip, Ripple, find_dips, ripple_seen
from acceptance.verdict.band_curve import LARGEST_STEP, around
from acceptance.verdict.judged_sweep import JudgedReading
from acquire.sweep import ComplexArray, FloatArray, Sweep

SERVED_WITHIN = 0.35
"""A dip further from a band, in the logarithm of frequency, is not that band's."""
POINTS_A_BAND = 15
DEEPEST_SHORT_DB = 40.0
"""Shortfalls count up to here: a band that far away is far away."""
LARGEST_COUNTED_MARGIN_DB = 2.0
MARGIN_WEIGHT = 0.05
"""A little room to spare counts a little, up to 2 dB."""


@dataclass(frozen=True, eq=False)
class Curve:
    """The reading as advice sees it."""

    frequency_hz: FloatArray
    """Shape (points,), only what was measured."""
    size: FloatArray
    """|G|, shape (points,)."""
    upward: FloatArray
    """How much larger the truth may be: what a pass must keep clear of."""
    targets: tuple[Target, ...]
    """The wanted bands that the reading covers."""
    dips: tuple[Tracked, ...]
    resistance_ohm: Mapping[int, float] = field(default_factory=dict)
    """By the dip's number: the resistance at its bottom, where the plane is the feed's."""
    ripple: Ripple | None = None
    """A cable's minima, where there is no dip beside them."""

    @classmethod
    def of(
        cls,
        frequency_hz: FloatArray,
        reflection: ComplexArray,
        upward: FloatArray,
        targets: Sequence[Target],
        dips: Sequence[Tracked],
        *,
        at_feed: bool = False,
        ripple: Ripple | None = None,
    ) -> Curve:
        """Leave out what was not measured, bands that were not swept included.

        at_feed : the plane is the antenna's feed, so that its resistance can be told.
        """
        known = np.isfinite(reflection) & np.isfinite(upward)
        f, g = frequency_hz[known], reflection[known]
        ohm = {
            each.number: _resistance(f, g, each.dip)
            for each in dips
            if at_feed and not each.dip.beyond
        }
        return cls(
            frequency_hz[known],
            np.abs(reflection[known]),
            upward[known],
            tuple(each for each in targets if _covers(f, each)),
            tuple(dips),
            ohm,
            ripple,
        )

    def dip_of(self, target: Target) -> Tracked | None:
        """The dip that serves a band: the nearest in the logarithm of frequency, if it is near."""
        centre = np.sqrt(target.low_hz * target.high_hz)

        def apart(each: Tracked) -> float:
            return float(abs(np.log(each.dip.frequency_hz / centre)))

        nearest = min(self.dips, key=apart, default=None)
        return None if nearest is None or apart(nearest) > SERVED_WITHIN else nearest

    def served_by(self, dip: Tracked) -> list[Target]:
        """The bands that a dip serves."""
        return [
            each for each in self.targets if (own := self.dip_of(each)) and own.number == dip.number
        ]

    def after(self, target: Target, shift: FloatArray, depth: FloatArray) -> FloatArray:
        """A band's worst margin over its limit, guard counted, were its dip moved so, dB.

        shift : d ln(frequency); depth : change of |G| at the bottom; both of shape (n,).
        """
        f = np.linspace(target.low_hz, target.high_hz, POINTS_A_BAND)
        slid = f * np.exp(-shift)[:, None]
        size = np.interp(slid, self.frequency_hz, self.size)
        guard = np.interp(f, self.frequency_hz, self.upward)
        own = self.dip_of(target)
        bottom = 0.0 if own is None else own.dip.reflection
        moved = _deepened(size, bottom, depth[:, None])
        allowed = np.maximum(target.limit.reflection - guard, 1e-3)
        worst: FloatArray = 20 * np.log10(allowed / np.maximum(moved, 1e-4)).min(axis=1)
        return worst

    def moved(self, dips: Mapping[int, tuple[float, float]]) -> FloatArray:
        """The curve with its dips moved, shape (points, 2): frequency in Hz and |G|.

        dips : by number, d ln(frequency) and the change of |G| at the bottom; what is not named
        stays. A point between two dips goes with both, by how near it is to either. Where what
        would come to a place was not swept, it is not a number.
        """
        f = self.frequency_hz
        if not self.dips:
            return np.stack([f, self.size], axis=1)
        own = sorted(self.dips, key=lambda each: each.dip.frequency_hz)
        at = np.log([each.dip.frequency_hz for each in own])
        steps = np.array([dips.get(each.number, (0.0, 0.0)) for each in own])
        bottoms = np.array([each.dip.reflection for each in own])
        places = np.log(f)
        shift, depth, bottom = (
            np.interp(places, at, values) for values in (steps[:, 0], steps[:, 1], bottoms)
        )
        came_from = f * np.exp(-shift)
        size = np.interp(came_from, f, self.size, left=np.nan, right=np.nan)
        after = np.clip(np.searchsorted(f, came_from), 1, f.size - 1)
        size[f[after] - f[after - 1] > LARGEST_STEP * f[after]] = np.nan
        return np.stack([f, _deepened(size, bottom, depth)], axis=1)

    def uncertainty_at(self, target: Target) -> float:
        """The most by which |G| may be larger than read within a band, linear."""
        f = np.linspace(target.low_hz, target.high_hz, POINTS_A_BAND)
        return float(np.interp(f, self.frequency_hz, self.upward).max())

    def reads_within(self, target: Target) -> bool:
        """True where a band's reading is within its limit, doubt aside."""
        f = np.linspace(target.low_hz, target.high_hz, POINTS_A_BAND)
        return bool(np.interp(f, self.frequency_hz, self.size).max() <= target.limit.reflection)

    def short(self, margins: FloatArray) -> FloatArray:
        """What is short, dB, and a little for what is not spare."""
        lacking = np.clip(-margins, 0.0, DEEPEST_SHORT_DB)
        return lacking + MARGIN_WEIGHT * np.clip(
            LARGEST_COUNTED_MARGIN_DB - np.maximum(margins, 0.0), 0.0, None
        )

    @cached_property
    def margins(self) -> dict[int, float]:
        """By the target's place in the plan: its worst margin now."""
        still = np.zeros(1)
        return {n: float(self.after(t, still, still)[0]) for n, t in enumerate(self.targets)}


def _deepened(size: FloatArray, bottom: FloatArray | float, depth: FloatArray) -> FloatArray:
    """|G| where the bottom of its dip changes by `depth`: as much more or less is absorbed."""
    deeper = np.clip(np.abs(bottom + depth), 0.0, 0.999)
    absorbs = (1 - deeper**2) / (1 - np.minimum(bottom, 0.999) ** 2)
    moved: FloatArray = np.sqrt(np.clip(1 - (1 - size**2) * absorbs, 0.0, 1.0))
    return moved


def curve_of(
    judged: JudgedReading[Sweep],
    tracker: DipTracker,
    targets: Sequence[Target],
    *,
    at_feed: bool = False,
) -> Curve:
    """The curve of a judged sweep, for advice and touch test: where it was judged, no nearer.

    tracker : names its dips; it begins anew where there is none: a load, a short, nothing.
    """
    frequency_hz, reflection = judged.reading.frequency_hz, judged.reading.reflection
    found = find_dips(frequency_hz, reflection, judged.noise)
    if not found:
        tracker.begin_anew()
    upward, dips = judged.interval.upward, tracker.add(found)
    ripple = None if found else ripple_seen(frequency_hz, reflection, judged.noise)
    return Curve.of(frequency_hz, reflection, upward, targets, dips, at_feed=at_feed, ripple=ripple)


def _covers(frequency_hz: FloatArray, target: Target) -> bool:
    """True where a band was swept, and lies in no gap."""
    within = around(frequency_hz, (target.low_hz, target.high_hz))
    if within is None:
        return False
    near = frequency_hz[within]
    return bool((np.diff(near) <= LARGEST_STEP * near[1:]).all())


def _resistance(frequency_hz: FloatArray, reflection: ComplexArray, dip: Dip) -> float:
    """The feed's resistance at a dip, ohm: the straight line between the points beside it."""
    g = complex(
        np.interp(dip.frequency_hz, frequency_hz, reflection.real),
        np.interp(dip.frequency_hz, frequency_hz, reflection.imag),
    )
    return float((50 * (1 + g) / (1 - g)).real) if abs(1 - g) > 1e-6 else float("inf")
