"""Ctrl-C while there is nothing to undo: the process ends at once, with a word.

A KeyboardInterrupt that is raised while Python imports may come out as anything, or be swallowed by
a callback and printed. So it is raised only while a command is at work, which lets go of its port
and leaves no half file.
"""

from __future__ import annotations

import os
import signal

from dashboard.command_line.exit_status import STOPPED


def end_at_once() -> None:
    """From now on Ctrl-C ends the process, where it would raise an exception.

    What else was chosen for it stays: a shell has it ignored in what runs in the background.
    """
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _end)


def interrupt() -> None:
    """From now on it is raised as KeyboardInterrupt again."""
    if signal.getsignal(signal.SIGINT) is _end:
        signal.signal(signal.SIGINT, signal.default_int_handler)


def _end(_signal: int, _frame: object) -> None:
    os.write(2, b"Stopped.\n")
    os._exit(STOPPED)
