"""docs/commands.md and the program name the same commands, options and arguments."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from dashboard.command_line.command_table import COMMANDS as TABLE
from dashboard.command_line.main import command_named, main

CHAPTER = Path(__file__).parents[2] / "docs" / "commands.md"
COMMANDS: dict[str, Any] = {name: command_named(name) for name in TABLE}
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")


def sections() -> dict[str, str]:
    """The text below each heading that names a command."""
    parts = re.split(r"^## ", CHAPTER.read_text(encoding="utf-8"), flags=re.MULTILINE)
    named = {}
    for part in parts[1:]:
        heading, _, text = part.partition("\n")
        if match := re.fullmatch(r"`([a-z-]+)`", heading.strip()):
            named[match[1]] = text
    return named


def options_of(command: Any) -> set[str]:
    """The options of a command, long form, but for --help, which all have."""
    return {
        name
        for parameter in command.params
        for name in (*parameter.opts, *parameter.secondary_opts)
        if name.startswith("--")
    } - {"--help"}


def test_every_command_has_its_section_and_no_other() -> None:
    assert set(sections()) == set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_stands_in_its_commands_section_and_no_other(name: str) -> None:
    text = sections()[name]
    # An example may show another command: its lines are that command's.
    own = "\n".join(
        line
        for line in text.splitlines()
        if not (other := re.search(r"\bbandwright ([a-z]+)", line)) or other[1] == name
    )
    assert options_of(COMMANDS[name]) == set(OPTION.findall(own))


def test_the_list_of_commands_is_not_clipped_at_80_columns(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is too long is cut short there, and so is all behind the first sentence."""
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["--help"]) == 0
    listed = capsys.readouterr().out
    for each in TABLE.values():
        assert each.summary in listed


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_option_says_in_help_what_it_does(name: str) -> None:
    command = COMMANDS[name]
    assert command.help
    for parameter in command.params:
        assert parameter.name == "help" or parameter.help, parameter.name


def test_the_guard_sees_an_option_that_is_not_documented() -> None:
    assert "--plan" in options_of(COMMANDS["check"])
    assert "--nothing" not in sections()["check"]
    assert OPTION.findall("`--page-port N`, a--b, --json") == ["--page-port", "--json"]
