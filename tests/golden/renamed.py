"""Show what differs between golden outputs of then and now beyond a table of new names:

python -m tests.golden.renamed THEN [NOW [TABLE]]

THEN and NOW are folders such as `kept`; NOW is `kept` itself where it is left out, and TABLE
`renamed.toml`. An earlier commit's folder is had by

git archive COMMIT tests/golden/kept | tar -x -C /somewhere
"""

from __future__ import annotations

import difflib
import re
import sys
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from tests.golden.outputs import KEPT

TABLE = Path(__file__).with_name("renamed.toml")


def in_present_names(text: str, table: Mapping[str, Any]) -> str:
    """An output of then, as it would be had nothing but names changed."""
    for then, now in table["names"]:
        text = re.sub(then, now, text)
    return text


def beyond_names(then: Path, now: Path, table: Mapping[str, Any]) -> Iterator[str]:
    """The lines that differ for another reason than a new name, as unified diffs."""

    def lines(text: str) -> list[str]:
        for each in table["masked"]:
            text = re.sub(each, "…", text)
        return text.splitlines()

    for name in sorted({path.name for folder in (then, now) for path in folder.iterdir()}):
        before, after = (
            (folder / name).read_bytes().decode() if (folder / name).exists() else ""
            for folder in (then, now)
        )
        yield from difflib.unified_diff(
            lines(in_present_names(before, table)),
            lines(after),
            f"then/{name}",
            f"now/{name}",
            n=1,
            lineterm="",
        )


def main() -> int:
    """Status 0 where nothing else differs; 1 with the differences printed."""
    given = [Path(each) for each in sys.argv[1:]]
    then, now, table = [*given, *(KEPT, TABLE)[len(given) - 1 :]] if given else (KEPT, KEPT, TABLE)
    found = "\n".join(beyond_names(then, now, tomllib.loads(table.read_text("utf-8"))))
    print(found or "Nothing differs but the names in the table.")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
