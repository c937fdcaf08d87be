"""Options that belong together reach a command as one value."""

from __future__ import annotations

import importlib
import inspect
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated, Any

import pytest
import typer
from typer.testing import CliRunner

from dashboard.command_line.command_table import COMMANDS
from dashboard.command_line.option_blocks import FIRST, expanded

MOST_PARAMETERS = 10


@dataclass(frozen=True, slots=True)
class Place:
    """Where something is."""

    town: Annotated[str, typer.Option("--town", metavar="NAME"), FIRST]
    street: Annotated[str, typer.Option("--street", metavar="NAME")] = "High Street"
    storey: Annotated[int | None, typer.Option("--storey", min=0)] = None


@dataclass(frozen=True, slots=True)
class FlatPlace(Place):
    """The same for a house of one storey."""

    storey: None = field(default=None, init=False)


def run(command: Callable[..., None], *arguments: str) -> str:
    app = typer.Typer(add_completion=False, rich_markup_mode=None)
    app.command()(expanded(command))
    done = CliRunner().invoke(app, arguments, env={"COLUMNS": "100"})
    assert done.exit_code == 0, done.output
    return done.stdout


def result(value: object) -> None:
    typer.echo(repr(value))


def visit(
    name: Annotated[str, typer.Argument()],
    *,
    loud: Annotated[bool, typer.Option("--loud")] = False,
    place: Place,
    twice: Annotated[bool, typer.Option("--twice")] = False,
) -> None:
    """Visit someone."""
    result((name, loud, place, twice))


def call(context: typer.Context, *, place: FlatPlace) -> None:
    """Call someone."""
    result((context.info_name, place))


def test_a_block_is_made_of_what_was_given() -> None:
    out = run(visit, "Ann", "--town", "Ely", "--storey", "2", "--loud")
    assert out == repr(("Ann", True, Place("Ely", storey=2), False)) + "\n"


def test_what_was_not_given_is_the_blocks_own_default() -> None:
    assert run(visit, "Ann", "--town", "Ely") == repr(("Ann", False, Place("Ely"), False)) + "\n"


def test_options_stand_where_their_block_stands_but_for_one_marked_first() -> None:
    lines = [line.split()[0] for line in run(visit, "--help").splitlines() if "  --" in line]
    assert lines == ["--town", "--loud", "--street", "--storey", "--twice", "--help"]


def test_a_field_that_is_not_given_at_the_making_is_no_option() -> None:
    assert "--storey" not in run(call, "--help")
    assert "FlatPlace(town='Ely', street='High Street', storey=None)" in run(call, "--town", "Ely")


def test_the_command_keeps_its_name_and_words() -> None:
    shown = expanded(visit)
    assert (shown.__name__, shown.__doc__) == ("visit", "Visit someone.")


def test_two_options_of_one_name_are_refused() -> None:
    def move(*, here: Place, there: Place) -> None:
        result((here, there))

    move.__annotations__ |= {"here": Place, "there": Place}
    with pytest.raises(TypeError, match="move takes storey, street, town twice"):
        expanded(move)


@pytest.mark.parametrize("name", COMMANDS)
def test_no_command_has_more_parameters_of_its_own_than_one_can_see_at_once(name: str) -> None:
    function: Any = getattr(importlib.import_module(COMMANDS[name].module), COMMANDS[name].function)
    assert len(inspect.signature(function).parameters) <= MOST_PARAMETERS
