"""Small charts in letters: points over an upright scale, with lines and their words beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Pens:
    """What a chart is drawn with."""

    point: str
    marked: str
    """A point that is out of the ordinary."""
    centre: str
    limit: str
    curve: str
    edge: str
    several: str
    """Where the letters of several meet."""


FULL = Pens("●", "◆", "─", "┄", "·", "│", "∗")
PLAIN = Pens("o", "#", "-", ".", "'", "|", "*")
"""For terminals of few letters."""


@dataclass(slots=True)
class Chart:
    """A grid of letters over two scales."""

    x: tuple[float, float]
    y: tuple[float, float]
    """Ends of both scales."""
    width: int
    height: int
    pens: Pens
    _letters: dict[tuple[int, int], str] = field(default_factory=dict)
    _words: dict[int, str] = field(default_factory=dict)
    """Beside which line what stands."""

    def level(self, y: float, pen: str, words: str = "") -> None:
        """Draw a level line, and words beside it; below what is drawn after it."""
        row = self._row(y)
        for column in range(self.width):
            self._letters[column, row] = pen
        if words:
            self._words[row] = words

    def beside(self, y: float, words: str) -> None:
        """Write words beside a line where there are none yet."""
        self._words.setdefault(self._row(y), words)

    def curve(self, of: Callable[[float], float]) -> None:
        """Draw a function where nothing else stands."""
        low, high = self.x
        for column in range(self.width):
            value = of(low + (high - low) * (column + 0.5) / self.width)
            if self.y[0] <= value <= self.y[1]:
                self._letters.setdefault((column, self._row(value)), self.pens.curve)

    def point(self, x: float, y: float, *, marked: bool = False) -> None:
        """Draw a point; a marked one is never covered."""
        where = self._column(x), self._row(y)
        if self._letters.get(where) != self.pens.marked:
            self._letters[where] = self.pens.marked if marked else self.pens.point

    def letter(self, x: float, y: float, letter: str) -> None:
        """Draw a point of one of several, by its letter; where two of them meet, both are hidden
        behind a mark."""
        where = self._column(x), self._row(y)
        there = self._letters.get(where, "")
        meets = (there.isalpha() and there != letter) or there == self.pens.several
        self._letters[where] = self.pens.several if meets else letter

    def stretch(self, first: float, last: float, y: float, pen: str) -> None:
        """Draw a level line from one x to another, as far as it lies on the chart."""
        low, high = max(first, self.x[0]), min(last, self.x[1])
        if low <= high and self.y[0] <= y <= self.y[1]:
            for column in range(self._column(low), self._column(high) + 1):
                self._letters[column, self._row(y)] = pen

    def lines(self) -> list[str]:
        """Return the chart from its highest line to its lowest, words on the left."""
        left = max((len(words) for words in self._words.values()), default=0)
        drawn = []
        for row in range(self.height - 1, -1, -1):
            letters = "".join(self._letters.get((c, row), " ") for c in range(self.width))
            words = self._words.get(row, "")
            drawn.append(f"{words:>{left}} {self.pens.edge}{letters}".rstrip())
        return drawn

    @property
    def indent(self) -> int:
        """How far the grid begins from the left."""
        return max((len(words) for words in self._words.values()), default=0) + 2

    def _column(self, x: float) -> int:
        return _cell(x, self.x, self.width)

    def _row(self, y: float) -> int:
        return _cell(y, self.y, self.height)


def _cell(value: float, ends: tuple[float, float], count: int) -> int:
    low, high = ends
    share = (value - low) / (high - low) if high > low else 0.5
    return min(int(min(max(share, 0.0), 1.0) * count), count - 1)


def numbered(count: int, width: int, step: int = 5) -> str:
    """Return a line that counts points under a chart: 1, 5, 10 and so on, and the last one."""
    letters = [" "] * (width + len(str(count)))
    wanted = [1, *range(step, count, step), count] if count > 1 else [count]
    free = 0
    for number in wanted:
        where = _cell(number - 0.75, (0, count), width)
        if where >= free and (number == count or where + len(str(number)) < width):
            letters[where : where + len(str(number))] = str(number)
            free = where + len(str(number)) + 1
    return "".join(letters).rstrip()


def ends_of(values: Sequence[float], room: float = 0.06) -> tuple[float, float]:
    """Return the ends of a scale that holds values, with a little room."""
    low, high = min(values), max(values)
    span = (high - low) or abs(high) * 0.01 or 1.0
    return low - room * span, high + room * span
