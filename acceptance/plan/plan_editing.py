"""A plan's text edited: one thing changes, and comments, order and all else stay as they were.

The text is the plan. A form over it changes the text through these functions and is drawn anew from
what came out, so that both always say the same. Every change is made twice, to the text and to what
the text means, and given back only where the two agree.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, MutableMapping, Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT, Comment, Table, Whitespace

from acceptance.bands.band_table import System
from acceptance.errors import PlanError
from acceptance.limits.limit import Limit, Metric
from acquire.files.toml_file import toml_table

SUGGESTION = "# A suggestion to edit, not a statement of what is licensed where."
LONGEST_TEXT = 200_000
"""Characters of a plan that is edited by a form; 200 bands take a tenth."""
METRICS: tuple[Metric, ...] = ("return_loss_db", "vswr")
LIMIT_KEYS = (*METRICS, "limit")
LINKS = ("uplink", "downlink")
_HEADER = re.compile(r"^[ \t]*\[\[\s*band\s*\]\]", re.MULTILINE)
BY_HAND = "The form cannot change that here. Change it in the plan file instead."

PlanTable = MutableMapping[str, Any]
"""A plan as a table: of the text, or of what it means."""


def use_name(text: str, name: str) -> str:
    """Call the plan by another name."""

    def change(plan: PlanTable) -> None:
        plan["name"] = name

    return _edited(text, change)


def add_band(text: str, system: System, number: int, limit: Limit) -> str:
    """Add an operating band at the end."""
    return _added(text, {system: number}, limit)


def add_range(text: str, name: str, low_mhz: float, high_mhz: float, limit: Limit) -> str:
    """Add a range of one's own at the end."""
    entry = {"name": name, "low_mhz": _number(low_mhz), "high_mhz": _number(high_mhz)}
    return _added(text, entry, limit)


def remove_band(text: str, at: int) -> str:
    """Remove a band, counted from 0; a comment above the next one stays."""

    def change(plan: PlanTable) -> None:
        del plan["band"][at]
        if not plan["band"]:
            del plan["band"]

    made = _edited(text, change, at)
    entries: Any = tomlkit.parse(text).get("band")
    kept = _comments_behind(entries[at]) if isinstance(entries, AoT) else ""
    if not kept and at == len(table(made).get("band", [])):
        made = made.rstrip("\n") + "\n"  # as if it had never been added
    if not kept:
        return made
    below = [each.start() for each in _HEADER.finditer(made)][at:]
    place = below[0] if below else len(made)
    with_comments = made[:place] + kept + made[place:]
    return with_comments if table(with_comments) == table(made) else made


def use_bands(
    text: str, numbers: Sequence[tuple[System, int]], limit: Limit, remark: str = ""
) -> str:
    """Replace all bands by these, each with the limit; all else stays.

    remark : a comment to put above them, where it is not in the text already.
    """

    def change(plan: PlanTable) -> None:
        plan.pop("band", None)

    bare = _edited(text, change).rstrip("\n")
    entries = "".join(
        f"\n[[band]]\n{system} = {number}\n{limit.metric} = {_number(limit.value)}\n"
        for system, number in numbers
    )
    above = f"\n{remark}" if remark and remark not in bare else ""
    made = f"{bare}\n{above}{entries}"
    table(made)  # a text that ended inside a table of its own has no place for them
    return made


def use_limit(text: str, limit: Limit) -> str:
    """Let every band have the one limit, on both links."""

    def change(plan: PlanTable) -> None:
        for entry in plan.get("band", []):
            for link in LINKS:
                entry.pop(link, None)
            _put_limit(entry, limit)

    return _edited(text, change)


def use_limit_of(text: str, at: int, limit: Limit, link: str = "") -> str:
    """Let one band have another limit; or one link of it.

    at : counted from 0. link : "uplink" or "downlink"; empty: where a link has none of its own.
    """

    def change(plan: PlanTable) -> None:
        entry = plan["band"][at]
        if link == "":
            _put_limit(entry, limit)
        elif link in entry:
            _put_limit(entry[link], limit)
        else:
            entry[link] = _inline(entry, {limit.metric: _number(limit.value)})

    return _edited(text, change, at)


def join_links(text: str, at: int) -> str:
    """Let both links of a band have its one limit again."""

    def change(plan: PlanTable) -> None:
        entry = plan["band"][at]
        own = [entry.pop(link) for link in LINKS if link in entry]
        if not any(key in entry for key in LIMIT_KEYS):  # each link had its own: the first is kept
            for key, value in own[0].items():
                entry[key] = value

    return _edited(text, change, at)


def use_conditions(text: str, conditions: Sequence[str], judged: Sequence[str]) -> str:
    """Sweep the antenna in these states, in this order; those of `judged` decide.

    None of `judged` : the last one decides, as where nothing is written.
    """

    def change(plan: PlanTable) -> None:
        for key, names in (("conditions", conditions), ("judged", judged)):
            if not names:
                plan.pop(key, None)
            elif list(plan.get(key, [])) != list(names):
                plan[key] = list(names)

    return _edited(text, change)


def table(text: str) -> dict[str, Any]:
    """What a plan's text holds, whatever it means. Raises PlanError where it is no TOML."""
    return toml_table(text, "The plan", PlanError, LONGEST_TEXT)


def _added(text: str, entry: dict[str, Any], limit: Limit) -> str:
    whole = {**entry, limit.metric: _number(limit.value)}

    def change(plan: PlanTable) -> None:
        if "band" in plan:
            plan["band"].append(whole)
        elif isinstance(plan, tomlkit.TOMLDocument):
            entries = tomlkit.aot()
            entries.append(tomlkit.item(whole))
            plan["band"] = entries
        else:
            plan["band"] = [whole]

    return _edited(_spaced(text), change)


def _spaced(text: str) -> str:
    """The text with an empty line at its end, for what is put below."""
    return text if not text.strip() or text.endswith("\n\n") else text.rstrip("\n") + "\n\n"


def _edited(text: str, change: Callable[[PlanTable], None], at: int | None = None) -> str:
    """The text after a change that is made to it and to what it means, which then must agree.

    at : the band it is about, counted from 0. Raises PlanError.
    """
    wanted = table(text)
    bands: Any = wanted.get("band", [])
    if not isinstance(bands, list) or not all(isinstance(each, dict) for each in bands):
        raise PlanError(BY_HAND)
    if at is not None and not 0 <= at < len(bands):
        raise PlanError("That band is not in the plan any more. Look at the plan, then try again.")
    try:
        document = tomlkit.parse(text.removeprefix("\ufeff"))
        change(document)
        change(wanted)
        made = tomlkit.dumps(document)
        if tomllib.loads(made) == wanted:
            return made
    except Exception as error:  # whatever a library makes of a text that is legal but odd
        raise PlanError(BY_HAND) from error
    raise PlanError(BY_HAND)


def _put_limit(entry: PlanTable, limit: Limit) -> None:
    """Write a limit in its metric; one that says the same is left as it is written."""
    for key in LIMIT_KEYS:
        if key != limit.metric:
            entry.pop(key, None)
    written = entry.get(limit.metric)
    same = isinstance(written, int | float) and abs(written) == limit.value
    if not same:
        entry[limit.metric] = _number(limit.value)


def _inline(entry: PlanTable, values: dict[str, Any]) -> Any:
    """A table on one line, where the entry is text."""
    if isinstance(entry, dict) and not isinstance(entry, Table):
        return dict(values)
    line = tomlkit.inline_table()
    line.update(values)
    return line


def _number(value: float) -> int | float:
    """As a person writes it: 10, not 10.0."""
    return int(value) if value == int(value) else value


def _comments_behind(entry: Any) -> str:
    """What stands between a band and the next: a parser takes it for the end of the first."""
    body = entry.value.body
    behind = len(body)
    while behind > 0 and isinstance(body[behind - 1][1], Comment | Whitespace):
        behind -= 1
    if behind > 0 and isinstance(body[behind - 1][1], Table):
        return _comments_behind(body[behind - 1][1])
    kept = [item for _, item in body[behind:]]
    if not any(isinstance(item, Comment) for item in kept):
        return ""
    return "".join(item.as_string() for item in kept).lstrip("\n")
