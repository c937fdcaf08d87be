"""One comparison of the table, and what is aimed at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Work = Callable[[], object]


@dataclass(frozen=True, slots=True)
class Goal:
    """What a row aims at; one of them is given."""

    times: float | None = None
    """Theirs over ours, at least."""
    share: float | None = None
    """Ours over theirs, at most."""
    within_s: float | None = None
    """Ours alone, below."""

    @property
    def words(self) -> str:
        """The goal as the table shows it."""
        if self.times is not None:
            return f"at least {self.times:g} times"
        if self.share is not None:
            return f"at most {self.share:g}"
        return f"under {1e3 * (self.within_s or 0):g} ms"

    def judged(self, ours_s: float, ratio: float | None) -> tuple[str, bool]:
        """The ratio in the goal's own sense, and whether it is met.

        ratio : theirs over ours; None where there is nothing to compare with.
        """
        if self.within_s is not None:
            shown = "" if ratio is None else f"{ratio:.2f} times"
            return shown, ours_s < self.within_s
        if ratio is None:
            return "", False
        if self.share is not None:
            return f"{1 / ratio:.2f}", 1 / ratio <= self.share
        digits = 0 if ratio >= 20 else 2
        return f"{ratio:.{digits}f} times", self.times is not None and ratio >= self.times


@dataclass(frozen=True, slots=True)
class Row:
    """One comparison."""

    what: str
    ours: Work
    against: str
    theirs: Work | None
    goal: Goal
    rounds: int
