"""The touch test, guided: hands off, grip the cable, let go; each look once the reading rests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from acceptance.tuning.shifted_curve import Curve
from acceptance.tuning.touch_test import Touch, touch
from dashboard.errors import NotNowError

Phase = Literal["idle", "hands off", "grip", "let go"]
ORDER: tuple[Phase, ...] = ("hands off", "grip", "let go")
WORDS: dict[Phase, str] = {
    "idle": "",
    "hands off": "Touch test: hands off antenna and cable, then next.",
    "grip": "Grip the feed cable with your whole hand, a hand's width from the antenna; then next.",
    "let go": "Let go of the cable, hands away; then next.",
}
ASIDES: dict[Phase, str] = {
    "idle": "",
    "hands off": "Each look is taken once the reading rests.",
    "grip": "Keep holding until the reading rests and the look is taken.",
    "let go": "What is found rests on your hand having been round the cable at the last look.",
}


@dataclass(frozen=True, slots=True)
class TouchState:
    """How the touch test stands."""

    phase: Phase
    message: str
    aside: str
    """What to know of it."""
    result: Touch | None
    """Of the last one that was finished."""


class TouchTest:
    """One touch test. Not safe to share: its bench holds the lock."""

    def __init__(self) -> None:
        self._phase: Phase = "idle"
        self._looks: list[Curve] = []
        self.result: Touch | None = None
        self._antenna = ""

    @property
    def state(self) -> TouchState:
        """How it stands."""
        return TouchState(self._phase, WORDS[self._phase], ASIDES[self._phase], self.result)

    def begin(self) -> None:
        """Start, or start anew."""
        self._phase, self._looks = "hands off", []

    def leave(self) -> None:
        """Leave it; the last result stays."""
        self._phase, self._looks = "idle", []

    def forget(self) -> None:
        """Leave it, and let go of the last result."""
        self.leave()
        self.result, self._antenna = None, ""

    def belongs_to(self, antenna: str) -> None:
        """What was found is written down with the antenna of that name."""
        self._antenna = antenna

    def require(self, antenna: str) -> None:
        """Let go of the last result where it was written down with an antenna of another name."""
        if self._antenna not in ("", antenna):
            self.forget()

    def look(self, curve: Curve | None) -> None:
        """The person says that hands are as asked for.

        Raises NotNowError while it moves, or where nothing was read since the look before.
        """
        if self._phase == "idle":
            raise NotNowError("No touch test is in progress. Start one first.")
        if curve is None:
            raise NotNowError("The reading still moves. Hold still for a moment, then next.")
        if self._looks and curve is self._looks[-1]:
            raise NotNowError(
                "Nothing was read anew since the look before. Do as it says, wait a few seconds, "
                "then next."
            )
        self._looks.append(curve)
        if len(self._looks) < len(ORDER):
            self._phase = ORDER[len(self._looks)]
            return
        found = touch(*self._looks)
        self.forget()
        self.result = found
