"""Two JSON values held against each other, and the first place named where they differ."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import cast

TOLERANCE = 1e-9
"""Relative, or absolute below 1: two machines' arithmetic may differ in the last digits."""

MOST_SHOWN = 300


def first_difference(
    recorded: object,
    recomputed: object,
    where: str = "",
    *,
    tolerance: float = TOLERANCE,
    new_keys: bool = False,
) -> str:
    """Name the first place where two JSON values differ; empty where they agree.

    Numbers agree within the tolerance, all else exactly. new_keys : True where what is recomputed
        only makes no difference.
    """
    if isinstance(recorded, Mapping) and isinstance(recomputed, Mapping):
        if new_keys:
            recomputed = {key: each for key, each in recomputed.items() if key in recorded}
        return _of_tables(recorded, recomputed, where, tolerance, new_keys=new_keys)
    if _is_list(recorded) and _is_list(recomputed):
        return _of_lists(
            cast("Sequence[object]", recorded),
            cast("Sequence[object]", recomputed),
            where,
            tolerance,
            new_keys=new_keys,
        )
    if _is_number(recorded) and _is_number(recomputed):
        one, other = cast("float", recorded), cast("float", recomputed)
        same = math.isclose(one, other, rel_tol=tolerance, abs_tol=tolerance)
    else:
        same = type(recorded) is type(recomputed) and recorded == recomputed
    if same:
        return ""
    return f"{where} is {_shown(recorded)} recorded and {_shown(recomputed)} recomputed"


def _shown(value: object) -> str:
    """A value as it is written, as far as anyone reads: what is recorded may be of any size."""
    if _is_list(value) or isinstance(value, Mapping):
        return f"{len(cast('Sequence[object]', value))} values"
    if isinstance(value, str):
        return repr(value if len(value) <= MOST_SHOWN else f"{value[:MOST_SHOWN]}...")
    return repr(value)


def _of_tables(
    recorded: Mapping[str, object],
    recomputed: Mapping[str, object],
    where: str,
    tolerance: float,
    *,
    new_keys: bool,
) -> str:
    for key in dict.fromkeys([*recorded, *recomputed]):
        place = f"{where}.{key}" if where else str(key)
        if key not in recorded or key not in recomputed:
            return f"{place} is {'recomputed' if key in recomputed else 'recorded'} only"
        found = first_difference(
            recorded[key], recomputed[key], place, tolerance=tolerance, new_keys=new_keys
        )
        if found:
            return found
    return ""


def _of_lists(
    recorded: Sequence[object],
    recomputed: Sequence[object],
    where: str,
    tolerance: float,
    *,
    new_keys: bool,
) -> str:
    if len(recorded) != len(recomputed):
        return f"{where} has {len(recorded)} entries recorded and {len(recomputed)} recomputed"
    for number, (one, other) in enumerate(zip(recorded, recomputed, strict=True)):
        place = f"{where}[{_called(one, number)}]"
        found = first_difference(one, other, place, tolerance=tolerance, new_keys=new_keys)
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


def without_keys(value: object, keys: Collection[str]) -> object:
    """A JSON value with these keys left out of every object in it."""
    if isinstance(value, Mapping):
        table = cast("Mapping[str, object]", value)
        return {key: without_keys(each, keys) for key, each in table.items() if key not in keys}
    if _is_list(value):
        return [without_keys(each, keys) for each in cast("Sequence[object]", value)]
    return value
