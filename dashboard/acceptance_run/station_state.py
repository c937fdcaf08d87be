"""How a station stands, as its page shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from acceptance.report.yes_no_ask import Answer

Phase = Literal[
    "calibrate", "standard", "piece", "connect", "sweeping", "serial", "twice", "put back",
    "result", "done",
]  # fmt: skip
"""What is to be done now: a standard of the calibration; a standard put back for the batch; the
check piece; an antenna to connect; nothing, for it sweeps; a serial to type; a serial that was
there before; a standard put back after an antenna; a word to read; nothing more."""


@dataclass(frozen=True, slots=True)
class Tested:
    """One antenna of today, and what was said of it."""

    serial: str
    answer: Answer
    record: str
    """Its folder; empty where none could be written."""
    short_sum: str
    """The first letters of its record's sum."""
    at: str
    """Day and time, as a label shows them."""
    doubt: str = ""
    """Why the word no longer counts; else empty."""


@dataclass(frozen=True, slots=True)
class StationState:
    """How a station stands."""

    name: str
    contact: str
    phase: Phase
    say: str
    """What to do, in one short sentence."""
    why: str = ""
    """One more, where it helps."""
    picture: Literal["connect", "sweep", "result"] = "connect"
    """Which of the three pictures is the present one."""
    thing: str = ""
    """What is to be connected: "open", "short", "load", "check piece", "known good", "antenna"."""
    serial: str = ""
    """The antenna in hand."""
    next: str = ""
    """What the one key does; empty while it does nothing."""
    result: Tested | None = None
    """The antenna whose word is shown."""
    tested: tuple[Tested, ...] = ()
    """All of this session, the newest last."""
    detail: str = ""
    """What went wrong, with figures, for who set it up; else empty."""
    can_finish: bool = False
    """True where the work may be ended now."""
