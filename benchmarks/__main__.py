"""All benchmarks as one table: ratios in one run on this machine, never asserted.

    python -m benchmarks [--markdown] [PART ...]

PART : only these modules of `benchmarks`, such as `reading`. `--markdown` prints the table as
docs/speed.md holds it. Each row times ours and the usual way in turns, after one call of each that
does not count, and gives the medians and their ratio. Chromium is needed for the page's row. What a
module finds beside times, as `trusting` does, is printed below as tables of its own.
"""

from __future__ import annotations

import contextlib
import os
import platform
import statistics
import sys
import time
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from importlib import import_module, metadata

from rich.console import Console
from rich.table import Table

from benchmarks.row import Row, Work

PARTS = (
    "calibrating", "reading", "trusting", "starting", "rechecking", "reporting", "cataloguing",
    "appearing",
)  # fmt: skip
HEADS = ("what", "ours", "against", "theirs", "ratio", "goal", "met")


def timed(work: Work) -> float:
    """Seconds that one call takes."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def measure(row: Row) -> tuple[str, ...]:
    """Time a row's two sides in turns, and say it as a line of the table."""
    works = [row.ours] if row.theirs is None else [row.ours, row.theirs]
    for work in works:
        work()
    rounds = [[timed(work) for work in works] for _ in range(row.rounds)]
    ours_s, *theirs_s = (statistics.median(column) for column in zip(*rounds, strict=True))
    ratio = theirs_s[0] / ours_s if theirs_s else None
    shown, met = row.goal.judged(ours_s, ratio)
    theirs = words(theirs_s[0]) if theirs_s else ""
    return (
        row.what,
        words(ours_s),
        row.against,
        theirs,
        shown,
        row.goal.words,
        "yes" if met else "no",
    )


def words(seconds: float) -> str:
    """A time to three digits, in ms below a second."""
    return f"{seconds:.2f} s" if seconds >= 1 else f"{1e3 * seconds:.3g} ms"


def method() -> str:
    """What was measured on, and how, in one paragraph."""
    versions = ", ".join(
        f"{name} {metadata.version(name)}" for name in ("numpy", "scikit-rf", "dash", "pyserial")
    )
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    tuned = {each: os.environ[each] for each in sorted(os.environ) if each.startswith("OPENBLAS")}
    return (
        f"{datetime.now(UTC):%Y-%m-%d}, {platform.system()} {platform.machine()}, "
        f"{os.cpu_count()} cores{load}, Python {platform.python_version()}, {versions}"
        f"{f', {tuned}' if tuned else ''}. Medians of rounds in turns in one run; one call of each "
        "before does not count."
    )


def main() -> None:
    """Print the table."""
    arguments = sys.argv[1:]
    markdown = "--markdown" in arguments
    wanted = [each for each in arguments if not each.startswith("-")] or PARTS
    lines = []
    findings = []
    for name in wanted:
        module = import_module(f"benchmarks.{name}")
        with module.rows() as rows:
            for row in rows:
                lines.append(measure(row))
                print(f"{lines[-1][0]}: {lines[-1][4]}", file=sys.stderr)
        findings += module.findings() if hasattr(module, "findings") else []
    show(method(), HEADS, lines, markdown=markdown)
    for title, heads, found in findings:
        show(title, heads, found, markdown=markdown)


def show(
    title: str, heads: Sequence[str], lines: Iterable[tuple[str, ...]], *, markdown: bool
) -> None:
    """Print one table."""
    if markdown:
        print(f"{title}\n\n| {' | '.join(heads)} |\n|{'---|' * len(heads)}")
        for line in lines:
            print(f"| {' | '.join(line)} |")
        return
    table = Table(*heads)
    for line in lines:
        table.add_row(*line)
    console = Console()
    console.print(table)
    console.print(title)


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt):
        main()
