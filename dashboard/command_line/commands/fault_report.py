"""`report-a-fault`: what whoever mends a fault needs, in one file that its sender has read."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from acquire.files.atomic_write import write_whole
from dashboard.command_line.options import ProfileName
from dashboard.errors import UnattendedError
from dashboard.files.fault_report import fault_report as put_together
from dashboard.files.new_file import require_new
from dashboard.terminal.output import say, stdout


def fault_report(
    *,
    profile: ProfileName = None,
    recording: Annotated[
        Path | None,
        typer.Option(
            "--recording",
            metavar="FILE",
            help="Take the last bytes from this recording, made by --record. Default: from "
            "the last use of an analyzer.",
        ),
    ] = None,
    leave_out: Annotated[
        list[str] | None,
        typer.Option(
            "--leave-out",
            metavar="NAME",
            help="Leave out this name too; repeat for several. Yours and this machine's "
            "are always left out.",
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", metavar="FILE", help="New file to write it to."),
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Write it without asking; it is still shown.")
    ] = False,
) -> None:
    """Collect what a fault report needs into one file.

    It holds versions, the profile and the last bytes. You see all of it before it is kept, and
    nothing is sent anywhere. Needs no hardware.
    """
    path = output or Path(f"bandwright-fault-{datetime.now().astimezone():%Y-%m-%dT%H%M%S}.txt")
    require_new(path)
    text = put_together(profile, recording, leave_out or ())
    for line in text.splitlines():
        stdout().out(line, highlight=False)
    say()
    if not yes and not _agreed(path):
        say("Nothing was kept.")
        return
    write_whole(path, text.encode())
    say(f"Kept as {path}. Nothing was sent; give it to whoever mends the fault.")


def _agreed(path: Path) -> bool:
    try:
        given = stdout().input(f"Keep this as {path}? Read it through first. [y/N] ")
    except EOFError:
        raise UnattendedError(
            "Whether to keep it takes someone to read it, and there is no terminal to ask at. Run "
            "it in a terminal, or give --yes."
        ) from None
    return given.strip().lower() in ("y", "yes")
