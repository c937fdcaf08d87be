"""Files that are either whole or not there."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a reader, or a power cut, finds the old one or the new, never half.

    Temporary file in the same folder, fsync, rename, fsync of the folder where the system
    allows that. Raises OSError; the old file is then untouched and nothing is left behind.
    What is no file, such as a pipe or /dev/null, is written to and never replaced.
    """
    if path.exists() and not path.is_file():
        path.write_bytes(content)
        return
    descriptor, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make a folder's entries outlast a power cut; a no-op where folders cannot be opened."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except (OSError, AttributeError):  # Windows opens no folders
        return
    try:
        os.fsync(descriptor)
    except OSError:
        pass
    finally:
        os.close(descriptor)
