"""Two JSON values held against each other, and the first place named where they differ."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import cast

TOLERANCE = 1e-9
"""Relative, or absolute below 1: two machines' arithmetic may differ in the last digits."""


def first_difference(
    told: object, again: object, where: str = "", *, tolerance: float = TOLERANCE
) -> str:
    """Name the first place where two JSON values differ; empty where they agree.

    Numbers agree within the tolerance, all else exactly.
    """
    if isinstance(told, Mapping) and isinstance(again, Mapping):
        return _of_tables(told, again, where, tolerance)
    if _is_list(told) and _is_list(again):
        return _of_lists(
            cast("Sequence[object]", told), cast("Sequence[object]", again), where, tolerance
        )
    if _is_number(told) and _is_number(again):
        one, other = cast("float", told), cast("float", again)
        same = math.isclose(one, other, rel_tol=tolerance, abs_tol=tolerance)
    else:
        same = type(told) is type(again) and told == again
    return "" if same else f"{where} is {told!r} recorded and {again!r} recomputed"


def _of_tables(
    told: Mapping[str, object], again: Mapping[str, object], where: str, tolerance: float
) -> str:
    for key in dict.fromkeys([*told, *again]):
        place = f"{where}.{key}" if where else str(key)
        if key not in told or key not in again:
            return f"{place} is {'recomputed' if key in again else 'recorded'} only"
        found = first_difference(told[key], again[key], place, tolerance=tolerance)
        if found:
            return found
    return ""


def _of_lists(told: Sequence[object], again: Sequence[object], where: str, tolerance: float) -> str:
    if len(told) != len(again):
        return f"{where} has {len(told)} entries recorded and {len(again)} recomputed"
    for number, (one, other) in enumerate(zip(told, again, strict=True)):
        place = f"{where}[{_called(one, number)}]"
        found = first_difference(one, other, place, tolerance=tolerance)
        if found:
            return found
    return ""


def _called(entry: object, number: int) -> str:
    """An entry by its own name, where it has one."""
    if isinstance(entry, Mapping) and isinstance(entry.get("name"), str):
        link = entry.get("link", "both")
        return f"{entry['name']}" if link == "both" else f"{entry['name']} {link}"
    return str(number)


def _is_list(value: object) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
