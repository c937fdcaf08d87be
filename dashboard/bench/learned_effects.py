"""What earlier antennas of a recipe taught, kept in the user's own folder as JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from acceptance.plan.recipe import Recipe
from acceptance.plan.size_names import one_spelling
from acceptance.record.acceptance_record import safe_name
from acceptance.tuning.dimension_effect import Effect, Estimate, Learned
from acquire.files.atomic_write import write_whole
from acquire.files.bounded_read import read_at_most

LARGEST_FILE = 1_000_000

_STRICT = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)
_Pair = Annotated[list[float], Field(min_length=2, max_length=2)]


class _Row(BaseModel):
    model_config = _STRICT
    dimension: str
    dip: int
    shift: _Pair
    """Mean and deviation of d ln(f) per mm."""
    depth: _Pair


class _File(BaseModel):
    model_config = _STRICT
    what: Literal["learned dimensions"]
    version: Literal[1]
    recipe: str
    learned: Annotated[list[_Row], Field(max_length=1000)]


def load(folder: Path | None, recipe: Recipe) -> Learned:
    """What was learned of a recipe; nothing where there is none, or it cannot be read."""
    if folder is None:
        return {}
    path = _path(folder, recipe)
    try:
        file = _File.model_validate_json(read_at_most(path, LARGEST_FILE))
    except (OSError, ValidationError):
        return {}
    names = {each.name for each in recipe.dimensions}
    return {
        (one_spelling(row.dimension), row.dip): Effect(Estimate(*row.shift), Estimate(*row.depth))
        for row in file.learned
        if one_spelling(row.dimension) in names and min(row.shift[1], row.depth[1]) >= 0
    }


def keep(folder: Path | None, recipe: Recipe, learned: Learned) -> None:
    """Keep what was learned; a disk that is full must not stop anybody's tuning."""
    if folder is None:
        return
    rows = [
        {
            "dimension": dimension,
            "dip": dip,
            "shift": [effect.shift.mean, effect.shift.sd],
            "depth": [effect.depth.mean, effect.depth.sd],
        }
        for (dimension, dip), effect in learned.items()
    ]
    content = {"what": "learned dimensions", "version": 1, "recipe": recipe.name, "learned": rows}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(_path(folder, recipe), (json.dumps(content, indent=1) + "\n").encode())
    except OSError:
        return


def _path(folder: Path, recipe: Recipe) -> Path:
    return folder / f"{safe_name(recipe.name)}.json"
