"""How a size of an antenna is named: one spelling, so that one size is never taken for two.

All sizes are millimetres and stand under `sizes_mm`, so a name does not say so again: `arm_a`, and
not `arm_a_mm`, as recipes and records of former versions had it too.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from acceptance.errors import RecipeError

UNIT = "_mm"


def require_size_name(name: str, where: str = "") -> None:
    """Raise RecipeError, with the right spelling, where a size is named with its unit.

    where : what the message begins with, such as "Recipe strip.toml: ".
    """
    if name.endswith(UNIT) and name != UNIT:
        raise RecipeError(
            f"{where}{name} is the size {name.removesuffix(UNIT)}, in mm as all sizes are: write "
            f"{name.removesuffix(UNIT)}."
        )


def one_spelling(name: str, beside: Collection[str] = ()) -> str:
    """A name that was kept by a former version, in the present spelling.

    beside : the names that stand with it. Where the present spelling is another one's, it stays.
    """
    plain = name.removesuffix(UNIT)
    return name if not plain or (plain != name and plain in beside) else plain


def sizes_by_one_spelling(sizes_mm: Mapping[str, float]) -> dict[str, float]:
    """Sizes that were kept by a former version, by their names in the present spelling."""
    return {one_spelling(name, sizes_mm.keys()): size for name, size in sizes_mm.items()}
