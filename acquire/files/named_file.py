"""Files that another file names: below its folder, and nowhere else."""

from __future__ import annotations

from pathlib import Path

from acquire.errors import NamedFileError
from acquire.files.bounded_read import read_at_most
from acquire.touchstone.reader import MOST_BYTES


def in_folder(folder: Path, name: str) -> Path:
    """The path of a file below a folder, by the name that another file says.

    A name is data: it never leads out of the folder, be it by dots, from the root, by a drive, a
    device or a link. Raises BesideError where it would.
    """
    parts = name.split("/")
    odd = any(letter in name for letter in "\\:\0")
    if odd or any(part in ("", ".", "..") for part in parts):
        raise NamedFileError(
            f"{name!r} is not the name of a file in the same folder. Put the file there."
        )
    path = folder.joinpath(*parts)
    if not path.resolve().is_relative_to(folder.resolve()):
        raise NamedFileError(f"{name!r} is a link to another place. Put the file itself there.")
    return path


def read_in_folder(folder: Path, name: str) -> bytes:
    """The content of such a file, as far as a Touchstone file may go.

    Raises as `in_folder` and for what is no ordinary file, and OSError where it cannot be read.
    """
    path = in_folder(folder, name)
    if path.exists() and not path.is_file():
        raise NamedFileError(f"{name!r} is not a file. Put the file itself there.")
    return read_at_most(path, MOST_BYTES)
