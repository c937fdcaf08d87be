"""Advice from one sweep alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from acceptance.errors import RecipeError
from acceptance.tuning.sweep_advice import advise_on_sweep
from tests.acceptance.made import PLAN_TEXT, RECIPE_TEXT, calibration, plan, recipe, sweeps
from tests.wording import missing_words

CALIBRATION = calibration()
PLAN = plan(PLAN_TEXT.replace("return_loss_db = 8", "return_loss_db = 10"))
(HIGH,) = sweeps(850e6, count=1)
(LOW,) = sweeps(800e6, count=1)


def test_a_dip_too_high_wants_a_longer_arm_and_one_too_low_a_shorter_one() -> None:
    longer = advise_on_sweep(PLAN, HIGH, CALIBRATION, recipe=recipe())
    shorter = advise_on_sweep(PLAN, LOW, CALIBRATION, recipe=recipe())
    assert longer.dimension == shorter.dimension == "arm_a"
    assert longer.delta_mm is not None
    assert shorter.delta_mm is not None
    assert shorter.delta_mm < 0 < longer.delta_mm


def test_without_a_recipe_it_is_by_scaling() -> None:
    advice = advise_on_sweep(PLAN, HIGH, CALIBRATION)
    assert advice.dimension is None
    assert not missing_words(advice.action, "Lengthen", "850 MHz dip", "%")
    assert not missing_words(advice.reason, "band 20", "needs it near")


def test_the_recipe_may_be_a_file(tmp_path: Path) -> None:
    (tmp_path / "recipe.toml").write_text(RECIPE_TEXT, encoding="utf-8")
    by_file = advise_on_sweep(PLAN, HIGH, CALIBRATION, recipe=tmp_path / "recipe.toml")
    assert by_file == advise_on_sweep(PLAN, HIGH, CALIBRATION, recipe=recipe())
    with pytest.raises(RecipeError, match=r"nothing\.toml"):
        advise_on_sweep(PLAN, HIGH, CALIBRATION, recipe=tmp_path / "nothing.toml")
