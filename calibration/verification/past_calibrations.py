"""A calibration held against the last ones of its analyzer and cable, and what follows.

Which of two that differ was wrong, the two cannot say. The standard that fits, made anew, can: see
`calibration.guided.calibration_session`. What stays is a doubt, which travels with the calibration
until it is settled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from calibration.evidence import Doubt
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.residual_bounds import is_small
from calibration.verification.term_change import TermChange, change_between
from calibration.verification.verified_budget import evidence_results

MOST_COMPARED = 8
"""So many earlier calibrations count, the newest ones."""
ORDINARY_CHANGE = 8.0
"""What two honest calibrations leave unexplained, about the 90th of 100 [run]: a bench whose own
ones differ by more, joints made with less care, is given more."""
MOST_SCALE = 3.0
LEAST_CONTACT_OHM, LEAST_CONTACT_H = 1.0, 0.05e-9
"""Series resistance and inductance below which a sign tells nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class PastComparison:
    """What the last calibrations of one analyzer and cable say of a new one."""

    compared: tuple[Calibration, ...]
    """Those it was held against, the newest first."""
    change: TermChange | None
    """What changed, where that is more than honest calibrations differ by."""
    against: Calibration | None
    """The earlier one that `change` is since."""

    @property
    def known(self) -> bool:
        """True where earlier ones speak for its load: there are some, and the path is theirs."""
        if not self.compared:
            return False
        return self.change is None or self.change.cause not in ("path", "several")

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What that means for the new one."""
        if self.change is None or self.against is None or self.change.cause is None:
            return ()
        return (_doubt(self.change, self.against),)

    @property
    def words(self) -> str:
        """What was compared, in a sentence; the doubt's own words come beside it."""
        count = len(self.compared)
        if not count:
            return (
                "No earlier calibration of this analyzer and cable is kept, so none speaks for it."
            )
        ones = "the last calibration" if count == 1 else f"the last {count} calibrations"
        if self.change is None:
            return (
                f"Held against {ones} of this analyzer and cable: nothing changed beyond drift and "
                "joints made anew."
            )
        return f"Held against {ones} of this analyzer and cable: something changed."


def compared_with_past(calibration: Calibration, past: Sequence[Calibration]) -> PastComparison:
    """Hold a calibration against earlier ones.

    past : any calibrations; those of another analyzer or cable, in doubt, later, or without a
        frequency in common are left aside.
    It differs where it differs from the newest, or from more than half of them: what creeps, a
    little each day, shows so.
    """
    found = _comparable(calibration, past)
    scale = _scale(found)
    changes = [
        (each, change)
        for each in found
        if (change := change_between(each, calibration, scale=scale)) is not None
    ]
    compared = tuple(each for each, _ in changes)
    differing = [(each, change) for each, change in changes if change.cause is not None]
    if not differing or (
        differing[0][0] is not compared[0] and 2 * len(differing) <= len(compared)
    ):
        return PastComparison(compared, None, None)
    against, change = differing[0]
    return PastComparison(compared, change, against)


def settled(calibration: Calibration, assumptions: Assumptions) -> Calibration:
    """The calibration without the doubts that its evidence has taken away.

    A small known device that agrees settles what is doubted of the load, and any that agrees what
    is not of one standard; a standard that reads, made anew, as it did settles what hangs on its
    connection. Nothing does while something contradicts.
    """
    if not calibration.doubts:
        return calibration
    results = evidence_results(calibration, assumptions)
    if results.contradictions:
        return calibration
    small = any(is_small(each) for each in results.devices)
    large = any(not is_small(each) for each in results.devices)
    remade = {each.standard for each in results.drifts if each.advice == "carry on"}
    kept = [
        each
        for each in calibration.doubts
        if not (
            (each.settled_by == "remake" and each.standard in remade)
            or (small if each.cause in ("load", "once") else large)
        )
    ]
    return calibration if len(kept) == len(calibration.doubts) else calibration.with_doubts(kept)


def once_only(standard: str, difference: str = "") -> Doubt:
    """The doubt of a standard that was connected once, where nothing else speaks for it.

    difference : what a second connection showed, a sentence, where it was left at that.
    """
    spoken = standard.replace("-", " ")
    why = difference or (
        f"The {spoken} was connected only once, and no earlier calibration or known device speaks "
        "for it."
    )
    return Doubt(
        "once",
        f"{why} Were it loose, an antenna could read better than it is. Take the {spoken} off, put "
        "it on again and check it, or measure a second load back.",
        standard,
        "remake",
    )


def _comparable(calibration: Calibration, past: Sequence[Calibration]) -> list[Calibration]:
    """Earlier ones of the same analyzer and cable, trusted, the newest first."""
    found = [
        each
        for each in past
        if each.taken_at < calibration.taken_at
        and each.cable == calibration.cable
        and not each.doubts
        and not calibration.source.differs_from(each.source)
    ]
    return sorted(found, key=lambda each: each.taken_at, reverse=True)[:MOST_COMPARED]


def _scale(trusted: Sequence[Calibration]) -> float:
    """How much more this bench's own calibrations differ from each other than most do."""
    seen = [
        change.unexplained
        for later, earlier in pairwise(trusted)
        if (change := change_between(earlier, later)) is not None
    ]
    if len(seen) < 2:  # one pair is one draw
        return 1.0
    return float(np.clip(np.median(seen) / ORDINARY_CHANGE, 1.0, MOST_SCALE))


def _doubt(change: TermChange, against: Calibration) -> Doubt:
    at = int(np.argmax(np.abs(change.reflection).max(axis=0)))
    since = f"Since the calibration of {against.taken_at:%Y-%m-%d %H:%M}"
    size = f"by up to {change.largest:.2g}"
    standard = change.standard
    if change.cause == "load":
        words, contact_then = _load_words(change)
        return Doubt(
            "load",
            f"{since} the {standard} reads otherwise {size}, open and short as before: {words}. "
            + (
                f"Put the {standard} on once more and check it."
                if contact_then
                else f"An antenna may read better than it is. Tighten the {standard} and calibrate "
                "anew; if it stays, measure a second load back."
            ),
            standard,
            "remake" if contact_then else "device",
        )
    if change.cause in ("open", "short"):
        return Doubt(
            change.cause,
            f"{since} the {standard} reads otherwise {size}, the other standards as before: it "
            f"hangs loose now, or did then, or it is another one. Put the {standard} on once more "
            "and check it.",
            standard,
            "remake",
        )
    place = f"at {change.frequency_hz[at] / 1e6:.0f} MHz"
    if change.cause == "near joint":
        return Doubt(
            "near joint",
            f"{since} all standards read otherwise ({size} {place}), as if the joint at the "
            f"analyzer "
            "had changed. Tighten the cable there and calibrate anew.",
        )
    if change.cause == "path" and change.kits_differ:
        return Doubt(
            "path",
            f"{since} open and short read otherwise than their two kits say ({size} {place}), the "
            "load as before: one of the two kits is not what was on. Say which one it is, and "
            "calibrate anew.",
        )
    likely = "another cable or adapter, or another open and short"
    if change.cause == "several":
        likely = "another cable or adapter, or more than one thing"
    return Doubt(
        change.cause or "several",
        f"{since} what changed ({size} {place}) fits {likely}, not a single standard. A cable "
        "with a name has a history of its own; otherwise check the standards and calibrate anew.",
        change.standards[2],  # the load, by which most is decided
        "remake",
    )


def _load_words(change: TermChange) -> tuple[str, bool]:
    """What in series would do what the load did, and whether it was there then, not now."""
    ohm, henry = change.load_impedance()
    parts = []
    if abs(ohm) >= LEAST_CONTACT_OHM:
        parts.append(f"{abs(ohm):.1f} ohm")
    if abs(henry) >= LEAST_CONTACT_H:
        parts.append(f"{abs(henry) * 1e9:.1f} nH")
    if not parts:
        return "it is another load, or its contact comes and goes", False
    series = " and ".join(parts)
    if ohm < LEAST_CONTACT_OHM and henry < LEAST_CONTACT_H:
        return (
            f"as if {series} in series had been with it then and are gone, so it was loose then, "
            "or is another one",
            True,
        )
    return f"as if {series} were in series with it now: it hangs loose, or is another one", False
