"""Conditions: the states in which one finished unit is swept, and what each costs.

An enclosure, a coat of sealant, rain or a mast shift an antenna's dips and change its margins. The
same unit swept in one state after another shows by how much, so that the next one is tuned for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from acceptance.plan.acceptance_plan import FINISHED, Target
from acceptance.tuning.advice import band_name
from acceptance.tuning.dip_tracking import DipTracker
from acceptance.tuning.dips import Dip
from acceptance.verdict.plan_verdict import Verdict

LEAST_SHIFT_MHZ = 0.5
"""A smaller shift of a dip is not worth a word."""
LEAST_CHANGE_DB = 0.2


@dataclass(frozen=True, slots=True)
class Words:
    """What is said of one state that a unit can be swept in."""

    label: str
    """As it is said: "in its enclosure"."""
    instruction: str
    """What to do before the sweep, with the caution it needs."""


KNOWN_CONDITIONS: Mapping[str, Words] = {
    FINISHED: Words("finished", "Screw the finished unit on, as it will be used."),
    "bare": Words("bare", "Screw the bare antenna on, as built, nothing around it."),
    "boxed": Words("in its enclosure", "Put it into its enclosure, lid on, not sealed yet."),
    "sealed": Words("sealed", "Seal it, let the sealant cure, and screw it on."),
    "wet": Words(
        "wet",
        "Wet the sealed unit's outside with clean water. Keep water away from the connector and "
        "the analyzer.",
    ),
    "bracket": Words("on its bracket", "Screw the unit to its bracket."),
    "mast": Words(
        "on its mast",
        "Mount it on its mast, on the ground: never near power lines, never in a thunderstorm. "
        "Work at height is for those licensed for it.",
    ),
    "moved": Words(
        "moved a quarter wave",
        "Move the unit by a quarter of the longest wave, and change nothing else. What changes "
        "comes from what is around it.",
    ),
    "cable-straight": Words("cable straight", "Lay the feed cable out straight."),
    "cable-coiled": Words("cable coiled", "Coil the feed cable as it will be installed."),
}
"""States that have words of their own; any other name is said as it is written [practice]."""


def words_of(name: str) -> Words:
    """The words of a condition, one of the user's own included."""
    own = name.replace("-", " ")
    return KNOWN_CONDITIONS.get(name) or Words(own, f"Bring the unit into the condition: {own}.")


@dataclass(frozen=True, slots=True)
class DipShift:
    """One dip in two conditions."""

    number: int
    before_hz: float
    after_hz: float
    before_db: float
    after_db: float
    """Return loss at the bottom, dB."""

    @property
    def shift_hz(self) -> float:
        """Positive: higher than before."""
        return self.after_hz - self.before_hz


@dataclass(frozen=True, slots=True)
class MarginChange:
    """One target's margin in two conditions, dB; None where it is not known."""

    target: Target
    before_db: float | None
    after_db: float | None

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
        """One or two sentences, with what to do about it in the next unit."""
        changes, tune = [], []
        for each in self.dips:
            mhz = each.shift_hz / 1e6
            if abs(mhz) < LEAST_SHIFT_MHZ:
                continue
            way = "lower" if mhz < 0 else "higher"
            changes.append(
                f"the dip at {each.before_hz / 1e6:.0f} MHz lies {abs(mhz):.1f} MHz {way}"
            )
            tune.append(f"{abs(mhz):.0f} MHz {'high' if mhz < 0 else 'low'}")
        changed = [
            (each.change_db, each)
            for each in self.margins
            if each.change_db is not None and abs(each.change_db) >= LEAST_CHANGE_DB
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


def condition_comparisons(
    conditions: Sequence[tuple[str, Sequence[Dip], Verdict]], targets: Sequence[Target]
) -> tuple[ConditionComparison, ...]:
    """What every condition after the first does to dips and margins.

    conditions : name, dips and verdict of each, in the order swept; verdicts on `targets`.
    """
    tracker = DipTracker()
    followed = [(name, tracker.add(dips), verdict) for name, dips, verdict in conditions]
    found = []
    for name, dips, verdict in followed[1:]:
        first, was, before = followed[0]
        there = {each.number: each.dip for each in was if not each.dip.beyond}
        found.append(
            ConditionComparison(
                first,
                name,
                tuple(
                    DipShift(
                        each.number,
                        there[each.number].frequency_hz,
                        each.dip.frequency_hz,
                        there[each.number].return_loss_db,
                        each.dip.return_loss_db,
                    )
                    for each in dips
                    if each.number in there and not each.dip.beyond
                ),
                tuple(
                    MarginChange(target, one.margin_or_bound_db, other.margin_or_bound_db)
                    for target, one, other in zip(targets, before.bands, verdict.bands, strict=True)
                ),
            )
        )
    return tuple(found)
