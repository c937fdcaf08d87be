"""The last bytes to and from an analyzer, kept in a small file for a report of a fault.

The file has the form of a recording, and begins where the bound lets it. It is written as the
analyzer is let go of, and where this program fails.
"""

from __future__ import annotations

import contextlib
import io
import weakref
from collections import deque
from pathlib import Path
from typing import TextIO, cast

from acquire.clock import Clock
from acquire.files.atomic_write import write_whole
from dashboard.files import user_folders
from replay.recording.port_recording import Carrier, RecordingTransport

MOST_KEPT = 32 * 2**10
"""Characters of the recording's lines."""
FILE = "last-bytes.jsonl"


class LastLines(io.TextIOBase):
    """Takes a recording, and keeps its first line and the last ones; written when it is closed."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._head = ""
        self._lines: deque[str] = deque()
        self._size = 0

    def write(self, text: str) -> int:
        """Take one line."""
        if not self._head:
            self._head = text
            return len(text)
        self._lines.append(text)
        self._size += len(text)
        while self._size > MOST_KEPT and len(self._lines) > 1:
            self._size -= len(self._lines.popleft())
        return len(text)

    def write_down(self) -> None:
        """Write the file; that it cannot be written stops nothing."""
        with contextlib.suppress(OSError):
            self._path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(self._path, "".join([self._head, *list(self._lines)]).encode())

    def close(self) -> None:
        """Write the file, and take no more."""
        if not self.closed:
            self.write_down()
        super().close()


_OPEN: weakref.WeakSet[LastLines] = weakref.WeakSet()


def last_bytes_path() -> Path:
    """The file; there may be none yet."""
    return user_folders.faults() / FILE


def keep_last_bytes(inner: Carrier, clock: Clock) -> RecordingTransport:
    """Pass everything on to a transport, and keep the last of it."""
    lines = LastLines(last_bytes_path())
    _OPEN.add(lines)
    return RecordingTransport(inner, cast("TextIO", lines), clock)


def write_last_bytes() -> None:
    """Write down what was kept so far, of every analyzer in use."""
    for each in list(_OPEN):
        if not each.closed:
            each.write_down()
