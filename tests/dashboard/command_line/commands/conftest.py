"""What the command line's tests share: one run of it, and files to run it on."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from acquire.clock import Clock
from dashboard.command_line.main import main

GUARDS = Path(__file__).parents[3] / "guards"


@dataclass(frozen=True)
class Run:
    """How a command ended."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)

    def refused(self) -> str:
        """The one line on standard error of a command that could not be done."""
        assert self.status == 2, (self.status, self.out, self.err)
        assert self.out == ""
        assert "Traceback" not in self.err
        assert self.err.endswith((".\n", "?\n")), self.err
        assert self.err.count("\n") == 1, self.err
        return self.err.strip()


Bandwright = Callable[..., Run]


@pytest.fixture
def bandwright(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Bandwright:
    """Run one command line in this process, 80 columns wide."""
    monkeypatch.setenv("COLUMNS", "80")

    def run(*arguments: object, clock: Clock | None = None) -> Run:
        status = main([str(each) for each in arguments], clock)
        captured = capsys.readouterr()
        return Run(status, captured.out, captured.err)

    return run


@pytest.fixture
def antenna() -> Path:
    """An invented antenna that passes `plan`."""
    return GUARDS / "example.s1p"


@pytest.fixture
def plan() -> Path:
    """The river-watch group's plan."""
    return GUARDS / "example.toml"
