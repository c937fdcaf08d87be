"""The files of acceptance that are read: tables and plans."""

from __future__ import annotations

import functools
import importlib.metadata
import importlib.resources
from pathlib import Path

from acceptance.bands import (
    BandTable,
    Region,
    Service,
    parse_bands,
    parse_regions,
    parse_services,
)
from acceptance.errors import PlanError, RecipeError
from acceptance.limit import Preset, parse_presets
from acceptance.plan import Plan
from acceptance.plan_table import parse_plan
from acceptance.recipe import Recipe, parse_recipe
from acquire.bounded import read_text


@functools.cache
def load_bands() -> BandTable:
    """Return the shipped band table."""
    return parse_bands(_shipped("bands.csv"))


@functools.cache
def load_regions() -> tuple[Region, ...]:
    """Return the shipped suggestions by region."""
    return parse_regions(_shipped("regions.csv"))


@functools.cache
def load_services() -> tuple[Service, ...]:
    """Return the shipped services other than cellular."""
    return parse_services(_shipped("services.csv"))


@functools.cache
def load_presets() -> tuple[Preset, ...]:
    """Return the shipped limits in common use."""
    return parse_presets(_shipped("limits.csv"))


def load_plan(path: Path) -> Plan:
    """Read a plan's file; raise PlanError where it cannot be read or used."""
    text = read_text(path, "The plan", PlanError)
    return parse_plan(text, str(path), load_bands(), load_presets())


def load_recipe(path: Path) -> Recipe:
    """Read a recipe's file; raise RecipeError where it cannot be read or used."""
    return parse_recipe(read_text(path, "The recipe", RecipeError), path.name)


def software() -> str:
    """Return this program's name and version, for records."""
    try:
        return f"bandwright {importlib.metadata.version('bandwright')}"
    except importlib.metadata.PackageNotFoundError:
        return "bandwright, not installed"


def _shipped(name: str) -> str:
    return importlib.resources.files("acceptance").joinpath(name).read_text(encoding="utf-8")
