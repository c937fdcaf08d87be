"""The command line: one program, its commands, and how they end.

Exit status 0: done, and every band passes. 1: done, and some band does not. 2: could not be done,
with one plain sentence on standard error. 130: stopped by Ctrl-C.
"""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

from acceptance.version import software
from acquire.clock import Clock
from acquire.errors import BandwrightError, ReplyDefectError
from dashboard.command_line import ctrl_c
from dashboard.command_line.command_table import COMMANDS
from dashboard.command_line.exit_status import NOT_DONE, STOPPED
from dashboard.command_line.option_blocks import expanded
from dashboard.terminal.output import say, stderr, write_what_can_be_written


class LoadingGroup(TyperGroup):
    """Lists the commands of the table without loading one, and loads the one that is called."""

    def __init__(self, **settings: Any) -> None:
        """settings : typer's own."""
        super().__init__(**settings)
        for name, each in COMMANDS.items():
            self.add_command(TyperCommand(name, help=each.summary, rich_markup_mode=None))

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Find the command that is called, and load it."""
        name, found, rest = super().resolve_command(ctx, args)
        command = found if name is None else command_named(name)
        ctrl_c.interrupt()  # from here on there may be a port to let go of, a file to take away
        return name, command, rest


def command_named(name: str) -> Any:
    """Load a command of the table, as typer runs it."""
    where = COMMANDS[name]
    function = getattr(importlib.import_module(where.module), where.function)
    alone = typer.Typer(add_completion=False, rich_markup_mode=None)
    alone.command(name)(expanded(function))
    return typer.main.get_command(alone)


app = typer.Typer(
    name="bandwright",
    cls=LoadingGroup,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _version(wanted: bool) -> None:
    if wanted:
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

    Connect nothing that transmits, and no DC, to the analyzer. Start with `bandwright tour`.
    """
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


def main(arguments: Sequence[str] | None = None, clock: Clock | None = None) -> int:
    """Run one command line and return its exit status.

    arguments : what stands behind the program's name; sys.argv's where None.
    clock : the time that analyzers are spoken to by; the machine's where None.
    """
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
    match error:
        case ReplyDefectError():
            from dashboard.files.defect_log import keep_reply_defect  # noqa: PLC0415 - seldom wanted

            keep_reply_defect(error)
            return str(error)
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
            from dashboard.files.defect_log import note_defect  # noqa: PLC0415 - seldom wanted

            note_defect(error, "a command ran")
            return (
                "This is a defect of bandwright, not of your analyzer or your files. Please report "
                "the lines above: `bandwright report-a-fault` puts it together."
            )


def _refuse(sentence: str, status: int = NOT_DONE) -> int:
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
    return f"{os.fsdecode(error.filename)}: {why}. Check the file name and your permissions."
