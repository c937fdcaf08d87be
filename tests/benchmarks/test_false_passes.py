"""No antenna that fails passes without a word, where something in the readings could show why."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from acceptance.limits.decision import State
from benchmarks.false_passes import files, histories, sweeps
from benchmarks.false_passes.bench import TURNS, Antenna, Bench, Judging
from benchmarks.false_passes.situation import Outcome, Situation
from benchmarks.false_passes.table import ALL, rows
from tests.counts import LONG, QUICK

DOCS = Path(__file__).parents[2] / "docs" / "how-far-can-i-trust-it.md"
BENCHES = range(20) if LONG else range(1, 2)


@pytest.mark.slow
@pytest.mark.parametrize("situation", ALL, ids=lambda each: each.name)
def test_none_passes_without_a_word_whose_cause_could_be_seen(situation: Situation) -> None:
    for seed in BENCHES:
        worst = situation.outcome(seed, turns=4 if QUICK else TURNS)
        assert situation.unseen or worst < Outcome.PASSED, (seed, worst)


def test_there_are_forty_situations_and_more_each_of_another_name() -> None:
    assert len({each.name for each in ALL}) == len(ALL) >= 40


@pytest.mark.slow
@pytest.mark.parametrize("situation", [each for each in ALL if each.unseen], ids=lambda e: e.name)
def test_what_cannot_be_seen_does_pass_somewhere(
    situation: Situation,
) -> None:
    """Else it would be none of those."""
    seeds = range(20)
    assert any(situation.outcome(seed, TURNS) is Outcome.PASSED for seed in seeds)


def test_the_docs_list_what_cannot_be_seen_and_nothing_else() -> None:
    text = DOCS.read_text(encoding="utf-8").partition("## What an antenna that fails is told")[2]
    rows = [line.split("|")[1] for line in text.splitlines() if line.startswith("| ")][1:]
    told = [name.strip() for row in rows for name in row.split(";")]
    assert sorted(told) == sorted(each.name for each in ALL if each.unseen)


@pytest.mark.parametrize("seed", range(3))
def test_a_good_antenna_on_an_honest_bench_passes_without_a_doubt(seed: int) -> None:
    bench = Bench(seed)
    calibration = bench.calibration()
    for turn in range(0, TURNS, 3):
        verdict = bench.verdict(calibration, Antenna(13.0, turn))
        assert verdict.overall is State.PASS
        assert verdict.doubts == ()


HONEST = {
    "load connected twice": histories.without_history(histories.connected()),
    "held against the days before": histories.with_history(histories.connected()),
    "offset short": histories.with_a_fourth(
        "offset-short", histories.connected(), histories.offset_short
    ),
    "second load": histories.with_a_fourth(
        "second-load", histories.connected(), histories.one_more_load
    ),
    "check piece stated": histories.with_a_piece(histories.connected()),
    "check piece known": histories.with_a_piece(histories.connected(), stated=False),
    "short put back": sweeps.checked_after(sweeps.unchanged),
    "open put back": sweeps.checked_after(sweeps.unchanged, put_back="open"),
    "corrected file": files.file_of(files.ri),
    "imported file": files.imported(files.ri),
}
"""Every way to a verdict that finds something, where there is nothing to be found."""


@pytest.mark.parametrize("begin", HONEST.values(), ids=HONEST)
def test_each_way_that_finds_a_mistake_lets_an_honest_bench_pass(
    begin: Callable[[Bench], Judging],
) -> None:
    """Else the table would show nothing but refusals."""
    verdict_of = begin(Bench(2))
    for turn in range(0, TURNS, 4):
        verdict = verdict_of(Antenna(13.0, turn))
        assert verdict.overall is State.PASS
        assert verdict.doubts == ()


def test_an_antenna_that_does_not_fail_proves_nothing() -> None:
    begin = ALL[0].begin
    with pytest.raises(ValueError, match="does not fail"):
        Situation("none", begin, worst_db=10.5).outcome(1, 4)


def test_the_table_has_a_row_for_each_and_counts_every_bench() -> None:
    first = next(rows(seeds=2, turns=3))
    assert first[0] == ALL[0].name
    assert sum(int(each or 0) for each in first[1:5]) == 2
