"""The layouts that records have had, and what each calls things.

1 held one condition, and everything in `verdict.json`. 2 called both the antenna and the analyzer
`unit`. 3 has a word for each, and places for what later versions add.

Whatever reads a record knows the present words only: what a former layout tells is renamed on its
way in, and what is held against a former layout is renamed on its way out.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acceptance.errors import RecordError
from acceptance.plan.size_names import sizes_by_one_spelling

FIRST, PRESENT = 1, 3

CHECKS = "checks_after_sweep"
"""The place of `record.json` for the checks after the sweep; null where nobody asked for any."""
PIECE = "check_piece"
"""The latest reading of the bench's check piece; missing where there was none."""
CHAIN = "chain"
"""The link to the record before (`acceptance.chain.link`); null or missing in older records."""
STATION = "station"
"""What a station for helpers said of the antenna, and by what it was locked; missing elsewhere."""
RESERVED = (CHECKS, CHAIN, "isolation", "gain", "baseline")
"""Places of `record.json` that former versions left empty, or later ones fill; each may be null, or
missing."""

HEAD_KEYS = {
    "unit": "antenna",
    "dimensions_mm": "sizes_mm",
    "touch": "touch_test",
    "swept": "sweeps_since_calibration",
}
"""What layouts 1 and 2 call what was done, and what it is called now; `swept` stands with each
condition in layout 2."""

SOURCE_KEYS = {"unit": "analyzer", "unit_corrected": "analyzer_corrected"}
"""The same within a `source`, wherever one stands."""

_FORMER_SOURCE_KEYS = {now: then for then, now in SOURCE_KEYS.items()}
_FORMER_VERDICT_KEYS = {"de_embedding": "undone"}
"""What a verdict says now, and what it said in layouts 1 and 2, wherever it stands."""


def require_layout(version: object, name: str) -> None:
    """Raise RecordError where a record is of a later version's layout, or of none there ever was.

    version : as the record tells it, of whatever kind.
    """
    if type(version) is int and version > PRESENT:
        raise RecordError(
            f"The record {name} was written by a later version (layout {version}, this one "
            f"reads up to {PRESENT}). Install the newer version."
        )
    if type(version) is not int or version < FIRST:
        raise RecordError(
            f"The record {name} cannot be read: it names a layout that there never was, "
            f"{repr(version)[:40]}; there are {FIRST} to {PRESENT}. Take it from where it was "
            "copied."
        )


def head_in_present_words(head: Mapping[str, Any], version: int) -> dict[str, Any]:
    """What was done, as a record of any layout tells it, under the present layout's keys.

    head : of `record.json`, or of layout 1's `verdict.json`. Raises AttributeError or TypeError
    where something in it is of another kind than what a record holds.
    """
    if version == PRESENT:
        return dict(head)
    renamed: dict[str, Any] = _with_sources_renamed(_renamed(head, HEAD_KEYS), SOURCE_KEYS)
    if "conditions" in renamed:
        renamed["conditions"] = [_renamed(each, HEAD_KEYS) for each in renamed["conditions"]]
    if "sizes_mm" in renamed:
        renamed["sizes_mm"] = sizes_by_one_spelling(renamed["sizes_mm"])
    return renamed


def verdict_in_words_of(version: int, verdict: Mapping[str, Any]) -> dict[str, Any]:
    """A verdict worked out now, under the keys that a record of this layout has it under."""
    if version == PRESENT:
        return dict(verdict)
    former: dict[str, Any] = _with_sources_renamed(dict(verdict), _FORMER_SOURCE_KEYS)
    return dict(_renamed_throughout(former, _FORMER_VERDICT_KEYS))


def _renamed(table: Mapping[str, Any], keys: Mapping[str, str]) -> dict[str, Any]:
    return {keys.get(key, key): value for key, value in table.items()}


def _with_sources_renamed(value: Any, keys: Mapping[str, str]) -> Any:
    """A JSON value with the keys of every object named `source` in it renamed."""
    if isinstance(value, list):
        return [_with_sources_renamed(each, keys) for each in value]
    if not isinstance(value, dict):
        return value
    renamed = {key: _with_sources_renamed(each, keys) for key, each in value.items()}
    if isinstance(renamed.get("source"), dict):
        renamed["source"] = _renamed(renamed["source"], keys)
    return renamed


def _renamed_throughout(value: Any, keys: Mapping[str, str]) -> Any:
    """A JSON value with these keys renamed in every object in it."""
    if isinstance(value, list):
        return [_renamed_throughout(each, keys) for each in value]
    if not isinstance(value, dict):
        return value
    return {keys.get(key, key): _renamed_throughout(each, keys) for key, each in value.items()}
