"""Clocks for rehearsals: simulated time that costs nothing, or that runs faster."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta


class AcceleratedClock:
    """Simulated time that jumps ahead whenever someone waits.

    For one thread of work (a test, the tour): nothing is slept through. With several threads
    use `FastClock`, since here each waiter would push the time of all others ahead.
    """

    def __init__(self, start: datetime | None = None) -> None:
        self._start = datetime.now(UTC) if start is None else start
        self._elapsed_s = 0.0
        self._lock = threading.Lock()

    def now(self) -> datetime:
        """Simulated wall time, UTC, with its zone."""
        return self._start + timedelta(seconds=self.monotonic())

    def monotonic(self) -> float:
        """Simulated seconds since the clock was made."""
        with self._lock:
            return self._elapsed_s

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Jump so many seconds ahead, unless the event is set already; True if it was set."""
        if event.is_set():
            return True
        self.advance(seconds)
        time.sleep(0)  # lets other threads run: a jump must not starve them
        return event.is_set()

    def advance(self, seconds: float) -> None:
        """Let so many seconds pass at once; negative ones count as none."""
        with self._lock:
            self._elapsed_s += max(seconds, 0.0)


class FastClock:
    """Time that really passes, but so many times faster."""

    def __init__(self, times_faster: float, start: datetime | None = None) -> None:
        if not times_faster > 0:
            raise ValueError(f"A clock runs forwards: {times_faster} times faster is no speed.")
        self._times_faster = times_faster
        self._start = datetime.now(UTC) if start is None else start
        self._zero_s = time.monotonic()

    def now(self) -> datetime:
        """Simulated wall time, UTC, with its zone."""
        return self._start + timedelta(seconds=self.monotonic())

    def monotonic(self) -> float:
        """Simulated seconds since the clock was made."""
        return (time.monotonic() - self._zero_s) * self._times_faster

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait until the event is set, at most so many simulated seconds; True if it was set."""
        return event.wait(max(seconds, 0.0) / self._times_faster)
