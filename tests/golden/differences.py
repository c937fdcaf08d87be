"""What differs between the golden outputs that are kept and those made now."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping

from tests.golden.outputs import KEPT

MOST_LINES = 200
"""Of a file's differences that are shown."""


def differences(made: Mapping[str, str]) -> str:
    """Every difference as a unified diff, files that are missing or too many included."""
    kept = {path.name: path.read_bytes().decode("utf-8") for path in sorted(KEPT.iterdir())}
    return "\n".join(_differences(kept, made))


def _differences(kept: Mapping[str, str], made: Mapping[str, str]) -> Iterator[str]:
    for name in sorted(kept.keys() | made.keys()):
        before, after = kept.get(name, ""), made.get(name, "")
        if before == after:
            continue
        lines = list(
            difflib.unified_diff(
                before.splitlines(),
                after.splitlines(),
                f"kept/{name}",
                f"now/{name}",
                "",
                "",
                3,
                "",
            )
        )
        yield from lines[:MOST_LINES] or [f"{name}: line ends or the last line differ"]
        if len(lines) > MOST_LINES:
            yield f"({len(lines) - MOST_LINES} more lines of {name} differ)"
