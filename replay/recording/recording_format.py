"""What a recording looks like, and how it is read back.

A recording is lines of JSON. The first is the header:

    {"recording": 1, "address": "...", "kind": "port", "begun": "2026-01-31T12:00:00+00:00"}

Every other one is something that happened, `t` seconds after the beginning: `out`, bytes the
program wrote; `in`, bytes that came from the analyzer; `discard`, the program threw away what had
arrived.

    {"dir": "out", "t": 0.0123, "b64": "aW5mbw0="}
"""

from __future__ import annotations

import base64
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, cast

from replay.errors import RecordingError

VERSION = 1
Direction = Literal["out", "in", "discard"]
LONGEST_S = 1e12
"""No recording is so long; what says so was changed."""
DIRECTIONS: tuple[Direction, ...] = ("out", "in", "discard")


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
    """Where its bytes came from: a port, a virtual analyzer, another replay."""
    begun: datetime
    entries: tuple[Entry, ...]
    remark: str
    """One sentence if its end is missing, else empty."""


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
    except (KeyError, TypeError, ValueError):
        header.pop("begun", None)
    missing = {"address", "kind", "begun"} - header.keys()
    if missing:
        raise RecordingError(
            f"{name}, line 1: the header lacks a sound {' and '.join(sorted(missing))}. "
            "The file was changed after it was recorded."
        )
    return header


def parse_entry(line: bytes, number: int, name: str) -> Entry:
    """Read any other line; raises RecordingError, with the line's number."""
    entry = parse_object(line) or {}
    direction, t_s, data = entry.get("dir"), seconds(entry.get("t")), decoded(entry.get("b64"))
    if direction not in DIRECTIONS or t_s is None or data is None:
        raise RecordingError(
            f'{name}, line {number}: not a line of a recording, which is {{"dir": "in", '
            '"t": seconds, "b64": bytes}. The file was changed after it was recorded.'
        )
    return Entry(number, cast(Direction, direction), t_s, data)


def seconds(t: object) -> float | None:
    """A number of seconds; None if it is none, or beyond all bounds."""
    if isinstance(t, bool) or not isinstance(t, int | float):
        return None
    return float(t) if abs(t) <= LONGEST_S else None


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
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None
