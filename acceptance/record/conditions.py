"""Conditions: the states in which one finished antenna is swept, and what each costs.

An enclosure, a coat of sealant, rain or a mast shift an antenna's dips and change its margins. The
same antenna swept in one state after another shows by how much, so that the next one is tuned for
it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from acceptance.plan.acceptance_plan import FINISHED, Target
from acceptance.tuning.advice import band_name
from acceptance.tuning.dip_tracking import DipTracker
from acceptance.tuning.dips import Dip
from acceptance.verdict.band_verdict import known
from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import ComplexArray
from calibration.uncertainty.budget import Budget
from calibration.uncertainty.covariance import (
    WeighedReading,
    of_minimum,
    of_size,
    uncertainty_of_difference,
)

LEAST_SHIFT_MHZ = 0.5
"""A smaller shift of a dip is not worth a word."""
LEAST_CHANGE_DB = 0.2
DIP_PART = 0.25
"""On either side of a dip, as a part of its width: there |G|^2 is a parabola [practice]."""
DB_OF_SHARE = -8.685889638
"""dB of return loss for a change of |G| by the whole of itself: -20 / ln 10 [derived]."""


@dataclass(frozen=True, slots=True)
class Words:
    """What is said of one state that an antenna can be swept in."""

    label: str
    """As it is said: "in its enclosure"."""
    instruction: str
    """What to do before the sweep, with the caution it needs."""


KNOWN_CONDITIONS: Mapping[str, Words] = {
    FINISHED: Words("finished", "Connect the finished antenna, as it will be used."),
    "bare": Words("bare", "Connect the bare antenna, as built, with nothing around it."),
    "boxed": Words(
        "in its enclosure", "Put it into its enclosure, with the lid on, but do not seal it yet."
    ),
    "sealed": Words("sealed", "Seal it, let the sealant cure, and connect it again."),
    "wet": Words(
        "wet",
        "Wet the outside of the sealed antenna with clean water. Keep water away from the "
        "connector and the analyzer.",
    ),
    "bracket": Words("on its bracket", "Fix the antenna to its bracket."),
    "mast": Words(
        "on its mast",
        "Mount it on its mast, on the ground: never near power lines, never in a thunderstorm. "
        "Work at height is for those licensed for it.",
    ),
    "moved": Words(
        "moved a quarter wave",
        "Move the antenna by a quarter of the longest wave, and change nothing else. What changes "
        "comes from what is around it.",
    ),
    "cable-straight": Words("cable straight", "Lay the feed cable out straight."),
    "cable-coiled": Words("cable coiled", "Coil the feed cable as it will be installed."),
}
"""States that have words of their own; any other name is said as it is written [practice]."""


def words_of(name: str) -> Words:
    """The words of a condition, one of the user's own included."""
    own = name.replace("-", " ")
    return KNOWN_CONDITIONS.get(name) or Words(own, f"Bring the antenna into the condition: {own}.")


@dataclass(frozen=True, slots=True)
class DipShift:
    """One dip in two conditions."""

    number: int
    before_hz: float
    after_hz: float
    before_db: float
    after_db: float
    """Return loss at the bottom, dB."""
    uncertainty_hz: float | None = None
    """How far the shift may be off, about 95 %, without what one calibration has wrong alike in
    both; None where that is not known."""

    @property
    def shift_hz(self) -> float:
        """Positive: higher than before."""
        return self.after_hz - self.before_hz

    @property
    def sure(self) -> bool:
        """True where it moved by more than that."""
        return abs(self.shift_hz) > (self.uncertainty_hz or 0.0)


@dataclass(frozen=True, slots=True)
class MarginChange:
    """One target's margin in two conditions, dB; None where it is not known."""

    target: Target
    before_db: float | None
    after_db: float | None
    uncertainty_db: float | None = None
    """How far the change may be off, about 95 %, likewise; None where that is not known."""

    @property
    def sure(self) -> bool:
        """True where it changed by more than that."""
        return abs(self.change_db or 0.0) > (self.uncertainty_db or 0.0)

    @property
    def change_db(self) -> float | None:
        """Positive: better than before."""
        if self.before_db is None or self.after_db is None:
            return None
        return self.after_db - self.before_db


@dataclass(frozen=True, slots=True)
class ConditionComparison:
    """What one condition does, held against the first one."""

    before: str
    after: str
    dips: tuple[DipShift, ...]
    margins: tuple[MarginChange, ...]

    @property
    def words(self) -> str:
        """One or two sentences, with what to do about it in the next antenna."""
        changes, tune = [], []
        for each in self.dips:
            mhz = each.shift_hz / 1e6
            if abs(mhz) < LEAST_SHIFT_MHZ or not each.sure:
                continue
            way = "lower" if mhz < 0 else "higher"
            changes.append(
                f"the dip at {each.before_hz / 1e6:.0f} MHz lies {abs(mhz):.1f} MHz {way}"
            )
            tune.append(f"{abs(mhz):.0f} MHz {'high' if mhz < 0 else 'low'}")
        changed = [
            (each.change_db, each)
            for each in self.margins
            if each.change_db is not None and abs(each.change_db) >= LEAST_CHANGE_DB and each.sure
        ]
        if changed:
            change, most = min(changed, key=lambda pair: pair[0])
            way = "better" if change > 0 else "worse"
            changes.append(f"{band_name(most.target)} is {abs(change):.1f} dB {way}")
        after, before = words_of(self.after).label, words_of(self.before).label
        if not changes:
            return f"{after[0].upper()}{after[1:]}, nothing to speak of changes against {before}."
        text = f"{after[0].upper()}{after[1:]} against {before}: {'; '.join(changes)}."
        if tune:
            text += f" To end where it was, tune the next one {' and '.join(tune)} while {before}."
        return text


@dataclass(frozen=True, slots=True, eq=False)
class SweptCondition:
    """What a condition's sweep amounts to."""

    name: str
    dips: Sequence[Dip]
    verdict: Verdict
    """On the targets of all the conditions."""
    budget: Budget | None = None
    """What can be wrong with its reading; None where that is not known."""
    reflection: ComplexArray | None = None
    """Shape (points,), on the budget's grid."""

    def place_of(self, dip: Dip) -> WeighedReading | None:
        """How a dip's place hangs on the reading."""
        if self.budget is None or self.reflection is None:
            return None
        within_hz = DIP_PART * dip.bandwidth_hz
        return of_minimum(self.budget, self.reflection, dip.frequency_hz, within_hz)

    def depth_at(self, at_hz: float | None) -> WeighedReading | None:
        """How the return loss at a point, dB, hangs on the reading."""
        if self.budget is None or self.reflection is None or at_hz is None:
            return None
        at = int(np.argmin(np.abs(self.budget.frequency_hz - at_hz)))
        size = of_size(self.budget, self.reflection, at)
        return replace(size, weight=DB_OF_SHARE * size.weight / np.abs(self.reflection[at]))


def condition_comparisons(
    conditions: Sequence[SweptCondition], targets: Sequence[Target]
) -> tuple[ConditionComparison, ...]:
    """What every condition after the first does to dips and margins.

    conditions : in the order swept, under one calibration.
    """
    tracker = DipTracker()
    followed = [(each, tracker.add(each.dips)) for each in conditions]
    found = []
    for now, dips in followed[1:]:
        first, was = followed[0]
        there = {each.number: each.dip for each in was if not each.dip.beyond}
        found.append(
            ConditionComparison(
                first.name,
                now.name,
                tuple(
                    DipShift(
                        each.number,
                        there[each.number].frequency_hz,
                        each.dip.frequency_hz,
                        there[each.number].return_loss_db,
                        each.dip.return_loss_db,
                        _unsure(first.place_of(there[each.number]), now.place_of(each.dip)),
                    )
                    for each in dips
                    if each.number in there and not each.dip.beyond
                ),
                tuple(
                    MarginChange(
                        target,
                        one.margin_or_bound_db,
                        other.margin_or_bound_db,
                        _unsure(
                            first.depth_at(one.worst_frequency_hz),
                            now.depth_at(other.worst_frequency_hz),
                        ),
                    )
                    for target, one, other in zip(
                        targets, first.verdict.bands, now.verdict.bands, strict=True
                    )
                ),
            )
        )
    return tuple(found)


def _unsure(one: WeighedReading | None, other: WeighedReading | None) -> float | None:
    """How far a change may be off; None where it is not known, or the grids differ."""
    if one is None or other is None:
        return None
    if not np.array_equal(one.budget.frequency_hz, other.budget.frequency_hz):
        return None
    return known(uncertainty_of_difference(one, other))
