"""How the command line ends when something is wrong with the line itself, or with us."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.counts import PATIENCE_S
from tests.wording import missing_words

TOP = Path(__file__).parents[4]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["swep"], "'swep' | 'sweep'? | bandwright --help"),
        (["check"], "missing | 'FILE' | bandwright check --help"),
        (["bands", "--bad"], "no such option: --bad | bandwright bands --help"),
    ],
)
def test_a_mistyped_line_is_one_sentence(bandwright: Any, arguments: list[str], words: str) -> None:
    assert not missing_words(bandwright(*arguments).refused(), *words.split(" | "))


def test_why_it_could_not_be_done_is_wrapped_on_a_terminal(
    bandwright: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """In a pipe it stays one line, for whatever reads it there."""
    piped = bandwright("compare", "weir-1", "ford-3", "--folder", tmp_path).refused()
    assert len(piped) > 80
    monkeypatch.setenv("FORCE_COLOR", "1")  # as on a terminal
    result = bandwright("compare", "weir-1", "ford-3", "--folder", tmp_path).err.splitlines()
    assert len(result) == 2
    assert " ".join(each.strip() for each in result) == piped
    assert max(map(len, result)) <= 80


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

    monkeypatch.setattr("acceptance.verdict.judged_sweep.judge", stopped)
    run = bandwright("check", antenna, "--plan", plan)
    assert (run.status, run.err) == (130, "Stopped.\n")


def test_a_defect_is_status_2_and_never_looks_like_a_verdict(
    bandwright: Any, monkeypatch: pytest.MonkeyPatch, antenna: Path, plan: Path
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("acceptance.verdict.judged_sweep.judge", broken)
    run = bandwright("check", antenna, "--plan", plan)
    assert run.status == 2
    assert "This is a defect of bandwright" in run.err


@pytest.mark.process
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


PLAN = 'name = "one band"\n[[band]]\nlte = 20\nreturn_loss_db = 6\n'


ON_AN_ANALYZER = "--port virtual: --plan PLAN --out FOLDER/"


@pytest.mark.process
@pytest.mark.parametrize(
    ("command", "whole"),
    [
        (f"sweep {ON_AN_ANALYZER}a.s1p", "a.s1p"),
        (f"calibrate --kit 3.5mm-plug-50 --unattended {ON_AN_ANALYZER}c.json", "c.json"),
    ],
    ids=["sweep", "calibrate"],
)
def test_ctrl_c_at_any_moment_ends_with_a_word_and_leaves_no_half_file(
    command: str, whole: str, tmp_path: Path
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN, encoding="utf-8")
    arguments = [word.replace("PLAN", str(plan)) for word in command.split()]
    script = Path(__file__).with_name("stopping.py")
    done = subprocess.run(
        [sys.executable, str(script), str(tmp_path), "25", *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=2 * PATIENCE_S,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path / "data")},
    )
    assert done.stderr == ""
    result = json.loads(done.stdout)
    assert result["status"] in (0, 1)
    assert result["whole"] == [whole]
    stopped = 0
    for status, error, left in result["ended"]:
        assert status in (130, result["status"])  # a moment in which nobody listens may pass by
        assert "Traceback" not in error
        assert left in ([], [whole])
        stopped += status == 130
    assert stopped > 20


SIGNALLED = """
import importlib.abc, os, signal, sys
class Signal(importlib.abc.MetaPathFinder):
    def find_spec(self, name, *more):
        global left, ours
        ours = ours or name == "dashboard.start"  # what was before is Python's own
        left -= ours
        if ours and left == 0:
            os.kill(os.getpid(), signal.SIGINT)
left, ours = int(sys.argv.pop(1)), False
sys.meta_path.insert(0, Signal())
import runpy
sys.argv[0] = "dashboard"
sys.path[0] = os.getcwd()
"""
BEGUN_BY = {
    "python -m": 'runpy.run_module("dashboard", run_name="__main__", alter_sys=True)',
    "bandwright": "import dashboard.start; sys.exit(dashboard.start.main())",
}


@pytest.mark.process
@pytest.mark.skipif(os.name == "nt", reason="a process sends itself no Ctrl-C there")
@pytest.mark.parametrize(
    ("begun_by", "at_import"),
    [("python -m", at) for at in (1, 2, 3, 4, 5, 20, 60, 400)] + [("bandwright", 2)],
)
def test_ctrl_c_at_any_import_is_130_and_a_word(begun_by: str, at_import: int) -> None:
    """By the signal itself, not by an exception raised in its place."""
    done = subprocess.run(
        [sys.executable, "-c", SIGNALLED + BEGUN_BY[begun_by], str(at_import), "verify", "--help"],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, "", "Stopped.\n")


@pytest.mark.process
@pytest.mark.skipif(os.name == "nt", reason="a process sends itself no Ctrl-C there")
def test_ctrl_c_when_all_is_said_ends_without_a_traceback() -> None:
    script = (
        "import os, signal, sys, atexit\n"
        "atexit.register(lambda: os.kill(os.getpid(), signal.SIGINT))\n"
        "from dashboard.start import main\n"
        "sys.argv[1:] = ['--version']\n"
        "sys.exit(main())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=TOP, capture_output=True, text=True, check=False
    )
    assert done.stdout.startswith("bandwright")
    assert (done.returncode, done.stderr) == (130, "Stopped.\n")


@pytest.mark.process
def test_numpy_s_warnings_are_no_words_for_a_person() -> None:
    script = (
        "import sys\n"
        "import numpy as np\n"
        "import dashboard.command_line.main as line\n"
        "from dashboard.start import main\n"
        "line.main = lambda: int(np.isinf(np.ones(1) / np.zeros(1))[0])\n"
        "sys.exit(main())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=TOP, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (1, "")


@pytest.mark.process
@pytest.mark.parametrize(
    "while_importing",
    ["dashboard.command_line.main", "typer", "dashboard.command_line.commands.verify"],
)
def test_ctrl_c_while_the_program_loads_is_a_word_too(while_importing: str) -> None:
    stop = (
        "import sys\n"
        "from dashboard.start import main\n"
        "class Stop:\n"
        "    def find_spec(self, name, *more):\n"
        f"        if name == {while_importing!r}: raise KeyboardInterrupt\n"
        "sys.meta_path.insert(0, Stop())\n"
        "sys.exit(main())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", stop, "verify"], cwd=TOP, capture_output=True, text=True, check=False
    )
    assert done.stderr == "Stopped.\n"
    # CPython may end by the signal itself, which a shell tells as 130 too
    assert done.returncode in (130, -signal.SIGINT)
