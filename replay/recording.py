"""Recordings: every byte to and from a unit with its time, written and played.

A recording is lines of JSON. The first is the header:

    {"recording": 1, "address": "...", "kind": "port", "begun": "2026-01-31T12:00:00+00:00"}

Every other one is something that happened, `t` seconds after the beginning: `out`, bytes the
program wrote; `in`, bytes that came from the unit; `discard`, the program threw away what had
arrived.

    {"dir": "out", "t": 0.0123, "b64": "aW5mbw0="}

Each line is on its way to the disk before the next byte is handled, so a program that is killed
leaves a recording that is whole but for its last line.
"""

from __future__ import annotations

import base64
import json
import math
import threading
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal, Protocol, TextIO, cast

from acquire.clock import Clock, SystemClock
from replay.errors import RecordingEndError, RecordingError

VERSION = 1
Direction = Literal["out", "in", "discard"]
DIRECTIONS: tuple[Direction, ...] = ("out", "in", "discard")


class Carrier(Protocol):
    """What of a transport is recorded: it satisfies `acquire.transport.Transport`."""

    @property
    def address(self) -> str: ...
    @property
    def kind(self) -> Literal["port", "virtual", "replay"]: ...
    def write(self, data: bytes) -> None: ...
    def read(self, timeout_s: float) -> bytes: ...
    def discard(self) -> None: ...
    def close(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Entry:
    """Something that happened on the wire."""

    line: int
    """Where it stands in the file, from 1."""
    direction: Direction
    t_s: float
    """Seconds since the recording began."""
    data: bytes


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording read back."""

    name: str
    address: str
    kind: str
    """Where its bytes came from: a port, a virtual unit, another replay."""
    begun: datetime
    entries: tuple[Entry, ...]
    remark: str
    """One sentence if its end is missing, else empty."""


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
            with self._lock:
                self._file.close()

    def _note(self, direction: Direction, data: bytes) -> None:
        t_s = round(self._clock.monotonic() - self._zero_s, 6)
        self._put(dir=direction, t=t_s, b64=base64.b64encode(data).decode("ascii"))

    def _put(self, **line: Any) -> None:
        with self._lock:
            if not self._file.closed:
                self._file.write(json.dumps(line) + "\n")
                self._file.flush()


def record_to(path: Path, inner: Carrier, clock: Clock | None = None) -> RecordingTransport:
    """Record a transport into a new file.

    Raises RecordingError if the file cannot be made, or is there already: a recording is
    never written over.
    """
    try:
        file = path.open("x", encoding="utf-8")
    except FileExistsError:
        raise RecordingError(
            f"{path} is there already and is not written over: name another file."
        ) from None
    except OSError as error:
        raise RecordingError(f"{path} cannot be written: {error.strerror}.") from error
    return RecordingTransport(inner, file, clock)


class ReplayTransport:
    """Plays a recording to a program that does what was done when it was made.

    What the program writes is held against the recording; what the unit answered then comes
    back, at true speed (as long after the program's writing as then) or at once.
    """

    kind: Literal["port", "virtual", "replay"] = "replay"

    def __init__(
        self,
        recording: Recording,
        *,
        speed: Literal["true", "full"] = "true",
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
        """Return what the unit answered then, or b"" once so many seconds have passed."""
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
    path: Path, *, speed: Literal["true", "full"] = "true", clock: Clock | None = None
) -> ReplayTransport:
    """Open a recording to be played; raises RecordingError if it cannot be."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise RecordingError(f"The recording {path} cannot be read: {error.strerror}.") from error
    return ReplayTransport(parse_recording(content, str(path)), speed=speed, clock=clock)


def parse_recording(content: bytes, name: str) -> Recording:
    """Read a recording; a last line cut short is passed over, with a remark.

    Raises RecordingError, with the line, if anything else is not as it should be.
    """
    *lines, last = content.split(b"\n")
    header, entries = None, list[Entry]()
    for number, line in enumerate(lines, start=1):
        if header is None:
            header = parse_header(line, name)
            continue
        entry = parse_entry(line, number, name)
        if entries and entry.t_s < entries[-1].t_s:
            raise RecordingError(
                f"{name}, line {number}: time runs backwards, from {entries[-1].t_s:g} s to "
                f"{entry.t_s:g} s. The file was changed after it was recorded."
            )
        entries.append(entry)
    if header is None:
        raise RecordingError(
            f"{name} has no whole first line, so it is no recording: choose another file."
        )
    remark = f"Line {len(lines) + 1} was cut short and is passed over. " if last else ""
    return Recording(
        name=name,
        address=str(header["address"]),
        kind=str(header["kind"]),
        begun=header["begun"],
        entries=tuple(entries),
        remark=remark,
    )


def parse_header(line: bytes, name: str) -> dict[str, Any]:
    """Read the first line; raises RecordingError if it is no header, or too new."""
    header = parse_object(line)
    if header is None or not isinstance(version := header.get("recording"), int):
        raise RecordingError(
            f'{name}, line 1: no recording begins so. One begins with {{"recording": {VERSION}, '
            "...}: choose another file."
        )
    if version > VERSION:
        raise RecordingError(
            f"{name} is a recording of version {version}, and this program knows versions up to "
            f"{VERSION}: use a newer bandwright."
        )
    try:
        header["begun"] = datetime.fromisoformat(header["begun"])
        header["address"], header["kind"]
    except (KeyError, TypeError, ValueError):
        raise RecordingError(
            f"{name}, line 1: the header lacks `address`, `kind` or the time it `begun`."
        ) from None
    return header


def parse_entry(line: bytes, number: int, name: str) -> Entry:
    """Read any other line; raises RecordingError, with the line's number."""
    entry = parse_object(line) or {}
    direction, t_s, data = entry.get("dir"), entry.get("t"), decoded(entry.get("b64"))
    if (
        direction not in DIRECTIONS
        or isinstance(t_s, bool)
        or not isinstance(t_s, int | float)
        or not math.isfinite(t_s)
        or data is None
    ):
        raise RecordingError(
            f'{name}, line {number}: not a line of a recording, which is {{"dir": "in", '
            '"t": seconds, "b64": bytes}. The file was changed after it was recorded.'
        )
    return Entry(number, cast(Direction, direction), float(t_s), data)


def decoded(b64: object) -> bytes | None:
    """The bytes behind a base64 text; None if it is none."""
    try:
        return base64.b64decode(b64, validate=True) if isinstance(b64, str) else None
    except ValueError:
        return None


def parse_object(line: bytes) -> dict[str, Any] | None:
    """A line's JSON object; None if it is none."""
    try:
        value = json.loads(line)
    except ValueError:
        return None
    return value if isinstance(value, dict) else None
