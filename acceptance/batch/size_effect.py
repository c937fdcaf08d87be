"""What was cut and what it gave: a dimension against a dip, over all records of a recipe.

Whatever else differed between the antennas lies in the scatter about the line, and so in every
interval told here. What is told holds for antennas built alike, within what was cut so far.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acceptance.batch.recipe_batch import Batch, Built
from acceptance.batch.straight_line import Line, fit
from acceptance.errors import RecordError
from acceptance.plan.recipe import Dimension, Recipe
from acceptance.plan.size_names import require_size_name

LEAST_RECORDS = 5
"""With fewer nothing is suggested [practice]."""
LEAST_SIZES = 3
"""So many sizes that differ, at least."""
LEAST_DIFFERENCE_MM = 0.05


@dataclass(frozen=True, slots=True)
class SizeEffect:
    """One dimension against one dip."""

    dimension: str
    label: str
    dip: int
    """Its number in the batch, counted from 1."""
    built: tuple[Built, ...]
    """The records that tell both."""
    sizes_mm: tuple[float, ...]
    dips_mhz: tuple[float, ...]
    line: Line | None
    """MHz over mm; None where there is too little for one."""
    why_not: str
    """Why nothing can be suggested, with what would help; empty where something can."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """The next cut for a target."""

    target_mhz: float
    size_mm: float
    """Where the line comes to the target."""
    size_within_mm: tuple[float, float]
    """Where the line may truly come to it, 95 %."""
    lands_mhz: tuple[float, float]
    """Where the next single antenna of that size will have its dip, 95 %."""
    leave_mm: float | None
    """For metal that does not come back: the size with which the next antenna has, with 97.5 %, not
    been cut too far yet. None where the dimension can be bent both ways."""
    beyond: bool
    """True where the size lies outside what was cut so far."""


def size_effect(batch: Batch, dimension: str, dip: int, label: str = "") -> SizeEffect:
    """Hold one dimension against one dip.

    Raises RecordError where no record has the dimension, or the batch no such dip.
    """
    if not 1 <= dip <= len(batch.dips):
        raise RecordError(
            f"The batch has no dip {dip}. It has {len(batch.dips)}, counted from the lowest."
        )
    observed = [
        (each, each.sizes_mm[dimension], places[dip].frequency_hz / 1e6)
        for each, places in zip(batch.built, batch.places, strict=True)
        if dimension in each.sizes_mm and dip in places
    ]
    if not any(dimension in each.sizes_mm for each in batch.built):
        names = ", ".join(sorted({name for each in batch.built for name in each.sizes_mm}))
        raise RecordError(
            f'No record has the dimension "{dimension}". They have: {names}.'
            if names
            else "No record tells its dimensions. Give them to `accept` with --size."
        )
    sizes, dips = tuple(size for _, size, _ in observed), tuple(mhz for _, _, mhz in observed)
    line = fit(sizes, dips)
    return SizeEffect(
        dimension,
        label or dimension,
        dip,
        tuple(each for each, _, _ in observed),
        sizes,
        dips,
        line,
        _why_not(sizes, line),
    )


def all_size_effects(batch: Batch, recipe: Recipe) -> tuple[SizeEffect, ...]:
    """Every dimension that records tell, against the dip it moves: by the recipe, else the dip it
    goes with best. Dimensions in the recipe's order, others after them by name."""
    known = {each.name: each for each in recipe.dimensions}
    observed = {name for each in batch.built for name in each.sizes_mm}
    names = [name for name in known if name in observed] + sorted(observed - known.keys())
    numbers = range(1, len(batch.dips) + 1)
    found = []
    for name in names:
        dimension = known.get(name)
        label = "" if dimension is None else dimension.label
        moves = None if dimension is None else dimension.moves
        if moves is not None and moves in numbers:
            found.append(size_effect(batch, name, moves, label))
        elif numbers:
            found.append(max((size_effect(batch, name, n, label) for n in numbers), key=_how_well))
    return tuple(found)


def suggest(found: SizeEffect, target_mhz: float, dimension: Dimension | None = None) -> Suggestion:
    """The next cut for a dip at a target.

    dimension : the recipe's, which says whether what is cut off comes back. Raises RecordError,
    with why, where the records do not tell.
    """
    line = found.line
    within = None if line is None or found.why_not else line.x_within(target_mhz)
    if line is None or within is None:
        raise RecordError(found.why_not)
    size = line.x_for(target_mhz)
    leave = None
    if dimension is not None and dimension.cut:
        ends = line.x_within(target_mhz, of_one=True)
        leave = None if ends is None else ends[1]
    return Suggestion(
        target_mhz,
        size,
        within,
        line.next_within(size),
        leave,
        not line.low_x <= size <= line.high_x,
    )


def chosen_size_effects(
    found: Batch, recipe: Recipe, dimension: str, dip: int | None
) -> tuple[SizeEffect, ...]:
    """Each size against its dip, or the one asked for, "" for all.

    Raises RecordError for none, RecipeError for one that is named with its unit.
    """
    every = all_size_effects(found, recipe)
    if not dimension:
        return every
    usual = next((each for each in every if each.dimension == dimension), None)
    if usual is not None and dip in (None, usual.dip):
        return (usual,)
    if usual is None:
        require_size_name(dimension)
    known = _dimension(recipe, dimension)
    return (size_effect(found, dimension, dip or 1, "" if known is None else known.label),)


def suggest_next_sizes(
    against: Sequence[SizeEffect],
    found: Batch,
    target: float | None,
    recipe: Recipe,
    *,
    alone: bool,
) -> list[tuple[SizeEffect, Suggestion | str]]:
    """The next cut of each size that surely moves the dip nearest to a target.

    Where none does, why not, of each.

    alone : the one size that is there was asked for, whatever dip it moves.
    """
    if target is None:
        return []
    nearest = min(
        range(len(found.dips)), key=lambda n: abs(found.dips[n].chart.mean - target), default=0
    )
    wanted = [each for each in against if alone or each.dip == nearest + 1]
    wanted = [each for each in wanted if not each.why_not] or wanted
    observed: list[tuple[SizeEffect, Suggestion | str]] = []
    for each in wanted:
        try:
            observed.append((each, suggest(each, target, _dimension(recipe, each.dimension))))
        except RecordError as error:
            observed.append((each, str(error)))
    return observed


def _dimension(recipe: Recipe, name: str) -> Dimension | None:
    return next((each for each in recipe.dimensions if each.name == name), None)


def _why_not(sizes: Sequence[float], line: Line | None) -> str:
    if len(sizes) < LEAST_RECORDS:
        count = "1 record tells" if len(sizes) == 1 else f"{len(sizes)} records tell"
        return (
            f"{count} both the size and the dip; it takes {LEAST_RECORDS} to suggest a cut. Give "
            "sizes to `accept` with --size."
        )
    different = len({round(each / LEAST_DIFFERENCE_MM) for each in sizes})
    if line is None or different < LEAST_SIZES:
        return (
            f"All {len(sizes)} are between {min(sizes):g} and {max(sizes):g} mm, {different} "
            f"size{'s' if different > 1 else ''} in all: too much alike to tell what a millimetre "
            "does. Cut the next one a little longer or shorter."
        )
    if not line.is_sloped():
        low, high = line.slope_interval()
        return (
            f"The dip does not follow this size surely: a millimetre may do {low:+.1f} to "
            f"{high:+.1f} MHz. Whatever else differs between the antennas does more."
        )
    return ""


def _how_well(found: SizeEffect) -> float:
    """How much of a dip's scatter its line explains."""
    line = found.line
    if line is None or line.scatter <= 0:
        return -math.inf if line is None else math.inf
    return abs(line.slope) * math.sqrt(line.sxx) / line.scatter
