"""HTML attributes whose names Python cannot spell: data-... and aria-...."""

from __future__ import annotations

import json
from typing import Any


def data(**values: str) -> dict[str, Any]:
    """`data-` attributes; an underscore in a name becomes a dash."""
    return {f"data-{name.replace('_', '-')}": value for name, value in values.items()}


def aria(**values: str) -> dict[str, Any]:
    """`aria-` attributes."""
    return {f"aria-{name}": value for name, value in values.items()}


def wish(do: str) -> dict[str, Any]:
    """What a press of a button asks for; see `dashboard.callbacks`."""
    return data(wish=json.dumps({"do": do}))
