"""`bandwright check` in a cold process, against scikit-rf reading the same file."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchmarks.row import Goal, Row

EXAMPLE = Path(__file__).parents[1] / "tests" / "guards" / "example.s1p"


def run(*command: str) -> None:
    """Run Python once, from the start; a failure must not pass for speed."""
    done = subprocess.run([sys.executable, *command], capture_output=True, check=False)
    if done.returncode not in (0, 1):
        raise RuntimeError(done.stderr.decode())


@contextmanager
def rows() -> Iterator[list[Row]]:
    """Yield the comparison."""
    plan = EXAMPLE.with_suffix(".toml")
    yield [
        Row(
            "check a file, cold process",
            lambda: run("-m", "dashboard", "check", str(EXAMPLE), "--plan", str(plan)),
            "import skrf, and its read of the file",
            lambda: run("-c", f"import skrf; skrf.Network({str(EXAMPLE)!r})"),
            Goal(share=1.0),
            9,
        )
    ]
