"""A Touchstone file on disk, as a sweep."""

from __future__ import annotations

import warnings
from datetime import datetime
from pathlib import Path

from acquire.errors import TouchstoneError
from acquire.files.bounded_read import AnyPath, read_at_most
from acquire.printable_text import plain
from acquire.sweep import NOT_NAMED, UNKNOWN_TIME, Plane, Source, Sweep
from acquire.touchstone.reader import MOST_BYTES, parse_touchstone
from acquire.touchstone.stated_plane import stated_plane


def read_touchstone(
    path: AnyPath,
    *,
    plane: Plane | None = None,
    taken_at: datetime = UNKNOWN_TIME,
    analyzer: str = NOT_NAMED,
) -> Sweep:
    """Read a Touchstone file, one-port or two-port (S11), as a sweep.

    plane : where it holds. None: what the file itself says (`stated_plane`), else the connector.
    taken_at, analyzer : as `Sweep.from_network` takes them; the file does not tell either.
    What is certain but odd in the file is warned of, a UserWarning each. Raises TouchstoneError,
    one sentence, where it cannot be read with certainty.
    """
    path = Path(path)
    try:
        content = read_at_most(path, MOST_BYTES)
    except OSError as error:
        why = error.strerror or error
        raise TouchstoneError(f"{path} cannot be read: {why}. Check its name.") from error
    file = parse_touchstone(content, path.name)
    stated = stated_plane(content, path.name)
    at = plane or stated.plane
    unstated = "It does not say at which plane it holds; the connector is assumed. Say plane=."
    for remark in (*file.remarks, *([] if at else [unstated])):
        warnings.warn(f"{plain(path.name)}: {remark}", stacklevel=2)
    return Sweep(
        frequency_hz=file.reading.frequency_hz,
        reflection=file.reading.reflection,
        plane=at or Plane.CONNECTOR,
        taken_at=taken_at,
        sequence=1,
        source=Source("file", analyzer, "", plain(path), stated.analyzer_corrected),
        request=(),
        doubts=file.doubts,
    )
