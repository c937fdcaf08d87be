"""How the command line ends when something is wrong with the line itself, or with us."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

TOP = Path(__file__).parents[3]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["chek"], "No such command 'chek'. Did you mean 'check'? See bandwright --help."),
        (["check"], "Missing argument 'FILE'. See bandwright check --help."),
        (["bands", "--bad"], "No such option: --bad. See bandwright bands --help."),
    ],
)
def test_a_mistyped_line_is_one_sentence(
    bandwright: Any, arguments: list[str], sentence: str
) -> None:
    assert bandwright(*arguments).refused() == sentence


@pytest.mark.parametrize("arguments", [[], ["--help"], ["check", "-h"]])
def test_help_is_no_failure(bandwright: Any, arguments: list[str]) -> None:
    run = bandwright(*arguments)
    assert run.status == 0
    assert run.out.startswith("Usage: bandwright")


def test_the_version_is_told(bandwright: Any) -> None:
    run = bandwright("--version")
    assert (run.status, run.err) == (0, "")
    assert run.out.startswith("bandwright")


def test_ctrl_c_ends_with_130_and_no_traceback(
    bandwright: Any, monkeypatch: pytest.MonkeyPatch, antenna: Path, plan: Path
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("acceptance.verdict.judge", stopped)
    run = bandwright("check", antenna, "--plan", plan)
    assert (run.status, run.err) == (130, "Stopped.\n")


def test_a_defect_is_status_2_and_never_looks_like_a_verdict(
    bandwright: Any, monkeypatch: pytest.MonkeyPatch, antenna: Path, plan: Path
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("acceptance.verdict.judge", broken)
    run = bandwright("check", antenna, "--plan", plan)
    assert run.status == 2
    assert "This is a defect of bandwright" in run.err


def test_a_reader_that_leaves_early_gets_no_traceback() -> None:
    listing = subprocess.Popen(
        [sys.executable, "-m", "dashboard", "bands"],
        cwd=TOP,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert listing.stdout is not None
    assert listing.stderr is not None
    listing.stdout.close()
    complaint = listing.stderr.read()
    listing.stderr.close()
    assert listing.wait() in (0, 2)
    assert complaint == b""
