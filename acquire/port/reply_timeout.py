"""How long a unit may keep silent before its reply counts as lost, learned from its replies.

A profile's `reply_s` allows for the slowest unit there may be. One that always answers a command
at once and then does not has lost a byte on the way; waiting for it would hold the picture still.
"""

from __future__ import annotations

from dataclasses import dataclass

LEAST_S, MOST_S = 1.0, 1.75
"""A program on a busy machine may be that late to read; after `QUICK_MISSES` silences in a row
later still, for the unit may have become slower."""
TIMES = 2.0
"""How many times longer than before a unit may keep silent."""
FADES = 0.5
"""How much of the longest silence is remembered at each reply after it."""
QUICK_MISSES = 4
MOST_COMMANDS = 256


@dataclass(slots=True)
class _Habit:
    """How one command is answered."""

    silence_s: float
    missed: int = 0


class Patience:
    """With one unit, command by command, over all connections to it; for one thread."""

    def __init__(self) -> None:
        self._habits: dict[bytes, _Habit] = {}

    def silence_s(self, command: bytes) -> float | None:
        """Longest silence that is no loss, beyond what the unit is at work; None if not known."""
        habit = self._habits.get(_word(command))
        if habit is None:
            return None
        least_s = LEAST_S if habit.missed < QUICK_MISSES else MOST_S
        return max(least_s, TIMES * habit.silence_s)

    def answered(self, command: bytes, silence_s: float) -> None:
        """A reply came whole, with this longest silence before or in it."""
        habit = self._habits.get(_word(command))
        faded_s = 0.0 if habit is None else FADES * habit.silence_s
        if habit is not None or len(self._habits) < MOST_COMMANDS:
            self._habits[_word(command)] = _Habit(max(silence_s, faded_s))

    def missed(self, command: bytes) -> None:
        """A reply did not come."""
        if habit := self._habits.get(_word(command)):
            habit.missed += 1


def _word(command: bytes) -> bytes:
    """A command without its numbers: of text its first word, of operations the first of them."""
    return command[:32].partition(b" ")[0][:16]
