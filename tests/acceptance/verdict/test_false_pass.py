"""The risk of a false pass: of a band, of all of them, and as a plan may want it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from acceptance.bands.load import load_bands
from acceptance.limits.decision import State
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import parse_plan
from acceptance.verdict.false_pass import CONDITION, WithinLimit, false_pass_risks
from acceptance.verdict.judged_sweep import corrected_file
from acceptance.verdict.plan_verdict import Verdict
from acceptance.verdict.wording import uncertainty_sentences
from acceptance.verdict.worst_of_sweeps import worst_of
from acquire.sweep import FloatArray, Plane, Reading, Source
from calibration.calibration_budget import budget_of_file
from calibration.plane.reference_plane import CONNECTOR
from calibration.uncertainty.interval import Interval, interval
from tests.calibration.uncertainty.wrong_standards import ASSUMED, Benches
from tests.counts import LONG
from tests.wording import missing_words

FILE = Source("file", "mill-lane-7.s1p", "", "mill-lane-7.s1p")
GRID = np.linspace(780e6, 900e6, 121)
LIMIT = 10**-0.5
BANDS = ((791e6, 821e6), (832e6, 862e6))
DRAWS = 100_000 if LONG else 20_000


def plan(head: str = "") -> Plan:
    own = "".join(
        f'[[band]]\nname = "b{at}"\nlow_mhz = {low / 1e6}\nhigh_mhz = {high / 1e6}\n'
        "return_loss_db = 10\n"
        for at, (low, high) in enumerate(BANDS)
    )
    return parse_plan(f'name = "p"\n{head}\n{own}', "plan.toml", load_bands())


def flat(inside: float, load_db: float = 26.0) -> FloatArray:
    """A size that everywhere lies so many times its own uncertainty inside the limit."""
    budget = budget_of_file(GRID, replace(ASSUMED, load_db=load_db))
    size = np.full(GRID.size, LIMIT)
    for _ in range(30):
        size = LIMIT - inside * interval(budget, size + 0j).upward
    return size


def judged(reflection: FloatArray, head: str = "", load_db: float = 26.0) -> Verdict:
    reading = Reading(GRID, reflection.astype(np.complex128))
    corrected = corrected_file(reading, replace(ASSUMED, load_db=load_db), Plane.CONNECTOR, FILE)
    return corrected.judged(CONNECTOR, plan(head)).decided


@pytest.mark.slow
@pytest.mark.parametrize("load_db", [26.0, 40.0])
@pytest.mark.parametrize("inside", [0.5, 0.9])
def test_a_verdict_tells_the_risk_that_its_bands_run(load_db: float, inside: float) -> None:
    """Of every one of many benches that read so: does any point of the band lie beyond the limit,
    does any of both bands."""
    turned = flat(inside, load_db) * np.exp(-2j * np.pi * GRID * 2e-9)
    verdict = judged(turned, load_db=load_db)
    rng = np.random.default_rng([int(load_db), int(10 * inside)])
    true = Benches(GRID, load_db, DRAWS, rng).truth(turned)
    beyond = [(true[:, (low <= GRID) & (high >= GRID)] > LIMIT).any(axis=1) for low, high in BANDS]
    for band, there in zip(verdict.bands, beyond, strict=True):
        risk = float(there.mean())
        assert band.false_pass_risk is not None
        assert 0.9 * risk - 0.005 < band.false_pass_risk < 1.2 * risk + 0.005
    risks = [band.false_pass_risk or 0.0 for band in verdict.bands]
    assert verdict.false_pass_risk is not None
    assert float(np.any(beyond, axis=0).mean()) - 0.01 < verdict.false_pass_risk <= sum(risks)
    apart = 1 - math.prod(1 - each for each in risks)
    assert verdict.false_pass_risk >= apart * (1 - 1e-12)


def test_one_band_at_the_limit_makes_the_whole_as_risky_and_no_other_band() -> None:
    bump = np.exp(-(((GRID - 806e6) / 15e6) ** 2))
    one = judged(flat(0.1) * (0.5 + 0.5 * bump))
    first, second = (band.false_pass_risk for band in one.bands)
    assert first is not None
    assert second is not None
    assert first > 0.4
    assert second < 0.001
    assert one.false_pass_risk == pytest.approx(first, abs=0.001)


def test_known_ends_alone_go_by_the_normal_law_and_never_above_the_sum() -> None:
    size = np.full(3, LIMIT - 0.02)
    known = Interval(GRID[:3], size, size - 0.02, size + 0.02, np.full(3, 0.02))
    band = WithinLimit(GRID[:3], size + 0j, size, np.full(3, 0.02), LIMIT)
    found = false_pass_risks([band, band], known)
    assert found.bands == pytest.approx((0.025, 0.025), rel=1e-3)
    assert found.overall == pytest.approx(1 - 0.975**2, rel=1e-3)


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ('guard = "none"', "pass (unguarded)"),
        ("guard = 0.24", "pass (unguarded)"),
        ("guard = 0.25", "pass"),
        ("false_pass_risk = 0.35", "pass (unguarded)"),
        ("false_pass_risk = 0.1", "pass"),
    ],
)
def test_a_guard_band_of_less_than_a_quarter_is_called_none(head: str, words: str) -> None:
    verdict = judged(0.5 * flat(1.0), head)
    assert verdict.words == words
    assert {band.words for band in verdict.bands} == {words}
    told = " ".join(verdict.notes)
    assert (not missing_words(told, "unguarded")) is (words != "pass")


def test_a_plan_may_want_a_risk_and_it_decides() -> None:
    """As much inside as a factor of the uncertainty lets pass, by its own law it is 11 % at 0.9."""
    reading = flat(0.93)
    by_guard = judged(reading, "guard = 0.9")
    assert by_guard.overall is State.PASS
    strict, lenient = (judged(reading, f"false_pass_risk = {each}") for each in (0.025, 0.4))
    assert {band.state for band in strict.bands} == {State.CONDITIONAL_PASS}
    assert {band.state for band in lenient.bands} == {State.PASS}
    assert [band.false_pass_risk for band in strict.bands] == [
        band.false_pass_risk for band in by_guard.bands
    ]
    written = strict.as_json()
    assert written["guard"] is None
    assert written["false_pass_risk_wanted"] == 0.025
    assert written["false_pass_risk"] == strict.false_pass_risk


def test_bands_that_keep_to_the_risk_one_by_one_and_not_together_are_no_pass() -> None:
    reading = flat(0.93)
    one = judged(reading, "guard = 0.9")
    risk = max(band.false_pass_risk or 0.0 for band in one.bands)
    assert one.false_pass_risk is not None
    assert one.false_pass_risk > 1.05 * risk
    verdict = judged(reading, f"false_pass_risk = {1.02 * risk}")
    assert {band.state for band in verdict.bands} == {State.PASS}
    assert verdict.overall is State.CONDITIONAL_PASS
    assert any(not missing_words(note, "together") for note in verdict.notes)
    assert worst_of([verdict, replace(verdict)]).overall is State.CONDITIONAL_PASS


def test_beyond_the_limit_a_wanted_risk_leaves_fail_and_conditional_fail() -> None:
    assert judged(flat(-0.5), "false_pass_risk = 0.1").overall is State.CONDITIONAL_FAIL
    assert judged(flat(-2.0), "false_pass_risk = 0.1").overall is State.FAIL


def test_a_risk_is_told_with_what_it_rests_on() -> None:
    verdict = judged(flat(0.9))
    told = " ".join(uncertainty_sentences(verdict.bands, verdict.false_pass_risk))
    assert CONDITION in told
