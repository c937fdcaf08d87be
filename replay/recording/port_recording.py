"""Recordings: every byte to and from an analyzer with its time, written and played.

Each line is on its way to the disk before the next byte is handled, so a program that is killed
leaves a recording that is whole but for its last line. `recording_format` says what a line is.
"""

from __future__ import annotations

import base64
import contextlib
import json
import threading
from pathlib import Path
from typing import Any, Literal, Protocol, TextIO

from acquire.clock import Clock, SystemClock
from acquire.files.bounded_read import read_at_most
from replay.errors import RecordingEndError, RecordingError
from replay.recording.recording_format import VERSION, Direction, Entry, Recording, parse_recording

LARGEST_RECORDING = 256 * 2**20
"""Bytes; some days of sweeping."""
Speed = Literal["true", "full"]
"""As long after the program's writing as when it was recorded, or at once."""


class Carrier(Protocol):
    """What of a transport is recorded: it satisfies `acquire.port.transport.Transport`."""

    @property
    def address(self) -> str: ...
    @property
    def kind(self) -> Literal["port", "virtual", "replay"]: ...
    def write(self, data: bytes) -> None: ...
    def read(self, timeout_s: float) -> bytes: ...
    def discard(self) -> None: ...
    def close(self) -> None: ...


class RecordingTransport:
    """Passes everything on to another transport, and writes it down."""

    def __init__(self, inner: Carrier, file: TextIO, clock: Clock | None = None) -> None:
        """file : open for writing, empty; it is closed together with the transport."""
        self._inner = inner
        self._file = file
        self._clock = SystemClock() if clock is None else clock
        self._lock = threading.Lock()
        self._zero_s = self._clock.monotonic()
        self.address = inner.address
        self.kind = inner.kind
        begun = self._clock.now().isoformat()
        self._put(recording=VERSION, address=inner.address, kind=inner.kind, begun=begun)

    def write(self, data: bytes) -> None:
        """Write down, then send: what went out before a crash is known."""
        self._note("out", data)
        self._inner.write(data)

    def read(self, timeout_s: float) -> bytes:
        """Return what has arrived, or b"" once so many seconds have passed."""
        data = self._inner.read(timeout_s)
        if data:
            self._note("in", data)
        return data

    def discard(self) -> None:
        """Throw away what has arrived, and note that it was."""
        self._inner.discard()
        self._note("discard", b"")

    def close(self) -> None:
        """Close the transport and the file."""
        try:
            self._inner.close()
        finally:
            with self._lock, contextlib.suppress(OSError):  # what it could not write is known
                self._file.close()

    def _note(self, direction: Direction, data: bytes) -> None:
        t_s = round(self._clock.monotonic() - self._zero_s, 6)
        self._put(dir=direction, t=t_s, b64=base64.b64encode(data).decode("ascii"))

    def _put(self, **line: Any) -> None:
        with self._lock:
            if self._file.closed:
                return
            try:
                self._file.write(json.dumps(line) + "\n")
                self._file.flush()
            except OSError as error:
                raise RecordingError(
                    f"The recording cannot be written: {error.strerror}. What is in it up to here "
                    "is good; make room, or record to another place."
                ) from error


def record_to(path: Path, inner: Carrier, clock: Clock | None = None) -> RecordingTransport:
    """Record a transport into a new file.

    Raises RecordingError if the file cannot be made, or is there already: a recording is
    never written over.
    """
    try:
        file = path.open("x", encoding="utf-8")
    except FileExistsError:
        raise RecordingError(f"{path} already exists. Choose another name.") from None
    except OSError as error:
        raise RecordingError(f"{path} cannot be written: {error.strerror}.") from error
    try:
        return RecordingTransport(inner, file, clock)
    except RecordingError:
        with contextlib.suppress(OSError):
            file.close()
        path.unlink(missing_ok=True)
        raise


class ReplayTransport:
    """Plays a recording to a program that does what was done when it was made.

    What the program writes is held against the recording; what the analyzer answered then comes
    back, at true speed (as long after the program's writing as then) or at once.
    """

    kind: Literal["port", "virtual", "replay"] = "replay"

    def __init__(
        self,
        recording: Recording,
        *,
        speed: Speed = "true",
        clock: Clock | None = None,
    ) -> None:
        self.address = f"replay:{recording.name}"
        self.recording = recording
        self._clock = SystemClock() if clock is None else clock
        self._at_true_speed = speed == "true"
        self._position = 0
        self._written = 0
        self._arrived = bytearray()
        self._never = threading.Event()
        # ahead of the recording's own time by so much
        self._ahead_s = self._clock.monotonic()

    def write(self, data: bytes) -> None:
        """Take what the program writes.

        Raises RecordingError if something else was written when it was recorded, and
        RecordingEndError if the recording ends here.
        """
        while data:
            entry = self._next_written()
            expected = entry.data[self._written :]
            part = data[: len(expected)]
            if not expected.startswith(part):
                raise RecordingError(
                    f"{self.recording.name}, line {entry.line}: the program writes "
                    f"{part[:40]!r} where {expected[:40]!r} was written when it was recorded. "
                    "Replay it with the plan and the profile it was recorded with."
                )
            data = data[len(part) :]
            self._written += len(part)
            if self._written == len(entry.data):
                self._position, self._written = self._position + 1, 0
                self._ahead_s = self._clock.monotonic() - entry.t_s

    def read(self, timeout_s: float) -> bytes:
        """Return what the analyzer answered then, or b"" once so many seconds have passed."""
        if self._arrived:
            data = bytes(self._arrived)
            self._arrived.clear()
            return data
        deadline_s = self._clock.monotonic() + timeout_s
        entry = self._entry("in")
        if entry is None:
            self._wait_until(deadline_s)
            return b""
        if self._at_true_speed:
            due_s = entry.t_s + self._ahead_s
            self._wait_until(min(due_s, deadline_s))
            if due_s > deadline_s:
                return b""
        self._position += 1
        return entry.data

    def discard(self) -> None:
        """Throw away what had been thrown away when it was recorded."""
        self._arrived.clear()
        while self._entry("in") is not None:
            self._position += 1
        if self._entry("discard") is not None:
            self._position += 1

    def close(self) -> None:
        """Nothing is left open."""

    @property
    def ended(self) -> bool:
        """True once everything recorded has been played."""
        return self._position >= len(self.recording.entries)

    def _entry(self, direction: Direction) -> Entry | None:
        """The next entry, if it is of that direction."""
        if self.ended:
            return None
        entry = self.recording.entries[self._position]
        return entry if entry.direction == direction else None

    def _next_written(self) -> Entry:
        """The next entry that was written; what came before it has arrived by now."""
        while not self.ended:
            entry = self.recording.entries[self._position]
            if entry.direction == "out":
                return entry
            self._arrived += entry.data
            self._position += 1
        raise RecordingEndError(
            f"The recording {self.recording.name} ends here: "
            f"{len(self.recording.entries)} entries have been played. {self.recording.remark}"
            "Open it again to play it once more."
        )

    def _wait_until(self, then_s: float) -> None:
        while (left_s := then_s - self._clock.monotonic()) > 0:
            self._clock.wait(self._never, left_s)


def open_replay(
    path: Path, *, speed: Speed = "true", clock: Clock | None = None
) -> ReplayTransport:
    """Open a recording to be played; raises RecordingError if it cannot be."""
    try:
        content = read_at_most(path, LARGEST_RECORDING)
    except OSError as error:
        raise RecordingError(f"The recording {path} cannot be read: {error.strerror}.") from error
    return ReplayTransport(parse_recording(content, str(path)), speed=speed, clock=clock)
