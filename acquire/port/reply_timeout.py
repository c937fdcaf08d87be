"""How long an analyzer may keep silent before its reply counts as lost, learned from its replies.

A profile's `reply_s` allows for the slowest analyzer there may be. One that always answers a
command at once and then does not has lost a byte on the way; waiting for it would hold the picture
still.
"""

from __future__ import annotations

from dataclasses import dataclass

LEAST_TIMEOUT_S, MOST_TIMEOUT_S = 1.0, 1.75
"""A program on a busy machine may be that late to read; after `QUICK_MISSES` silences in a row
later still, for the analyzer may have become slower."""
TIMEOUT_FACTOR = 2.0
"""How many times longer than before an analyzer may keep silent."""
GAP_DECAY = 0.5
"""How much of the longest silence is remembered at each reply after it."""
QUICK_MISSES = 4
MOST_COMMANDS = 256


@dataclass(slots=True)
class _ReplyHistory:
    """How one command is answered."""

    reply_gap_s: float
    missed: int = 0


class ReplyTimeouts:
    """With one analyzer, command by command, over all connections to it; for one thread."""

    def __init__(self) -> None:
        self._histories: dict[bytes, _ReplyHistory] = {}

    def reply_gap_s(self, command: bytes) -> float | None:
        """Longest silence that is no loss, beyond what the analyzer is at work; None if not
        known."""
        history = self._histories.get(_word(command))
        if history is None:
            return None
        least_s = LEAST_TIMEOUT_S if history.missed < QUICK_MISSES else MOST_TIMEOUT_S
        return max(least_s, TIMEOUT_FACTOR * history.reply_gap_s)

    def answered(self, command: bytes, reply_gap_s: float) -> None:
        """A reply came whole, with this longest silence before or in it."""
        history = self._histories.get(_word(command))
        decayed_s = 0.0 if history is None else GAP_DECAY * history.reply_gap_s
        if history is not None or len(self._histories) < MOST_COMMANDS:
            self._histories[_word(command)] = _ReplyHistory(max(reply_gap_s, decayed_s))

    def missed(self, command: bytes) -> None:
        """A reply did not come."""
        if history := self._histories.get(_word(command)):
            history.missed += 1


def _word(command: bytes) -> bytes:
    """A command without its numbers: of text its first word, of operations the first of them."""
    return command[:32].partition(b" ")[0][:16]
