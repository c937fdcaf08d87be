"""A Touchstone file that a person names, and the plane its data holds at."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from acquire.files.bounded_read import read_at_most
from acquire.printable_text import plain
from acquire.sweep import Plane, Reading, Source
from acquire.touchstone.reader import MOST_BYTES, TouchstoneFile, parse_touchstone
from acquire.touchstone.stated_plane import stated_plane

TouchstonePath = Annotated[
    Path, typer.Argument(metavar="FILE", help="A Touchstone file, one-port or two-port (S11).")
]


class PlaneName(StrEnum):
    """Reference planes, as a person names them."""

    RAW = "raw"
    CONNECTOR = "connector"
    ANTENNA = "antenna"


def read_file(file: Path) -> tuple[bytes, TouchstoneFile]:
    """Read a Touchstone file; return its content too. Raises OSError, TouchstoneError."""
    content = read_at_most(file, MOST_BYTES)
    return content, parse_touchstone(content, file.name)


@dataclass(frozen=True, slots=True, eq=False)
class NamedFile:
    """A Touchstone file that a person named, and what it and they say of its data."""

    content: bytes
    reading: Reading
    plane: Plane
    """Where the data holds."""
    source: Source
    remarks: tuple[str, ...]
    """What a person should know of the file, and is in no verdict; one sentence each."""
    doubts: tuple[str, ...]
    """What says that the data may be another one than was read: in the verdict."""


def read_named(file: Path, plane_name: PlaneName | None) -> NamedFile:
    """Read a Touchstone file for a verdict. Raises OSError, TouchstoneError."""
    content, data = read_file(file)
    stated = stated_plane(content, file.name)
    remarks = [each for each in data.remarks if each not in data.doubts]
    at = Plane.CONNECTOR if stated.plane is None else stated.plane
    if plane_name is not None:
        at = Plane(plane_name)
    elif stated.plane is None:
        remarks.append(
            "The file does not say at which plane it holds; the connector is assumed. Say "
            "otherwise with --plane."
        )
    elif at is Plane.RAW and not stated.analyzer_corrected:
        remarks.append(f"Raw by {stated.why}. Say otherwise with --plane.")
    source = Source("file", plain(file.name), "", plain(file), stated.analyzer_corrected)
    return NamedFile(content, data.reading, at, source, tuple(remarks), data.doubts)
