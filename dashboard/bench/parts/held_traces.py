"""Traces that are held to compare with."""

from __future__ import annotations

from dashboard.bench.engine import Engine
from dashboard.bench.snapshot import Hold
from dashboard.errors import NotNowError

MOST_HOLDS = 20


class HeldTraces:
    """Held traces, the one that is shown last.

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
            held = Hold(self._count, now.shown, name.strip()[:40], margins, dips)
            self.all = (*self.all, held)[-MOST_HOLDS:]

    def show(self, number: int) -> None:
        """Show another one. Raises NotNowError where there is none of that number."""
        with self._engine.changing():
            chosen = [each for each in self.all if each.number == number]
            if not chosen:
                raise NotNowError(f"Hold {number} is not there any more.")
            self.all = (*(each for each in self.all if each.number != number), *chosen)

    def undo(self) -> None:
        """Let go of the one that is shown. Raises NotNowError where nothing is held."""
        with self._engine.changing():
            if not self.all:
                raise NotNowError("Nothing is held.")
            self.all = self.all[:-1]
