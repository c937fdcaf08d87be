"""What a profile would send, for a person to look at before it is sent."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Sequence
from typing import Any

from acquire.analyzer.profile import Profile

_ALARMING = re.compile(
    r"rst|rese|boot|dfu|flash|firm|upgr|eras|dele|wipe|purg|sav|stor|mmem|prog|\bwr|poke|secu|"
    r"\bcal:|diag|pres",
    re.IGNORECASE,
)
"""In words that reset, store, erase or flash: too many rather than too few."""


def words_of(profile: Profile) -> list[str]:
    """All that a profile puts on the wire, as "key = value", in the file's order."""
    words = profile.model_dump(mode="json")["words"]
    return [f"{key} = {value}" for key, value in _flat(words) if value not in ("", None)]


def alarming(words: Sequence[str]) -> list[str]:
    """Those of them that look as if they reset, store, erase or flash something.

    Of registers nobody can tell what a number does. A word that is not among these may do it too.
    """
    return [each for each in words if _ALARMING.search(each.partition(" = ")[2])]


def sum_of(profile: Profile) -> str:
    """SHA-256 of what a profile says, whatever its file's comments and order; hexadecimal."""
    contents = json.dumps(profile.model_dump(mode="json"), sort_keys=True)
    return hashlib.sha256(contents.encode()).hexdigest()


def _flat(table: dict[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _flat(value, f"{before}{key}.")
        elif isinstance(value, list):
            yield f"{before}{key}", ", ".join(map(str, value))
        else:
            yield f"{before}{key}", value
