"""How an analyzer talks, as generators that ask and are answered, without any I/O.

A dialect yields an `Ask`, is sent the bytes of the reply, and returns what it made of them.
Where the deadline passes first, NoReplyError is thrown into it. So the same code is driven by
a serial port, by a recording, or by a list of bytes in a test.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from typing import Protocol, TypeVar

from acquire.sweep import Reading, SweepRequest

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Ask:
    """What to write, and how to know that the reply is whole.

    Exactly one of `until`, `count` and `quiet_s` is given. What arrives beyond the end of the
    reply is kept for the next ask, unless that one says `fresh`.
    """

    write: bytes = b""
    """Bytes to send; may be empty to go on reading."""
    until: bytes | None = None
    """The reply ends with these bytes, which are part of it."""
    count: int | None = None
    """The reply is exactly so many bytes."""
    quiet_s: float | None = None
    """The reply ends once nothing has come for so many seconds (nothing at all is allowed)."""
    deadline_s: float = 3.0
    """Whole time allowed for the reply, seconds."""
    busy_s: float = 0.0
    """How long of that the analyzer may be at work, and so silent."""
    fresh: bool = False
    """Throw away whatever arrived before writing: leftovers of an earlier reply."""

    def __post_init__(self) -> None:
        if sum(end is not None for end in (self.until, self.count, self.quiet_s)) != 1:
            raise ValueError("An ask ends in exactly one way: until, count or quiet_s.")


Steps = Generator[Ask, bytes, T]
"""A conversation: yields asks, is sent replies, returns a T."""


class Dialect(Protocol):
    """One family of analyzers' way of talking."""

    @property
    def any_order(self) -> bool:
        """True where neighbours in a reading may have been taken a sweep apart."""
        ...

    def resynchronise(self) -> Steps[None]:
        """Bring the analyzer to where it waits for a command, whatever it was doing."""
        ...

    def identify(self) -> Steps[str]:
        """Return what the analyzer says it is."""
        ...

    def sweep(self, request: SweepRequest) -> Steps[Reading]:
        """Take one pass; return exactly the points asked for or raise ReplyError."""
        ...
