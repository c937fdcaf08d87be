"""The touch test, guided: hands off, grip the cable, let go; each look once the reading rests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from acceptance.curve import Curve
from acceptance.touch import Touch, touch
from dashboard.errors import NotNowError

Phase = Literal["idle", "hands off", "grip", "let go"]
ORDER: tuple[Phase, ...] = ("hands off", "grip", "let go")
WORDS: dict[Phase, str] = {
    "idle": "",
    "hands off": "Touch test: hands off antenna and cable, then next.",
    "grip": "Grip the feed cable with your whole hand, a hand's width from the antenna; then next.",
    "let go": "Let go of the cable, hands away; then next.",
}


@dataclass(frozen=True, slots=True)
class TouchState:
    """How the touch test stands."""

    phase: Phase
    message: str
    result: Touch | None
    """Of the last one that was finished."""


class Touching:
    """One touch test. Not safe to share: its bench holds the lock."""

    def __init__(self) -> None:
        self._phase: Phase = "idle"
        self._looks: list[Curve] = []
        self.result: Touch | None = None

    @property
    def state(self) -> TouchState:
        """How it stands."""
        return TouchState(self._phase, WORDS[self._phase], self.result)

    def begin(self) -> None:
        """Start, or start anew."""
        self._phase, self._looks = "hands off", []

    def leave(self) -> None:
        """Leave it; the last result stays."""
        self._phase, self._looks = "idle", []

    def look(self, curve: Curve | None) -> None:
        """The person says that hands are as asked for. Raises NotNowError while it moves."""
        if self._phase == "idle":
            raise NotNowError("No touch test is in progress. Start one first.")
        if curve is None:
            raise NotNowError("The reading still moves. Hold still for a moment, then next.")
        self._looks.append(curve)
        if len(self._looks) < len(ORDER):
            self._phase = ORDER[len(self._looks)]
            return
        self.result = touch(*self._looks)
        self.leave()
