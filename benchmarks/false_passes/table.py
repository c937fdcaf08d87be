"""The table: every situation, on so many benches, and what a person is told there."""

from __future__ import annotations

from collections.abc import Iterator

from benchmarks.false_passes import cables, files, histories, standards, sweeps
from benchmarks.false_passes.bench import TURNS
from benchmarks.false_passes.situation import Outcome, Situation

SEEDS = 20

ALL: tuple[Situation, ...] = (
    *standards.SITUATIONS,
    *histories.SITUATIONS,
    *cables.SITUATIONS,
    *sweeps.SITUATIONS,
    *files.SITUATIONS,
)
TITLE = (
    f"What a person is told for an antenna that fails: on {SEEDS} benches each, the worst over "
    f"{TURNS} antennas that differ in phase. Caught: refused, not measured, failed or short of a "
    "pass. Warned: a doubt takes the pass away. Noted: it passes, and a note says what is wrong."
)
HEADS = ("situation", "caught", "warned", "noted", "passed", "why it cannot be seen")


def counted(situation: Situation, seeds: int, turns: int = TURNS) -> dict[Outcome, int]:
    """On how many benches each outcome is the worst, over antennas of every phase."""
    outcomes = [situation.outcome(seed, turns) for seed in range(seeds)]
    return {each: outcomes.count(each) for each in Outcome}


def rows(seeds: int = SEEDS, turns: int = TURNS) -> Iterator[tuple[str, ...]]:
    """The table, a situation a row."""
    for each in ALL:
        counts = counted(each, seeds, turns)
        yield each.name, *(str(counts[outcome] or "") for outcome in Outcome), each.unseen
