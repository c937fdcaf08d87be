"""A Touchstone file that a person names, and the plane its data holds at."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from acquire.files.bounded_read import read_at_most
from acquire.sweep import Plane
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


def plane_of(
    content: bytes, data: TouchstoneFile, plane_name: PlaneName | None
) -> tuple[Plane, list[str]]:
    """Return the plane a file's data holds at, and what a person should know of the file."""
    remarks = list(data.remarks)
    at = stated_plane(content) if plane_name is None else Plane(plane_name)
    if at is None:
        at = Plane.CONNECTOR
        remarks.append(
            "The file does not say at which plane it holds; the connector is assumed. Say "
            "otherwise with --plane."
        )
    return at, remarks
