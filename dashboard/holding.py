"""Traces that are held to compare with."""

from __future__ import annotations

from dashboard.errors import NotNowError
from dashboard.snapshot import Hold, Snapshot

MOST_HOLDS = 20


class Holding:
    """Held traces, the one that is shown last. Not safe to share: its bench holds the lock."""

    def __init__(self) -> None:
        self.all: tuple[Hold, ...] = ()
        self._count = 0

    def hold(self, now: Snapshot, name: str) -> None:
        """Keep what is shown, under a name if it gets one. Raises NotNowError before a sweep."""
        if now.shown is None:
            raise NotNowError("There is no trace to hold yet. Wait for the first sweep.")
        self._count += 1
        margins = () if now.verdict is None else tuple(b.spare_db for b in now.verdict.bands)
        dips = () if now.tuned is None else now.tuned.dips
        held = Hold(self._count, now.shown, name.strip()[:40], margins, dips)
        self.all = (*self.all, held)[-MOST_HOLDS:]

    def show(self, number: int) -> None:
        """Show another one. Raises NotNowError where there is none of that number."""
        chosen = [each for each in self.all if each.number == number]
        if not chosen:
            raise NotNowError(f"Hold {number} is not there any more.")
        self.all = (*(each for each in self.all if each.number != number), *chosen)

    def undo(self) -> None:
        """Let go of the one that is shown. Raises NotNowError where nothing is held."""
        if not self.all:
            raise NotNowError("Nothing is held.")
        self.all = self.all[:-1]

    def clear(self) -> None:
        """Let go of all of them."""
        self.all = ()
