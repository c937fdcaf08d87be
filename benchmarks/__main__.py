"""All benchmarks as one table: ratios in one run on this machine, never asserted.

    python -m benchmarks

Each row times ours and the usual way alternately, and gives the medians' ratio.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

from rich.console import Console
from rich.table import Table

from benchmarks import calibrating, reading, starting

Work = Callable[[], object]


@dataclass(frozen=True, slots=True)
class Row:
    """One comparison."""

    what: str
    ours: Work
    against: str
    theirs: Work
    goal: float
    """Smallest ratio, theirs over ours, that is aimed at."""
    rounds: int


def timed(work: Work) -> float:
    """Seconds that one call takes."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def ratio(row: Row) -> tuple[float, float]:
    """Median seconds of ours, and theirs over ours, measured in turns."""
    row.ours()
    row.theirs()
    pairs = [(timed(row.ours), timed(row.theirs)) for _ in range(row.rounds)]
    ours, theirs = (statistics.median(column) for column in zip(*pairs, strict=True))
    return ours, theirs / ours


def main() -> None:
    """Print the table."""
    console = Console()
    table = Table("what", "ours", "against", "times as fast", "goal")
    for module in (calibrating, reading, starting):
        with module.rows() as rows:
            for row in rows:
                seconds, times = ratio(Row(*row))
                table.add_row(
                    row[0], f"{1e3 * seconds:.3f} ms", row[2], f"{times:.1f}", f"{row[4]:g}"
                )
    console.print(table)


if __name__ == "__main__":
    main()
