"""How much memory a record's files may come to, told from their bytes before anything is read.

A file of a few megabytes can become a hundred times as much: "{}," takes 3 bytes and 72 in memory.
So what is counted are values, lines and points, each by what it was measured to take here at most.
"""

from __future__ import annotations

from collections.abc import Mapping

from acceptance.errors import RecordError

LARGEST_JSON = 16 * 2**20
"""Bytes of one file; ours take a hundredth of it."""
MOST_JSON_COST = 140 * 10**6
"""Bytes that one file may come to; a calibration at 80,000 points takes so much."""
MOST_COST = 280 * 10**6
"""Bytes that all files may come to. With the program itself it stays below 512 MB."""

PER_BYTE = 5
"""Of JSON: the text itself, and its words, four bytes a letter where one of them needs as many."""
PER_OBJECT, PER_LIST, PER_KEY, PER_VALUE = 232, 88, 80, 64
PER_LINE = 100
"""A line of a raw sweep: its text, its numbers, and their share of an average."""
PER_POINT = 2_200
"""A point of a condition that is judged, with its interval and its budget."""
PER_ROW = 1_000
"""A row of a table of trust."""
LINE_ENDS = (b"\n", b"\r", b"\x0b", b"\x0c", b"\x1c", b"\x1d", b"\x1e", b"\xc2\x85", b"\xe2\x80")
"""Whatever Python takes for one."""


def require_bounded(files: Mapping[str, bytes], name: str) -> None:
    """Raise RecordError where files, by their names in a record's folder, are more than is read."""
    for file, content in files.items():
        if not file.endswith(".json"):
            continue
        if len(content) > LARGEST_JSON:
            raise _too_large(
                name,
                f"{file} holds {len(content) / 2**20:.3g} MB, more than the "
                f"{LARGEST_JSON // 2**20} MB that are read",
            )
        if _json_cost(content) > MOST_JSON_COST:
            raise _too_large(name, f"{file} holds more values than a file of a record does")
    if _cost(files) > MOST_COST:
        raise _too_large(name, "its sweeps hold more points than are read")


def _too_large(name: str, why: str) -> RecordError:
    return RecordError(
        f"The record {name} cannot be read: {why}. Take it from where it was copied."
    )


def _json_cost(content: bytes) -> int:
    """What the values of a JSON text take at most, bytes; marks within its words count, too."""
    return (
        PER_BYTE * len(content)
        + PER_OBJECT * content.count(b"{")
        + PER_LIST * content.count(b"[")
        + PER_KEY * content.count(b":")
        + PER_VALUE * content.count(b",")
    )


def _cost(files: Mapping[str, bytes]) -> int:
    total = sum(map(len, files.values()))
    points: dict[str, int] = {}
    for file, content in files.items():
        folder, _, last = file.rpartition("/")
        if last.endswith(".json"):
            total += _json_cost(content)
        elif last.endswith(".s1p"):
            lines = sum(map(content.count, LINE_ENDS)) + 1
            points[folder] = max(points.get(folder, 0), lines)
            total += PER_LINE * lines
        elif last.endswith(".csv"):
            total += PER_ROW * (sum(map(content.count, LINE_ENDS)) + 1)
    return total + PER_POINT * sum(points.values())
