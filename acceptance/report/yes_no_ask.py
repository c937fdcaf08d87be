"""One word on an antenna, for who reads no decibel: YES, NO, or ASK who set the station up.

YES is a pass that is proven, NO a fail that is proven. Whatever lies between, or stands in doubt,
is ASK: a helper neither throws a good antenna away nor hands out one that may be bad.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acceptance.limits.decision import State
from acceptance.record.examination import Examined, ExaminedCondition
from acceptance.record.layouts import STATION
from acceptance.verdict.band_verdict import BandVerdict
from acceptance.verdict.wording import band_title, margin_spoken
from acquire.printable_text import plain

Word = Literal["YES", "NO", "ASK"]
ALL_REFLECTED = 0.95
"""0.45 dB: where no point of a sweep reflects less, nothing but a connector is there, or a broken
joint [practice]."""
NOTHING_REFLECTED = 0.05
"""26 dB: where no point reflects more, a load is there."""
WIDE = 1.2
"""Highest to lowest frequency: of a narrower sweep neither is said."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What is said of one antenna."""

    word: Word
    why: str
    """One sentence, without a number that a helper must read."""
    detail: str = ""
    """The same with figures, for who set the station up; kept with the record."""

    def as_json(self) -> dict[str, str]:
        """What a record keeps of it."""
        return {"word": self.word, "why": self.why, "detail": self.detail}


def answer_of(examined: Examined) -> Answer:  # noqa: PLR0911 - one a reason
    """What the sweeps of an antenna prove, in one word and a sentence."""
    state, worst = examined.overall, examined.worst
    detail = _detail(worst)
    missed = next((check for check in reversed(examined.checks) if not check.holds), None)
    if state is State.NOT_MEASURED and missed is not None:
        why = "The check after the sweep failed, so the sweep does not count."
        return Answer("ASK", why, missed.words)
    if odd := nothing_connected(worst):
        return Answer("ASK", odd, detail)
    if state is State.FAIL:
        return Answer("NO", f"The match in {_bands(worst, State.FAIL)} is too poor.", detail)
    doubts = worst.verdict.doubts
    if state is State.PASS and worst.verdict.guarded and not doubts:
        why = "Every band passes, and the error of the measurement is allowed for."
        return Answer("YES", why, detail)
    if state is State.NOT_MEASURED:
        return Answer("ASK", f"The match in {_bands(worst, state)} was not measured.", detail)
    if doubts:
        return Answer("ASK", "Something about the reading is in doubt.", " ".join(doubts))
    if state is State.PASS:
        why = "It passes, but the plan does not allow for the measurement's error."
        return Answer("ASK", why, detail)
    return Answer(
        "ASK", f"The match in {_bands(worst, state)} is too close to its limit to be sure.", detail
    )


def word_faults(examined: Examined) -> tuple[str, ...]:
    """Where what a station's record says does not follow from it; a sentence each.

    ASK may stand where the sweeps prove more: what speaks against taking them so, an antenna that
    was never taken off for one, is not in them.
    """
    match examined.acceptance.carried.get(STATION):
        case {"role": "serial", "word": str(word), "sums": {"plan": str(plan_sum)}}:
            pass
        case _:
            return ()
    faults = []
    proven = answer_of(examined).word
    if word not in ("ASK", proven):
        faults.append(f"The station's word is {plain(word)}, and the sweeps prove {proven}.")
    if plan_sum != hashlib.sha256(examined.acceptance.plan.text.encode()).hexdigest():
        faults.append("The station was locked to another plan than the one in the record.")
    return tuple(faults)


def nothing_connected(condition: ExaminedCondition) -> str:
    """Why a sweep is none of an antenna, in a sentence; empty where it may be one."""
    sweep = condition.corrected
    f, size = sweep.frequency_hz, np.abs(sweep.reflection)
    if f[-1] < WIDE * f[0] or not np.isfinite(size).any():
        return ""
    if float(np.nanmin(size)) >= ALL_REFLECTED:
        return "Nothing seems to be connected, or the antenna is broken at its connector."
    if float(np.nanmax(size)) <= NOTHING_REFLECTED:
        return "This looks like the load, not like an antenna."
    return ""


def _bands(condition: ExaminedCondition, state: State) -> str:
    """The first band in a state, and how many more."""
    named = [band_title(each) for each in condition.verdict.bands if each.state is state]
    if not named:
        return "a band"
    return named[0] + (" and other bands" if len(named) > 1 else "")


def _detail(condition: ExaminedCondition) -> str:
    verdict = condition.verdict
    return f"{verdict.words}: " + "; ".join(_of_band(each) for each in verdict.bands) + "."


def _of_band(band: BandVerdict) -> str:
    margin = margin_spoken(band) or band.reason.rstrip(".") or "no margin known"
    return f"{band_title(band)} {band.words}, {margin}"
