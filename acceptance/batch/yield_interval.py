"""Yield: what share passes, and how far so few units can tell.

Source: Wilson, J. Amer. Stat. Assoc. 22 (1927) 209; NIST/SEMATECH e-Handbook 7.2.4.1 [memory].
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from acceptance.limits.decision import State

Z = 1.959964
"""Two-sided 95 % of the normal law."""


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
        p, n = self.passed / self.of, self.of
        centre = (p + Z**2 / (2 * n)) / (1 + Z**2 / n)
        half = Z / (1 + Z**2 / n) * (p * (1 - p) / n + Z**2 / (4 * n**2)) ** 0.5
        return max(centre - half, 0.0), min(centre + half, 1.0)


def share(states: Iterable[State]) -> Share:
    """Count what passes; a conditional pass is no pass, and what was not measured neither."""
    told = list(states)
    return Share(sum(state is State.PASS for state in told), len(told))
