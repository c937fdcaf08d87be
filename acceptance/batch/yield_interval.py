"""Yield: what share passes, and how far so few antennas can tell.

Source: Wilson, J. Amer. Stat. Assoc. 22 (1927) 209; NIST/SEMATECH e-Handbook 7.2.4.1 [memory].
The interval is scipy's.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from acceptance.limits.decision import State

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many."""

    passed: int
    of: int

    @property
    def interval(self) -> tuple[float, float]:
        """Where the share of all that will be built may lie, 95 %: from 0 to 1."""
        if not self.of:
            return 0.0, 1.0
        # Slow to import, and of all there is only a batch needs it.
        from scipy.stats import binomtest  # type: ignore[import-untyped]  # noqa: PLC0415

        found = binomtest(self.passed, self.of).proportion_ci(CONFIDENCE, method="wilson")
        return float(found.low), float(found.high)


def share(states: Iterable[State]) -> Share:
    """Count what passes; a conditional pass is no pass, and what was not measured neither."""
    counted = list(states)
    return Share(sum(state is State.PASS for state in counted), len(counted))
