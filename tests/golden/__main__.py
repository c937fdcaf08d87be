"""Hold the golden outputs against what the program does now, or make them anew:

python -m tests.golden [--write]
"""

from __future__ import annotations

import sys

from tests.golden.differences import differences
from tests.golden.outputs import KEPT, make


def main() -> int:
    """Status 0 where nothing differs, or all was written; 1 with the differences printed."""
    made = make()
    if "--write" not in sys.argv[1:]:
        found = differences(made)
        print(found or "No golden output differs.")
        return 1 if found else 0
    for path in KEPT.glob("*"):
        path.unlink()
    for name, text in made.items():
        (KEPT / name).write_text(text, encoding="utf-8", newline="")
    print(f"{len(made)} files, {sum(map(len, made.values()))} letters, in {KEPT}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
