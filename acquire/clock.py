"""Time as an argument, so that tests can hold it still or let it run ahead."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """What acquisition needs to know of time."""

    def now(self) -> datetime:
        """Wall time, UTC, with its zone."""
        ...

    def monotonic(self) -> float:
        """Seconds that never run backwards."""
        ...

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait until the event is set, at most so many seconds; True if it was set."""
        ...


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """Wall time, UTC, with its zone."""
        return datetime.now(UTC)

    def monotonic(self) -> float:
        """Seconds that never run backwards."""
        return time.monotonic()

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait until the event is set, at most so many seconds; True if it was set."""
        return event.wait(seconds)
