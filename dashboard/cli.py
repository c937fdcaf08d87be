"""The command line: one program, its commands, and how they end.

Exit status 0: done, and every band passes. 1: done, and some band does not. 2: could not be done,
with one plain sentence on standard error. 130: stopped by Ctrl-C.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from acquire.printable_text import plain
from dashboard.commands.accept import accept
from dashboard.commands.bands import bands
from dashboard.commands.batch import batch
from dashboard.commands.cable import cable
from dashboard.commands.calibrate import calibrate
from dashboard.commands.characterise import characterise
from dashboard.commands.check import check
from dashboard.commands.compare import compare
from dashboard.commands.fault import fault
from dashboard.commands.import_file import import_file
from dashboard.commands.page import demo, live
from dashboard.commands.ports import ports
from dashboard.commands.recheck import recheck
from dashboard.commands.records import records
from dashboard.commands.report import report
from dashboard.commands.sweep import sweep
from dashboard.commands.tour import tour
from dashboard.commands.trust import trust
from dashboard.commands.verify import verify
from dashboard.start import STOPPED

if TYPE_CHECKING:
    from acquire.clock import Clock

NOT_DONE = 2

app = typer.Typer(
    name="bandwright",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
for command in (
    demo, tour, live, ports, calibrate, verify, trust, characterise, cable, fault, sweep, check,
    accept, recheck, report, records, compare, batch, bands,
):  # fmt: skip
    app.command()(command)
app.command("import")(import_file)


def _version(wanted: bool) -> None:
    if wanted:
        from acceptance.version import software

        typer.echo(software())
        raise typer.Exit


@app.callback(invoke_without_command=True)
def bandwright(
    context: typer.Context,
    _: Annotated[
        bool,
        typer.Option(
            "--version", callback=_version, is_eager=True, help="Print the version and stop."
        ),
    ] = False,
) -> None:
    """Tune and accept hand-built cellular antennas with a low-cost one-port analyzer.

    Nothing that transmits and no DC on the analyzer's port. Start with `bandwright tour`.
    """
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


def main(arguments: Sequence[str] | None = None, clock: Clock | None = None) -> int:
    """Run one command line and return its exit status.

    arguments : what stands behind the program's name; sys.argv's where None.
    clock : the time that units are spoken to by; the machine's where None.
    """
    from dashboard.terminal import write_what_can_be_written

    write_what_can_be_written()
    try:
        status = app(
            list(sys.argv[1:] if arguments is None else arguments),
            prog_name="bandwright",
            standalone_mode=False,
            obj=clock,
        )
        sys.stdout.flush()
    except (typer.Abort, KeyboardInterrupt):
        status = STOPPED
    except SystemExit:
        # Whoever read the output has left, and typer ends with 1: that would be a verdict.
        status = NOT_DONE
    except Exception as error:  # noqa: BLE001 - a crash must not look like status 1
        return _refuse(_sentence(error))
    return _refuse("Stopped.", STOPPED) if status == STOPPED else int(status or 0)


def _sentence(error: Exception) -> str:
    """Why something could not be done; empty where nobody is left to be told."""
    from acquire.errors import BandwrightError

    match error:
        case BandwrightError():
            return str(error)
        case typer.TyperException():
            return _usage(error)
        case BrokenPipeError():
            # Python would say once more at its exit that nobody reads any longer.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return ""
        case OSError():
            return _about_a_file(error)
        case _:
            for line in "".join(traceback.format_exception(error)).splitlines():
                sys.stderr.write(plain(line) + "\n")
            return (
                "This is a defect of bandwright, not of your unit or your files. Please report "
                "the lines above."
            )


def _refuse(sentence: str, status: int = NOT_DONE) -> int:
    from dashboard.terminal import say, stderr

    if sentence:
        say(sentence, console=stderr())
    return status


def _usage(error: typer.TyperException) -> str:
    """A usage error as one sentence, with where to look it up."""
    sentence = " ".join(error.format_message().split())
    end = "" if sentence.endswith((".", "?")) else "."
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "bandwright"
    return f"{sentence}{end} See {command} --help."


def _about_a_file(error: OSError) -> str:
    why = error.strerror or str(error)
    if error.filename is None:
        return f"The system refused: {why}."
    return f"{os.fsdecode(error.filename)}: {why}. Check the name and the rights."
