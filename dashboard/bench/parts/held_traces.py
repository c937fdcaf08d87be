"""Traces that are held to compare with."""

from __future__ import annotations

from dataclasses import replace

from dashboard.bench.engine import Engine
from dashboard.bench.snapshot import Hold
from dashboard.errors import NotNowError

MOST_HOLDS = 20
MOST_DRAWN = 4
"""More curves than that over the live one cannot be told apart."""
LONGEST_NAME = 40


class HeldTraces:
    """Held traces; several are drawn, and the one drawn last is what the live trace is compared
    with.

    What a person does takes the engine's lock itself and may be called from any thread; `all` is
    looked at under the lock.
    """

    def __init__(self, engine: Engine) -> None:
        self.all: tuple[Hold, ...] = ()
        self._engine = engine
        self._count = 0

    def hold(self, name: str = "") -> None:
        """Keep what is shown, under a name if it gets one. Raises NotNowError before a sweep."""
        with self._engine.changing():
            now = self._engine.snapshot()
            if now.shown is None:
                raise NotNowError("There is no trace to hold yet. Wait for the first sweep.")
            self._count += 1
            margins = (
                ()
                if now.verdict is None
                else tuple(b.margin_or_bound_db for b in now.verdict.bands)
            )
            dips = () if now.tuning is None else now.tuning.dips
            held = Hold(self._count, now.shown, _name(name), margins, dips)
            self._draw(held, (*self.all, held)[-MOST_HOLDS:])

    def show(self, number: int) -> None:
        """Draw one and compare with it. Raises NotNowError where there is none of that number."""
        with self._engine.changing():
            chosen = replace(self._find(number), shown=True)
            self._draw(chosen, (*(each for each in self.all if each.number != number), chosen))

    def hide(self, number: int) -> None:
        """Draw one no longer, and keep it. Raises NotNowError where there is none."""
        with self._engine.changing():
            self._change(number, shown=False)

    def rename(self, number: int, name: str) -> None:
        """Call one by another name. Raises NotNowError where there is none."""
        with self._engine.changing():
            self._change(number, name=_name(name))

    def remove(self, number: int) -> None:
        """Let go of one. Raises NotNowError where there is none."""
        with self._engine.changing():
            self._find(number)
            self.all = tuple(each for each in self.all if each.number != number)

    def undo(self) -> None:
        """Let go of the one taken last. Raises NotNowError where nothing is held."""
        with self._engine.changing():
            if not self.all:
                raise NotNowError("No trace is held.")
            newest = max(each.number for each in self.all)
            self.all = tuple(each for each in self.all if each.number != newest)

    def _find(self, number: int) -> Hold:
        for each in self.all:
            if each.number == number:
                return each
        raise NotNowError(f"Hold {number} is not there any more.")

    def _change(self, number: int, **changes: object) -> None:
        self._find(number)
        self.all = tuple(
            replace(each, **changes) if each.number == number else each  # type: ignore[arg-type]
            for each in self.all
        )

    def _draw(self, last: Hold, all_of_them: tuple[Hold, ...]) -> None:
        """Draw one more; where they are too many, the one that was drawn longest ago no more."""
        drawn = [each.number for each in all_of_them if each.shown]
        kept = {*drawn[-MOST_DRAWN:], last.number}
        self.all = tuple(replace(each, shown=each.number in kept) for each in all_of_them)


def _name(text: str) -> str:
    return text.strip()[:LONGEST_NAME]
