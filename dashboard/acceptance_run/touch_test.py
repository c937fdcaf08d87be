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
    "hands off": "Touch test: take your hands off the antenna and the cable, then press Next.",
    "grip": "Grip the feed cable with your whole hand, a hand's width from the antenna. Then press "
    "Next.",
    "let go": "Let go of the cable and move your hands away. Then press Next.",
}
WAITS: dict[Phase, str] = {
    "idle": "",
    "hands off": "Stay as you are. The reading is taken as soon as it is steady.",
    "grip": "Keep holding. The reading is taken as soon as it is steady.",
    "let go": "Keep your hands away. The reading is taken as soon as it is steady.",
}
"""While what was asked for waits for a steady reading."""
ASIDES: dict[Phase, str] = {
    "idle": "",
    "hands off": "Each reading is taken once it is steady.",
    "grip": "Keep holding until the reading is taken.",
    "let go": "This only counts if your hand was on the cable for the last reading.",
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
        self._waits = False
        self._looks: list[Curve] = []
        self.result: Touch | None = None
        self._antenna = ""

    @property
    def state(self) -> TouchState:
        """How it stands."""
        words = WAITS if self._waits else WORDS
        return TouchState(self._phase, words[self._phase], ASIDES[self._phase], self.result)

    def begin(self) -> None:
        """Start, or start anew."""
        self._phase, self._looks, self._waits = "hands off", [], False

    def leave(self) -> None:
        """Leave it; the last result stays."""
        self._phase, self._looks, self._waits = "idle", [], False

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

    def next(self, curve: Curve | None) -> None:
        """The person says that hands are as asked for: look now, or as soon as the reading rests.

        curve : the reading at rest; None while it moves. Raises NotNowError where no test runs.
        """
        if self._phase == "idle":
            raise NotNowError("No touch test is in progress. Start one first.")
        self._waits = True
        self.offer(curve)

    def offer(self, curve: Curve | None) -> None:
        """Look at a reading where one is waited for; one that was looked at before is no other."""
        if not self._waits or curve is None or (self._looks and curve is self._looks[-1]):
            return
        self._waits = False
        self._looks.append(curve)
        if len(self._looks) < len(ORDER):
            self._phase = ORDER[len(self._looks)]
            return
        found = touch(*self._looks)
        self.forget()
        self.result = found
