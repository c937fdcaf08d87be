"""Plans, recipes and the limits in common use, read from their files."""

from __future__ import annotations

import functools
from pathlib import Path

from acceptance.bands.load import load_bands, shipped
from acceptance.errors import PlanError, RecipeError
from acceptance.limits.limit import Preset, parse_presets
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import Recipe, parse_recipe
from acquire.files.bounded_read import AnyPath, read_text


@functools.cache
def load_presets() -> tuple[Preset, ...]:
    """Return the shipped limits in common use."""
    return parse_presets(shipped("limits.csv"))


def load_plan(path: AnyPath) -> Plan:
    """Read a plan's file; raise PlanError where it cannot be read or used."""
    text = read_text(Path(path), "The plan", PlanError)
    return parse_plan(text, str(path), load_bands(), load_presets())


def load_recipe(path: AnyPath) -> Recipe:
    """Read a recipe's file; raise RecipeError where it cannot be read or used."""
    path = Path(path)
    return parse_recipe(read_text(path, "The recipe", RecipeError), path.name)
