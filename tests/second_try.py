"""Whether what failed may be tried once more: it may where every one of them needs a browser.

Run by `.ci/run` after a run that failed. Prints how many they are; else says why not, and exits 1.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

CACHE = Path(".pytest_cache/v")
EXIT_STATUS, BROWSER = "bandwright/exit_status", "bandwright/browser"
"""Where tests/conftest.py keeps how the run ended, and which tests need a browser."""


def kept(cache: Path, name: str, otherwise: Any) -> Any:
    """What pytest's cache keeps under a name."""
    path = cache / name
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else otherwise


def second_try(cache: Path) -> tuple[int, str]:
    """How many tests are tried once more, and why none is; empty where they are."""
    if kept(cache, EXIT_STATUS, None) != pytest.ExitCode.TESTS_FAILED:
        return 0, "The tests did not run to their end."
    failed = kept(cache, "cache/lastfailed", {})
    if others := sorted(set(failed) - set(kept(cache, BROWSER, []))):
        return 0, "These failed, and need no browser:\n" + "\n".join(others)
    return len(failed), "" if failed else "No test failed."


def main() -> int:
    """Print how many; or say why none, and return 1."""
    count, why_not = second_try(CACHE)
    if why_not:
        print(f"No second try. {why_not}", file=sys.stderr)
        return 1
    print(count)
    return 0


if __name__ == "__main__":
    sys.exit(main())
