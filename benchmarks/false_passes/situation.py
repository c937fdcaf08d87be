"""What a person is told where something is wrong: caught, warned, noted or passed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from acceptance.limits.decision import State
from acquire.errors import BandwrightError
from acquire.sweep import FloatArray
from benchmarks.false_passes.bench import LIMIT_DB, TRUE_DB, Antenna, Bench, Judging, failing


class Outcome(IntEnum):
    """From the best to the worst that a person may be told of an antenna that fails."""

    CAUGHT = 0
    """Refused, not measured, failed, or short of a pass by the uncertainty."""
    WARNED = 1
    """It would pass, and a doubt takes the pass away."""
    NOTED = 2
    """It passes, and a note says what may be wrong."""
    PASSED = 3
    """It passes without a word."""


@dataclass(frozen=True, slots=True)
class Situation:
    """One mistake, and the way from it to a verdict."""

    name: str
    begin: Callable[[Bench], Judging]
    """What is done before the antenna is on; raises BandwrightError where that is refused."""
    worst_db: float = TRUE_DB
    """Of the antennas, in truth."""
    unseen: str = ""
    """Why nothing in the readings can show it, and what would; empty where something can."""
    note: str = ""
    """Words of the note that says it, where a note is all there is."""
    bench: Callable[[int], Bench] = Bench

    def outcome(self, seed: int, turns: int) -> Outcome:
        """The worst that a person is told on one bench, over antennas of every phase."""
        bench = self.bench(seed)
        antennas = failing(self.worst_db, turns)
        for each in antennas:
            require_failing(each)
        try:
            verdict_of = self.begin(bench)
        except BandwrightError:
            return Outcome.CAUGHT
        return max(self._of_one(verdict_of, antenna) for antenna in antennas)

    def _of_one(self, verdict_of: Judging, antenna: Antenna) -> Outcome:
        try:
            verdict = verdict_of(antenna)
        except BandwrightError:
            return Outcome.CAUGHT
        if verdict.overall is State.PASS:
            noted = bool(self.note) and self.note in " ".join(verdict.notes)
            return Outcome.NOTED if noted else Outcome.PASSED
        if (
            any(band.doubted for band in verdict.bands)
            and verdict.overall is State.CONDITIONAL_PASS
        ):
            return Outcome.WARNED
        return Outcome.CAUGHT


def band_hz() -> FloatArray:
    """The band, finely."""
    return np.linspace(2500e6, 2690e6, 191)


def require_failing(antenna: Antenna) -> None:
    """Raise ValueError for an antenna that does not fail: it would prove nothing."""
    worst = float(np.abs(antenna.reflection(band_hz())).max())
    if worst <= 10 ** (-LIMIT_DB / 20):
        raise ValueError(f"An antenna of {-20 * np.log10(worst):.2f} dB does not fail.")
