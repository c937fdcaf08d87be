"""Commands are listed from the table and loaded when they are called."""

from __future__ import annotations

import importlib
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

from dashboard.command_line.command_table import COMMANDS

TOP = Path(__file__).parents[3]
LOADED = (
    "import sys\n"
    "from dashboard.command_line.main import main\n"
    "status = main(sys.argv[1:])\n"
    "for name in sorted(sys.modules): print('loaded', name)\n"
)


def commands_loaded_by(*arguments: str) -> set[str]:
    """The modules of commands that one command line loads."""
    done = subprocess.run(
        [sys.executable, "-c", LOADED, *arguments],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {line.removeprefix("loaded ") for line in done.stdout.splitlines()}
    assert "dashboard.command_line.main" in loaded
    return loaded & {each.module for each in COMMANDS.values()}


@pytest.mark.parametrize("name", COMMANDS)
def test_the_summary_is_the_first_line_of_the_commands_docstring(name: str) -> None:
    where = COMMANDS[name]
    function = getattr(importlib.import_module(where.module), where.function)
    assert where.summary == (inspect.getdoc(function) or "").splitlines()[0]


@pytest.mark.process
@pytest.mark.parametrize("arguments", [("--help",), (), ("--version",), ("chek",)])
def test_help_and_looking_a_command_up_load_no_command(arguments: tuple[str, ...]) -> None:
    assert commands_loaded_by(*arguments) == set()


@pytest.mark.process
@pytest.mark.parametrize("name", ["check", "ports", "import"])
def test_a_command_that_is_called_is_the_only_one_loaded(name: str) -> None:
    assert commands_loaded_by(name, "--help") == {COMMANDS[name].module}
