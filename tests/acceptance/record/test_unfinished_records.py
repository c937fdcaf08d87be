"""An acceptance that is interrupted anywhere loses nothing that was acknowledged."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Condition
from acceptance.record.examination import Examined
from acceptance.record.unfinished_records import UNFINISHED_FOLDER, unfinished
from calibration.uncertainty.budget import Assumptions
from dashboard.acceptance_run.running_acceptance import AntennaDetails, RunningAcceptance
from dashboard.errors import NotNowError
from tests.acceptance.made import BEGUN, UNCHECKED_PLAN_TEXT, calibration, plan, sweeps
from tests.counts import LONG

TOP = Path(__file__).parents[3]
SAID = AntennaDetails("weir-3", "A. Volunteer")
ASSUMPTIONS = Assumptions(load_db=40.0)
AT = BEGUN + timedelta(minutes=9)


def keep(
    running: RunningAcceptance, name: str, f0_hz: float, said: AntennaDetails = SAID
) -> Examined:
    return running.keep(
        Condition(name, sweeps(f0_hz)),
        said,
        plan=plan(UNCHECKED_PLAN_TEXT),
        calibration=calibration(),
        assumptions=ASSUMPTIONS,
        at=BEGUN,
    )


@pytest.mark.process
@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system forks no processes")
@pytest.mark.parametrize("how", ["kill", "full"])
def test_killed_or_without_disk_at_any_step_there_is_a_whole_record_or_none(
    tmp_path: Path, how: str
) -> None:
    """At the operations on files, one after another; what was acknowledged is always there.

    `make long` ends it at every single one.
    """
    program = Path(__file__).with_name("crashing.py")
    done = subprocess.run(
        [sys.executable, str(program), how, str(tmp_path), "1" if LONG else "3"],
        env={**os.environ, "PYTHONPATH": str(TOP)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["wrong"] == "", found
    assert found["steps"] > 60


def test_it_goes_on_where_it_was_under_the_same_name(tmp_path: Path) -> None:
    keep(RunningAcceptance(tmp_path), "bare", 838e6)
    again = RunningAcceptance(tmp_path)
    assert again.state(plan(UNCHECKED_PLAN_TEXT)).others == (
        f"weir-3, begun {BEGUN.astimezone():%Y-%m-%d %H:%M}; swept: bare",
    )
    assert not again.go_on("weir-4", plan(UNCHECKED_PLAN_TEXT), calibration())
    assert again.go_on("weir-3", plan(UNCHECKED_PLAN_TEXT), calibration())
    assert again.missing(plan(UNCHECKED_PLAN_TEXT)) == ("sealed",)
    assert [each.words for each in again.state(plan(UNCHECKED_PLAN_TEXT)).conditions] == [
        "pass",
        "",
    ]
    keep(again, "sealed", 820e6)
    folder = again.sign_off(SAID, calibration=calibration(), assumptions=ASSUMPTIONS, at=AT).path
    assert recheck_folder(folder).holds
    assert not (tmp_path / UNFINISHED_FOLDER).exists()
    assert unfinished(tmp_path) == []


def test_what_was_not_swept_as_the_plan_asks_is_not_kept(tmp_path: Path) -> None:
    running = RunningAcceptance(tmp_path)
    keep(running, "bare", 838e6)
    with pytest.raises(NotNowError, match=r"wants 2 sweeps that agree, .* sealed there is 1"):
        running.keep(
            Condition("sealed", sweeps(820e6, 1)),
            SAID,
            plan=plan(UNCHECKED_PLAN_TEXT),
            calibration=calibration(),
            assumptions=ASSUMPTIONS,
            at=BEGUN,
        )
    (one,) = unfinished(tmp_path)
    assert [each.name for each in one.acceptance.conditions] == ["bare"]


def test_a_condition_swept_again_takes_the_place_of_the_first(tmp_path: Path) -> None:
    running = RunningAcceptance(tmp_path)
    keep(running, "bare", 838e6)
    keep(running, "bare", 842e6)
    (one,) = unfinished(tmp_path)
    (condition,) = one.acceptance.conditions
    assert (condition.raw[0].reflection == sweeps(842e6)[0].reflection).all()


def test_another_calibration_in_between_is_refused_and_nothing_is_lost(tmp_path: Path) -> None:
    import dataclasses

    running = RunningAcceptance(tmp_path)
    keep(running, "bare", 838e6)
    other = dataclasses.replace(calibration(), taken_at=BEGUN)
    with pytest.raises(NotNowError, match="begun with another calibration"):
        running.sign_off(SAID, calibration=other, assumptions=ASSUMPTIONS, at=AT)
    assert len(unfinished(tmp_path)) == 1


def test_another_name_begins_another_unit_and_keeps_the_first(tmp_path: Path) -> None:
    running = RunningAcceptance(tmp_path)
    keep(running, "bare", 838e6)
    keep(running, "bare", 830e6, AntennaDetails("mill-lane-7"))
    assert {each.acceptance.antenna for each in unfinished(tmp_path)} == {"weir-3", "mill-lane-7"}
    assert [each.split(",")[0] for each in running.state(plan(UNCHECKED_PLAN_TEXT)).others] == [
        "weir-3"
    ]
    running.throw_away()
    assert unfinished(tmp_path) == []


def test_what_is_no_record_among_the_unfinished_is_passed_over(tmp_path: Path) -> None:
    (tmp_path / UNFINISHED_FOLDER / "rubbish").mkdir(parents=True)
    (tmp_path / UNFINISHED_FOLDER / ".draft-1").mkdir()
    assert unfinished(tmp_path) == []
    assert RunningAcceptance(tmp_path).state(None).others == ()
