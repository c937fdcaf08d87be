"""What was cut and what it gave: held against the radiator that the records were made of."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from acceptance.batch.recipe_batch import Batch, batch
from acceptance.batch.size_effect import (
    LEAST_RECORDS,
    all_size_effects,
    chosen_size_effects,
    size_effect,
    suggest,
)
from acceptance.catalogue.record_summary import DipResult, RecordSummary
from acceptance.errors import RecipeError, RecordError
from acceptance.plan.recipe import NO_RECIPE, Recipe, parse_recipe
from acceptance.tuning.dips import find_dips
from dashboard.demo.example_batch import INTENDED, F, gauges
from dashboard.demo.scenario import RECIPE
from replay.virtual_bench.antenna import BentStrip


@pytest.fixture(scope="module")
def whole(summaries: list[RecordSummary]) -> Batch:
    return batch(summaries)


@pytest.fixture(scope="module")
def recipe() -> Recipe:
    return parse_recipe(RECIPE, "recipe.toml")


def dip_mhz(built: BentStrip, number: int) -> float:
    """Where a radiator truly has its dip, without analyzer and noise."""
    return find_dips(F, built.reflection(F))[number - 1].frequency_hz / 1e6


def made(sizes: list[float], dips_mhz: list[float], summary: RecordSummary) -> Batch:
    """A batch of one dimension and one dip."""
    (look,) = summary.conditions
    found = []
    for n, (size, mhz) in enumerate(zip(sizes, dips_mhz, strict=True)):
        dips = (DipResult(mhz * 1e6, 15.0, 40e6, ""),)
        found.append(
            dataclasses.replace(
                summary,
                entry=dataclasses.replace(summary.entry, antenna=f"gauge-{n}", folder=f"{n:03}"),
                conditions=(dataclasses.replace(look, dips=dips),),
                sizes_mm={"arm": size},
            )
        )
    return batch(found)


def test_the_slope_is_what_a_millimetre_truly_does(whole: Batch) -> None:
    """By the radiator itself, half a millimetre either way [derived]; what height, gap and the
    other arm did besides lies in the interval."""
    for name, number in (("arm_a", 1), ("arm_b", 2)):
        found = size_effect(whole, name, number)
        truth = dip_mhz(INTENDED.bent(name, 0.5), number) - dip_mhz(
            INTENDED.bent(name, -0.5), number
        )
        assert found.line is not None
        low, high = found.line.slope_interval(0.999)
        assert low < truth < high
        assert abs(found.line.slope / truth - 1) < 0.1


@pytest.mark.slow
def test_the_next_gauge_cut_as_suggested_lands_where_it_was_said_to(
    summaries: list[RecordSummary], recipe: Recipe
) -> None:
    """Forty batches of gauges, each followed by ten more of the suggested size whose other sizes
    are drawn as the batch's were: 95 % land within, and of those left long 97.5 % are so still."""
    within = long_still = trials = 0
    for seed in range(40):
        random = np.random.default_rng(100 + seed)
        built = [each for _, _, each in gauges(seed=seed)]
        past = made([each.arm_a_mm for each in built], [dip_mhz(b, 1) for b in built], summaries[0])
        target = random.uniform(826, 846)
        told = suggest(size_effect(past, "arm", 1), target, recipe.find("arm_a"))
        assert told.size_within_mm[0] < told.size_mm < told.size_within_mm[1]
        assert told.leave_mm is not None
        for _ in range(10):
            gap, arm_b, height = random.normal(0, (0.05, 0.3, 0.2))
            one = BentStrip(told.size_mm, 36.0 + arm_b, 2.0 + gap, 19.0 + height)
            within += told.lands_mhz[0] <= dip_mhz(one, 1) <= told.lands_mhz[1]
            left = dataclasses.replace(one, arm_a_mm=told.leave_mm)
            long_still += dip_mhz(left, 1) <= target
            trials += 1
    assert within / trials == pytest.approx(0.95, abs=0.03)
    assert long_still / trials == pytest.approx(0.975, abs=0.02)


def test_what_can_be_bent_both_ways_is_not_left_long(whole: Batch, recipe: Recipe) -> None:
    arm = dataclasses.replace(recipe.find("arm_a"), cut=False)
    assert suggest(size_effect(whole, "arm_a", 1), 836.0, arm).leave_mm is None
    assert suggest(size_effect(whole, "arm_a", 1), 836.0).leave_mm is None


def test_beyond_what_was_cut_is_said(whole: Batch) -> None:
    assert suggest(size_effect(whole, "arm_a", 1), 780.0).beyond


def test_each_size_is_held_against_the_dip_it_moves(whole: Batch, recipe: Recipe) -> None:
    found = all_size_effects(whole, recipe)
    assert [(each.dimension, each.label) for each in found] == [
        ("arm_a", "arm A"), ("arm_b", "arm B"), ("feed_gap", "the feed gap"),
        ("height", "the height"),
    ]  # fmt: skip
    assert [each.dip for each in found[:2]] == [1, 2]
    unnamed = {each.dimension: each for each in all_size_effects(whole, NO_RECIPE)}
    assert unnamed["arm_a"].dip == 1  # the one it goes with best
    assert unnamed["arm_b"].dip == 2
    assert unnamed["arm_b"].label == "arm_b"


SIZES = [84.0, 84.5, 85.0, 85.5, 86.0, 86.5]


def test_too_few_records_suggest_nothing(summaries: list[RecordSummary]) -> None:
    few = size_effect(made(SIZES[:4], [840, 836, 831, 827], summaries[0]), "arm", 1)
    assert few.why_not.startswith("4 records tell both the size and the dip; it takes 5 to suggest")
    with pytest.raises(RecordError, match="4 records tell both"):
        suggest(few, 836)
    enough = size_effect(
        made(SIZES[:LEAST_RECORDS], [840, 836, 831, 827, 822], summaries[0]), "arm", 1
    )
    assert suggest(enough, 836).size_mm == pytest.approx(84.46, abs=0.05)


def test_sizes_too_much_alike_suggest_nothing(summaries: list[RecordSummary]) -> None:
    for sizes in ([85.5] * 6, [85.5, 85.5, 85.5, 86.0, 86.0, 86.0]):
        alike = size_effect(made(sizes, [840, 836, 831, 827, 822, 818], summaries[0]), "arm", 1)
        assert "too much alike to tell what a millimetre does" in alike.why_not
        with pytest.raises(RecordError, match="Cut the next one a little longer or shorter"):
            suggest(alike, 830)


def test_a_dip_that_does_not_follow_suggests_nothing(summaries: list[RecordSummary]) -> None:
    loose = size_effect(made(SIZES, [830, 841, 826, 838, 829, 836], summaries[0]), "arm", 1)
    assert loose.line is not None
    with pytest.raises(RecordError, match=r"does not follow this size surely: a millimetre may do"):
        suggest(loose, 830)


def test_a_size_or_dip_that_is_not_there_is_refused_with_those_that_are(
    whole: Batch, summaries: list[RecordSummary]
) -> None:
    with pytest.raises(RecordError, match=r'No record has the dimension "leg"\. They have: arm_a,'):
        size_effect(whole, "leg", 1)
    with pytest.raises(RecordError, match=r"The batch has no dip 3\. It has 2"):
        size_effect(whole, "arm_a", 3)
    with pytest.raises(RecipeError, match=r"arm_a_mm is the size arm_a, .*: write arm_a"):
        chosen_size_effects(whole, NO_RECIPE, "arm_a_mm", None)
    both = batch([dataclasses.replace(summaries[0], sizes_mm={"arm_a": 85.0, "arm_a_mm": 84.0})])
    assert [each.dimension for each in all_size_effects(both, NO_RECIPE)] == ["arm_a", "arm_a_mm"]
    bare = batch([dataclasses.replace(summaries[0], sizes_mm={})])
    with pytest.raises(
        RecordError, match=r"No record tells its dimensions\. Give them to `accept`"
    ):
        size_effect(bare, "arm_a", 1)
    assert all_size_effects(bare, NO_RECIPE) == ()
