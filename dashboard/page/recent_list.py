"""What was used lately, as the page offers it: plans, recipes, and calibrations with their age."""

from __future__ import annotations

import contextlib
import hashlib
from datetime import datetime
from typing import Any

from dash import html

from acceptance.plan.recipe import NO_RECIPE, Recipe, parse_recipe
from acquire.errors import BandwrightError
from dashboard.bench.composed_bench import Bench
from dashboard.bench.kept_calibrations import KeptCalibration
from dashboard.errors import NotNowError
from dashboard.page.plan_form import read_plan


def kept_calibrations() -> html.Div:
    """Where the page's script lists calibrations made before."""
    return html.Div(
        [html.H3("Use a calibration made before"), html.Ul(id="kept-list")],
        id="kept-calibrations",
        hidden=True,
    )


def recent_list(bench: Bench, now: datetime) -> dict[str, Any]:
    """All that is offered, with what is in use left out of the calibrations. Reads files."""
    shown = bench.snapshot()
    held = shown.calibration.calibration
    return {
        "plans": [
            {
                "key": each.key,
                "text": each.text,
                "name": plan.name,
                "words": _bands(len(plan.targets)),
            }
            for each in bench.recent_files.newest("plan")
            if (plan := _plan(each.text)) is not None
        ],
        "recipes": [
            {"key": key, "name": recipe.name, "in_use": recipe.text == shown.recipe.text}
            for key, recipe in recent_recipes(bench).items()
        ],
        "recipe": shown.recipe.name,
        "calibrations": [
            {
                "key": calibration_key(each),
                "today": each.today(now),
                "whole": each.whole(shown.plan),
                "words": f"{_made(each)}, {each.age_words(now)}: {each.covered_words(shown.plan)}",
            }
            for each in bench.kept_calibrations()
            if held is None or held.made != each.calibration.made
        ],
    }


def recent_recipes(bench: Bench) -> dict[str, Recipe]:
    """Recipes used lately, by what they are asked for by."""
    found = {}
    for each in bench.recent_files.newest("recipe"):
        with contextlib.suppress(BandwrightError):
            found[each.key] = parse_recipe(each.text, "used lately")
    return found


def chosen_recipe(bench: Bench, key: str) -> Recipe:
    """The recipe that the page asked for; none for an empty key. Raises NotNowError."""
    if key == "":
        return NO_RECIPE
    recipe = recent_recipes(bench).get(key)
    if recipe is None:
        raise NotNowError("That recipe is not kept any more. Choose another one.")
    return recipe


def chosen_calibration(bench: Bench, key: str) -> KeptCalibration:
    """The calibration that the page asked for, of those offered. Raises NotNowError."""
    for each in bench.kept_calibrations():
        if calibration_key(each) == key:
            return each
    raise NotNowError("That calibration is not there any more. Calibrate, or choose another one.")


def use_recipe(bench: Bench, recipe: str) -> str:
    """Advise by a recipe used lately, by none for an empty key; what was done, in words."""
    chosen = chosen_recipe(bench, recipe)
    bench.use_recipe(chosen)
    return f"The advice follows the recipe {chosen.name} now." if recipe else "No recipe is in use."


def use_calibration(bench: Bench, calibration: str) -> str:
    """Correct by a calibration that is offered; what was done, in words."""
    chosen = chosen_calibration(bench, calibration)
    bench.use_calibration(chosen)
    made = chosen.calibration.taken_at.astimezone()
    return (
        f"The calibration of {made:%Y-%m-%d %H:%M} is in use. Put one standard back to check that "
        "it still holds."
    )


def calibration_key(kept: KeptCalibration) -> str:
    """What a page asks for one by: no path, which would have this machine read any file."""
    return hashlib.sha256(f"{kept.path}\0{kept.calibration.made}".encode()).hexdigest()[:16]


def _plan(text: str) -> Any:
    with contextlib.suppress(BandwrightError):
        return read_plan(text)
    return None


def _bands(count: int) -> str:
    return f"{count} range" if count == 1 else f"{count} ranges"


def _made(kept: KeptCalibration) -> str:
    return f"{kept.calibration.taken_at.astimezone():%Y-%m-%d %H:%M}"
