"""Ctrl-C at one moment after the other of a command. Run by a test, in a process of its own:

    python tests/dashboard/command_line/commands/stopping.py FOLDER MOMENTS COMMAND...

A moment is a call of a function: the command is run once to count them, then stopped at so many,
spread evenly. Prints how each run ended, and what it left behind. Calls within `threading` are no
moments: one that stops CPython between taking a lock and knowing of it leaves the lock taken, and
then it takes a second Ctrl-C.
"""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from types import FrameType
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[4]))

from dashboard.command_line.main import main
from replay.clock import AcceleratedClock


def run(arguments: Sequence[str], stop_at: int | None) -> tuple[int, str, int]:
    """Exit status, standard error, and how many calls there were."""
    calls = 0

    def count(frame: FrameType, event: str, _argument: Any) -> None:
        nonlocal calls
        if event != "call" or frame.f_globals.get("__name__") == "threading":
            return
        calls += 1
        if calls == stop_at:
            sys.setprofile(None)
            raise KeyboardInterrupt

    def swallowed(unraisable: sys.UnraisableHookArgs) -> None:
        """What comes while Python tidies up is heard by nobody: Python itself lets it pass by."""
        if unraisable.exc_type is not KeyboardInterrupt:
            sys.__unraisablehook__(unraisable)

    error = io.StringIO()
    clock = AcceleratedClock()
    sys.unraisablehook = swallowed
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(error):
        sys.setprofile(count)
        try:
            status = main(arguments, clock)
        except KeyboardInterrupt:  # in the last word itself
            status = 130
        finally:
            sys.setprofile(None)
            sys.unraisablehook = sys.__unraisablehook__
    return status, error.getvalue(), calls


def stopped(folder: Path, moments: int, command: Sequence[str]) -> None:
    made = folder / "made"
    arguments = [word.replace("FOLDER", str(made)) for word in command]
    made.mkdir()
    run(arguments, None)
    shutil.rmtree(made)
    made.mkdir()
    status, _, calls = run(arguments, None)
    whole = sorted(each.name for each in made.rglob("*"))
    ended = []
    for moment in range(moments):
        shutil.rmtree(made)
        made.mkdir()
        how, error, _ = run(arguments, 1 + moment * calls // moments)
        left = sorted(each.name for each in made.rglob("*"))
        ended.append((how, error, left))
    print(json.dumps({"status": status, "whole": whole, "ended": ended}))


if __name__ == "__main__":
    stopped(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3:])
