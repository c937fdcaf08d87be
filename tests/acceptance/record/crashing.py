"""An acceptance that is killed, or runs out of disk, at one step after another.

    python tests/acceptance/record/crashing.py kill|full FOLDER STRIDE

Every operation on a file is a step: opening, making a folder, renaming, removing, making it
outlast a power cut. A child process does the same acceptance each time and ends at the next step,
by `_exit`, as by kill -9; the file that was being written is cut in half first, as by a power cut.
With "full" the disk refuses from that step on instead. Then what is on the disk is looked at.
Every STRIDE-th step is tried, `kill` and `full` beginning at different ones.
The report is set in type once: each child writes the same one. Prints one JSON line.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

from acceptance.errors import RecordError
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Condition
from acceptance.record.examination import Examined
from acceptance.record.unfinished_records import UNFINISHED_FOLDER, unfinished
from acceptance.report.report_files import report_files
from calibration.uncertainty.budget import Assumptions
from dashboard.acceptance_run import running_acceptance
from dashboard.acceptance_run.running_acceptance import AntennaDetails, RunningAcceptance
from tests.acceptance.made import BEGUN, UNCHECKED_PLAN_TEXT, calibration, plan, sweeps

EVENTS = {"open", "os.mkdir", "os.rename", "os.remove", "os.rmdir", "shutil.rmtree"}
MOST_STEPS = 2000
ASSUMPTIONS = Assumptions(load_db=40.0)
PLAN = plan(UNCHECKED_PLAN_TEXT)
CALIBRATION, SAID = calibration(), AntennaDetails("weir-3")
SWEPT = {"bare": sweeps(838e6), "sealed": sweeps(820e6)}


class Steps:
    """Counts operations below a folder, and ends or refuses at one of them."""

    def __init__(self, below: Path, at: int, end: Callable[[], None]) -> None:
        self._below, self._at, self._end = str(below), at, end
        self.count = 0
        self.on = False
        self._fsync = os.fsync
        sys.addaudithook(self.event)
        os.fsync = self.fsync  # type: ignore[assignment]

    def event(self, name: str, arguments: tuple[Any, ...]) -> None:
        if self.on and name in EVENTS and str(arguments[0]).startswith(self._below):
            self.step()

    def fsync(self, descriptor: int) -> None:
        if self.on and self.count + 1 == self._at:
            with contextlib.suppress(OSError):  # a folder has no length to cut
                os.ftruncate(descriptor, os.fstat(descriptor).st_size // 2)
        if self.on:
            self.step()
        self._fsync(descriptor)

    def step(self) -> None:
        self.count += 1
        if self.count >= self._at:
            self._end()


class Once:
    """Sets a report in type once: of the one record that all children write."""

    def __init__(self) -> None:
        self._made: tuple[dict[str, bytes], str] | None = None

    def __call__(self, examined: Examined) -> tuple[dict[str, bytes], str]:
        self._made = self._made or report_files(examined)
        return self._made


def job(folder: Path, tell: Callable[[str], None]) -> None:
    """Both conditions, the first one twice, and the sign-off."""
    running = RunningAcceptance(folder)
    for name in ("bare", "bare", "sealed"):
        running.keep(
            Condition(name, SWEPT[name]),
            SAID,
            plan=PLAN,
            calibration=CALIBRATION,
            assumptions=ASSUMPTIONS,
            at=BEGUN,
        )
        tell(name)
    at = BEGUN + timedelta(minutes=9)
    running.sign_off(SAID, calibration=CALIBRATION, assumptions=ASSUMPTIONS, at=at)
    tell("record")


def child(folder: Path, at: int, how: str, pipe: int) -> None:
    def kill() -> None:
        os._exit(9)

    def refuse() -> None:
        raise OSError(28, "No space left on device")

    steps = Steps(folder, at, kill if how == "kill" else refuse)
    steps.on = True
    try:
        job(folder, lambda name: os.write(pipe, f"{name}\n".encode()) and None)
    except RecordError as error:
        steps.on = False
        os.write(pipe, f"refused: {error}\n".encode())
    os._exit(0)


def one(folder: Path, at: int, how: str) -> tuple[list[str], bool]:
    """Run it once; return what was acknowledged, and whether it ran through."""
    reading, writing = os.pipe()
    number = os.fork()
    if number == 0:
        os.close(reading)
        try:
            child(folder, at, how, writing)
        finally:
            os._exit(70)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        told = pipe.read().splitlines()
    _, status = os.waitpid(number, 0)
    code = os.waitstatus_to_exitcode(status)
    assert code in (0, 9), f"step {at}: ended with {code}"
    return told, "record" in told


def examined_condition(folder: Path, told: list[str]) -> str:
    """What is wrong on the disk, given what was acknowledged; empty where nothing is."""
    entries = [each for each in folder.iterdir() if not each.name.startswith(".")]
    records = [each for each in entries if each.is_dir() and each.name != UNFINISHED_FOLDER]
    for record in records:
        if not recheck_folder(record).holds:
            return f"{record.name} is no whole record"
    if "record" in told:
        return "" if len(records) == 1 else f"{len(records)} records"
    kept = {one.name for each in unfinished(folder) for one in each.acceptance.conditions}
    if records:
        kept |= {"bare", "sealed"}
    lost = {name for name in told if name in SWEPT} - kept
    return f"lost: {sorted(lost)}" if lost else ""


def main(how: str, top: Path, stride: int) -> None:
    (top / "whole").mkdir()
    job(top / "whole", lambda _: None)  # what it loads and sets in type, every child has
    first = 1 + (how == "full") * (stride // 2)
    for at in range(first, MOST_STEPS, stride):
        folder = top / f"step {at}"
        folder.mkdir()
        told, through = one(folder, at, how)
        wrong = examined_condition(folder, told)
        silent = how == "full" and not through and not any("refused" in each for each in told)
        if wrong or silent:
            print(json.dumps({"step": at, "told": told, "wrong": wrong or "it said nothing"}))
            return
        if through and sum(each.is_dir() for each in folder.iterdir()) == 1:
            print(json.dumps({"steps": at - 1, "wrong": ""}))
            return


if __name__ == "__main__":
    with patch.object(running_acceptance, "report_files", Once()):
        main(sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]))
