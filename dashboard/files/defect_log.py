"""What went wrong by a fault of this program: told on the terminal, and kept in a bounded file."""

from __future__ import annotations

import contextlib
import sys
import threading
import traceback
from datetime import datetime
from pathlib import Path

from acceptance.version import software
from acquire.files.atomic_write import write_whole
from acquire.files.bounded_read import read_at_most
from acquire.printable_text import plain
from dashboard.files import user_folders
from dashboard.files.last_bytes import write_last_bytes

LARGEST_LOG = 256 * 2**10
"""Bytes; of more, the oldest go."""
LARGEST_DEFECT = 32 * 2**10
"""Characters of one; the end of a trace says most."""
FILE = "defects.txt"
_ONE_AT_A_TIME = threading.Lock()


def log_path() -> Path:
    """The file; there may be none yet."""
    return user_folders.faults() / FILE


def defect_words() -> str:
    """What a person is told of a defect."""
    return (
        "This failed by a fault of bandwright, not by what you did. What happened is kept in "
        f"{log_path()}; `bandwright report-a-fault` puts it together for a report."
    )


def note_defect(error: BaseException, doing: str) -> None:
    """Tell of a defect on standard error, and keep it.

    doing : what was being done, in a few words. That it cannot be kept stops nothing.
    """
    trace = _trace(error)
    with contextlib.suppress(OSError, ValueError):  # nobody may be left to read it
        sys.stderr.write(f"{trace}\nA defect of bandwright, while {doing}. Kept in {log_path()}.\n")
        sys.stderr.flush()
    keep_defect(trace, doing)


def keep_reply_defect(error: BaseException) -> None:
    """Keep how an analyzer's reply made this program fail; a person is told of a bad reply."""
    keep_defect(_trace(error), "making sense of a reply")


def _trace(error: BaseException) -> str:
    """The end of a trace, without what would steer a screen."""
    lines = "".join(traceback.format_exception(error)).splitlines()
    return "\n".join(plain(line) for line in lines)[-LARGEST_DEFECT:]


def keep_defect(trace: str, doing: str) -> None:
    """Put a defect at the end of the log, which stays within its bound."""
    now = datetime.now().astimezone()
    entry = f"{now:%Y-%m-%dT%H:%M:%S%z}, {software()}, while {doing}\n{trace}\n\n"
    with _ONE_AT_A_TIME, contextlib.suppress(OSError):
        path = log_path()
        path.parent.mkdir(parents=True, exist_ok=True)
        before = path.read_bytes()[-LARGEST_LOG:] if path.is_file() else b""
        kept = (before + entry.encode())[-LARGEST_LOG:]
        write_whole(path, kept)
    write_last_bytes()


def kept_defects() -> str:
    """What the log holds; empty where there is none."""
    with contextlib.suppress(OSError):
        if log_path().is_file():
            return read_at_most(log_path(), 2 * LARGEST_LOG).decode("utf-8", "replace")
    return ""
