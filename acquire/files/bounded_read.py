"""Files as far as they may go: one that is too large is refused before it is read."""

from __future__ import annotations

import errno
import os
import select
import stat
from collections.abc import Callable
from pathlib import Path

AnyPath = Path | str
"""A path as people write it, too."""

PIECE_BYTES = 2**20
MOST_TEXT = 4 * 2**20
"""Bytes: what a person writes is shorter."""
PIPE_PATIENCE_S = 5.0
"""Longest wait for the next bytes of a pipe or a terminal: nobody may be at its other end."""


def read_at_most(path: Path, most_bytes: int) -> bytes:
    """The content of a file of at most so many bytes.

    Raises OSError, whose `strerror` says so, for a larger one; what is no ordinary file (a pipe, a
    device) is read until it is larger, or for `PIPE_PATIENCE_S` nothing has come.
    """
    with open(path, "rb", buffering=0, opener=_without_waiting) as file:
        status = os.fstat(file.fileno())
        ordinary = stat.S_ISREG(status.st_mode)
        size = status.st_size if ordinary else 0
        content = bytearray()
        # piece by piece, for a read of so many bytes would take the memory for all of them
        while size <= most_bytes:
            if not ordinary:
                _await_bytes(file.fileno(), path)
            piece = file.read(min(PIECE_BYTES, most_bytes + 1))
            if not piece:
                break
            content += piece
            size = len(content)
    if size > most_bytes:
        raise OSError(
            errno.EFBIG,
            f"it has {_megabytes(size)}; at most {_megabytes(most_bytes)} are read",
            str(path),
        )
    return bytes(content)


def _without_waiting(path: str, flags: int) -> int:
    """Open a file; a pipe without waiting until somebody writes into it."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _await_bytes(descriptor: int, path: Path) -> None:
    """Wait until a pipe or a device can be read; raises OSError where nothing comes."""
    if os.name == "nt":  # waits for sockets alone there, and has no pipes among its files
        return
    if not select.select([descriptor], [], [], PIPE_PATIENCE_S)[0]:
        raise OSError(
            errno.ETIMEDOUT,
            f"it is a pipe, and nothing was written to it for {PIPE_PATIENCE_S:g} s",
            str(path),
        )


def read_text(
    path: Path, what: str, refused: Callable[[str], Exception], most_bytes: int = MOST_TEXT
) -> str:
    """The text of a file that a person writes.

    what : what to call it, as "The plan". Raises what `refused` makes of one sentence, where it
    cannot be read, is no file, too large, or no UTF-8.
    """
    try:
        if path.exists() and not path.is_file():
            raise refused(f"{what} {path} cannot be read: it is no file. Check its name.")
        return read_at_most(path, most_bytes).decode("utf-8-sig")
    except OSError as error:
        why = error.strerror or error
        raise refused(f"{what} {path} cannot be read: {why}. Check its name.") from error
    except UnicodeDecodeError as error:
        raise refused(
            f"{what} {path} is no UTF-8 text at byte {error.start}. Save it as UTF-8."
        ) from error


def _megabytes(size: int) -> str:
    return f"{size / 2**20:.3g} MB"
