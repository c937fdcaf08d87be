"""A plan to start from, by region: a suggestion, no statement of what is licensed where."""

from __future__ import annotations

import difflib
from collections.abc import Sequence

from acceptance.bands.band_table import BandTable, Region
from acceptance.errors import BandError
from acceptance.limits.limit import Limit
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import parse_plan


def region_plan_text(region: str, limit: Limit, regions: Sequence[Region]) -> str:
    """Write a plan for the bands a region is suggested to use: a start to edit, no statement of
    what is licensed there.

    A band that LTE and NR both use is written once, as LTE: the antenna is the same.
    Raises BandError, naming the nearest, for a region that is not in the table.
    """
    rows = [row for row in regions if row.name == region]
    if not rows:
        names = sorted({row.name for row in regions})
        near = difflib.get_close_matches(region, names, n=1)
        hint = f' Did you mean "{near[0]}"?' if near else ""
        raise BandError(f'There is no region "{region}".{hint} There are: {", ".join(names)}.')
    lines = [
        "# A suggestion to edit, not a statement of what is licensed where.",
        f'name = "{region}"',
    ]
    written: set[int] = set()
    for row in sorted(rows, key=lambda row: row.system):
        for number in row.numbers:
            if number not in written:
                written.add(number)
                lines += ["", "[[band]]", f"{row.system} = {number}"]
                lines.append(f"{limit.metric} = {limit.value:g}")
    return "\n".join(lines) + "\n"


def plan_for_region(region: str, limit: Limit, regions: Sequence[Region], bands: BandTable) -> Plan:
    """Return region_plan_text's plan."""
    return parse_plan(region_plan_text(region, limit, regions), f"region {region}", bands)
