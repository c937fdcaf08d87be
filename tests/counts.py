"""How often the tests do what they repeat, and how long they wait.

`make quick` repeats a few times, `make long` in full. Hypothesis draws the same examples in every
run: what fails here fails everywhere. What searches anew is `python -m tests.fuzzing`.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings
from scipy.stats import binom

COUNTS = os.environ.get("BANDWRIGHT_COUNTS") or "normal"
QUICK, LONG = COUNTS == "quick", COUNTS == "long"

PATIENCE_S = 300.0
"""Longest wait for a condition, real seconds: ends a test that hangs, and asserts nothing else."""

for _name, _examples in (("quick", 5), ("normal", 30), ("long", 300)):
    settings.register_profile(
        _name,
        max_examples=_examples,
        derandomize=True,
        # the wall clock of a machine that others load says nothing of the program
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow],
    )
settings.load_profile(COUNTS)


def enough(times: int) -> int:
    """How many must hold of so many where each does with 95 %: one run of a hundred has fewer."""
    return int(binom.ppf(0.01, times, 0.95))


def examples(normal: int, long: int | None = None) -> settings:
    """So many examples in `make test`, for a test that needs another number than most.

    long : how many in `make long`, where ten times as many are not the right number.
    """
    if QUICK:
        return settings(max_examples=max(normal // 10, 3))
    return settings(max_examples=(long or 10 * normal) if LONG else normal)
