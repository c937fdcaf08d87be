"""A recipe: which dimensions an antenna of one kind has, and what is expected of each.

Written by a person as TOML:

    name = "bent strip"
    feed_at_connector = true      # no cable between the connector and the feed

    [[dimension]]
    name = "arm_a"
    label = "arm A"
    length_mm = 85.0              # what scales: df/f = -dL/L; left out where it moves no dip
    moves = 1                     # which dip, counted from the lowest, it moves
    step_mm = 0.5                 # what a hand can do
    more, less = "Lengthen", "Shorten"
    cut = true                    # what is taken off does not come back

Every key of a dimension but `name` has a default.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from acceptance.errors import RecipeError
from acceptance.plan.size_names import one_spelling, require_size_name
from acquire.files.doubtful_figure import doubtful_figures
from acquire.files.toml_file import first_fault, toml_table


@dataclass(frozen=True, slots=True)
class Dimension:
    """One dimension that a hand can change."""

    name: str
    label: str
    """As it is said: "arm A"."""
    length_mm: float | None
    """What scales with it; None where it moves no dip by itself."""
    moves: int | None
    """Which dip it moves, counted from the lowest, 1 the first; None: unknown."""
    step_mm: float
    """What a hand can do, and what a tap of a button stands for."""
    more: str
    less: str
    """What it is called to make it larger, and smaller."""
    cut: bool
    """True where making it smaller takes metal away for good."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """Antennas that are built alike."""

    name: str
    dimensions: tuple[Dimension, ...]
    feed_at_connector: bool
    """True where the calibrated plane is the antenna's feed: resistance can then be told."""
    text: str
    """The TOML it was read from."""
    warnings: tuple[str, ...] = ()
    """Which of its figures are hardly what was meant; a sentence each."""

    def find(self, name: str) -> Dimension:
        """One dimension by its name. Raises RecipeError, with the names there are."""
        for each in self.dimensions:
            if each.name == name:
                return each
        names = ", ".join(each.name for each in self.dimensions)
        raise RecipeError(f"The recipe {self.name} has no {name}. It has: {names}.")


_STRICT = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)
_Line = Annotated[
    str, StringConstraints(min_length=1, max_length=60, pattern=r"^[^\p{C}\p{Zl}\p{Zp}]+$")
]


NO_RECIPE = Recipe("no recipe", (), False, "")
"""Nothing is known of how the antenna is built."""


class _Dimension(BaseModel):
    model_config = _STRICT

    name: Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]{0,29}$")] = Field(
        description="small letters, digits and underscores, at most 30"
    )
    label: _Line | None = Field(None, description="how it is said, such as 'arm A'")
    length_mm: Annotated[float, Field(gt=0, le=10_000)] | None = Field(
        None, description="the length that scales, above 0 to 10000 mm"
    )
    moves: Annotated[int, Field(ge=1, le=20)] | None = Field(
        None, description="which dip it moves, counted from the lowest: 1, 2, ..."
    )
    step_mm: Annotated[float, Field(gt=0, le=100)] = Field(
        0.5, description="what a hand can do, above 0 to 100 mm"
    )
    more: _Line = Field("Lengthen", description="a verb, such as 'Lengthen'")
    less: _Line = Field("Shorten", description="a verb, such as 'Shorten'")
    cut: bool = Field(False, description="true or false")


class _File(BaseModel):
    model_config = _STRICT

    name: _Line = Field(description="what this kind of antenna is called, at most 60 letters")
    feed_at_connector: bool = Field(False, description="true or false")
    dimension: Annotated[list[_Dimension], Field(min_length=1, max_length=20)] = Field(
        description='one table a dimension, each below "[[dimension]]"'
    )


def parse_recipe(text: str, origin: str, *, kept: bool = False) -> Recipe:
    """Read a recipe's text. Raises RecipeError, one sentence with the field and the cure.

    kept : True for one that was kept with a record, in which a former version may have let a
        dimension be named with its unit.
    """
    table = toml_table(text, f"Recipe {origin}", RecipeError)
    try:
        file = _File.model_validate(table)
    except ValidationError as error:
        inside = "dimension" in error.errors(include_url=False)[0]["loc"][:1]
        model = _Dimension if inside and len(error.errors()[0]["loc"]) > 2 else _File
        raise RecipeError(first_fault(f"Recipe {origin}", error, model)) from None
    names = [each.name for each in file.dimension]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise RecipeError(f"Recipe {origin}: the dimension {twice} stands twice. Remove one.")
    if kept:
        names = [one_spelling(name, names) for name in names]
    else:
        for name in names:
            require_size_name(name, f"Recipe {origin}: ")
    dimensions = tuple(
        Dimension(
            name,
            each.label or name.replace("_", " "),
            each.length_mm,
            each.moves,
            each.step_mm,
            each.more,
            each.less,
            each.cut,
        )
        for name, each in zip(names, file.dimension, strict=True)
    )
    warnings = tuple(
        sentence
        for each in file.dimension
        for sentence in doubtful_figures(each.model_dump(), f"Recipe {file.name}, {each.name}")
    )
    return Recipe(file.name, dimensions, file.feed_at_connector, text, warnings)
