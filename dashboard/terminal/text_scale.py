"""Places on a scale, drawn in letters: one lane an antenna, one under the other."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Marks:
    """What lanes are drawn with."""

    here: str
    several: str
    """Where two fall on one place."""
    beyond_low: str
    beyond_high: str
    """For what lies beyond an end of the scale."""
    filled: str
    centre: str
    limit: str


FULL = Marks("●", "◆", "◀", "▶", "░", "┆", "│")
PLAIN = Marks("o", "#", "<", ">", "=", ":", "|")
"""For terminals of few letters."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A stretch of a quantity, so many letters wide."""

    low: float
    high: float
    width: int
    marks: Marks

    def at(self, value: float) -> int:
        """Return the letter a value falls on; the first or last one for what lies beyond."""
        share = (value - self.low) / (self.high - self.low) if self.high > self.low else 0.5
        return min(int(min(max(share, 0.0), 1.0) * self.width), self.width - 1)

    def line(
        self,
        values: Iterable[float],
        *,
        centre: float | None = None,
        limits: Iterable[float] = (),
    ) -> str:
        """Return a lane with a mark for each value, over a centre line and limits."""
        letters = [" "] * self.width
        for limit in limits:
            if self.low <= limit <= self.high:
                letters[self.at(limit)] = self.marks.limit
        if centre is not None:
            letters[self.at(centre)] = self.marks.centre
        taken: set[int] = set()
        for value in values:
            where, mark = self.at(value), self.marks.here
            if value < self.low:
                mark = self.marks.beyond_low
            elif value > self.high:
                mark = self.marks.beyond_high
            letters[where] = self.marks.several if where in taken else mark
            taken.add(where)
        return "".join(letters).rstrip()

    def stretch(self, first: float, last: float) -> str:
        """Return a lane filled from one value to another, as far as that lies on the scale."""
        if last < self.low or first > self.high:
            return ""
        begin = self.at(first)
        return " " * begin + self.marks.filled * (self.at(last) - begin + 1)

    def ruler(self, first: str, middle: str, last: str) -> str:
        """Return a line with words at both ends and in the middle, where there is room for it."""
        if len(first) + len(middle) + len(last) + 2 > self.width:
            middle = ""
        left = max((self.width - len(middle)) // 2 - len(first), 1)
        line = f"{first}{' ' * left}{middle}"
        return f"{line}{' ' * max(self.width - len(line) - len(last), 1)}{last}"
