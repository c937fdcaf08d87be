"""A verdict by plan, sweep and calibration is that of a record of the same sweep."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acceptance.errors import PlanError, VerdictError
from acceptance.limits.decision import State
from acceptance.record.acceptance_record import Condition
from acceptance.record.examination import examine
from acceptance.verdict.sweep_verdict import judge_sweep
from acquire.files.touchstone_file import read_touchstone
from acquire.sweep import UNKNOWN_TIME, Plane
from calibration.errors import OtherAnalyzerError
from calibration.uncertainty.budget import Assumptions
from tests.acceptance.made import PLAN_TEXT, begun, calibration, plan, sweeps

(RAW,) = sweeps(826e6, count=1)
CALIBRATION = calibration()


def test_it_is_the_verdict_that_a_record_keeps() -> None:
    acceptance = begun()
    look = examine(acceptance.with_condition(Condition("bare", (RAW,)))).conditions[0]
    found = judge_sweep(
        acceptance.plan, RAW, acceptance.calibration, assumptions=acceptance.assumptions
    )
    assert found.as_json() == look.verdict.as_json()
    assert found.notes == look.verdict.notes


def test_a_sweep_that_was_corrected_before_comes_to_the_same() -> None:
    raw = judge_sweep(plan(), RAW, CALIBRATION)
    corrected = judge_sweep(plan(), CALIBRATION.correct(RAW), CALIBRATION)
    assert raw.as_json() == corrected.as_json()


def test_the_plan_may_be_a_file(tmp_path: Path) -> None:
    (tmp_path / "plan.toml").write_text(PLAN_TEXT, encoding="utf-8")
    by_file = judge_sweep(str(tmp_path / "plan.toml"), RAW, CALIBRATION)
    assert by_file.as_json() == judge_sweep(plan(), RAW, CALIBRATION).as_json()
    with pytest.raises(PlanError, match=r"nothing\.toml"):
        judge_sweep(tmp_path / "nothing.toml", RAW, CALIBRATION)


def test_without_a_calibration_what_is_assumed_is_said() -> None:
    corrected = CALIBRATION.correct(RAW)
    assert "26 dB" in " ".join(judge_sweep(plan(), corrected).notes)
    stated = judge_sweep(plan(), corrected, assumptions=Assumptions(load_db=40.0))
    assert "26 dB" not in " ".join(stated.notes)


def test_what_is_doubtful_of_a_file_takes_the_pass_away_in_python_too(tmp_path: Path) -> None:
    """Real and imaginary parts below a header that names magnitude and angle."""
    rows = "".join(f"{hz:.0f} {0.2:.6f} {0.1:.6f}\n" for hz in RAW.frequency_hz)
    (tmp_path / "parts.s1p").write_text(f"# Hz S MA R 50\n{rows}", encoding="utf-8")
    with pytest.warns(UserWarning, match="All angles lie within"):
        sweep = read_touchstone(tmp_path / "parts.s1p", plane=Plane.CONNECTOR)
    found = judge_sweep(plan(), sweep)
    assert found.overall is State.CONDITIONAL_PASS
    assert "write RI" in " ".join(found.doubts)


def test_an_unknown_time_is_said() -> None:
    untimed = replace(RAW, taken_at=UNKNOWN_TIME)
    notes = judge_sweep(plan(), untimed, CALIBRATION).notes
    assert any("drift is counted for 1 hour" in note for note in notes)
    assert not any("drift" in note for note in judge_sweep(plan(), RAW, CALIBRATION).notes)


def test_what_lies_between_is_de_embedded() -> None:
    between = "cable=ptfe-2.5mm length_mm=182"
    verdict = judge_sweep(plan(), RAW, CALIBRATION, plane=between)
    assert verdict.plane is Plane.ANTENNA
    assert verdict.de_embedding is not None
    assert "182 mm" in verdict.where


def test_a_sweep_at_the_feed_has_no_budget_of_a_calibration() -> None:
    at_feed = replace(CALIBRATION.correct(RAW), plane=Plane.ANTENNA)
    with pytest.raises(VerdictError, match="at the connector"):
        judge_sweep(plan(), at_feed, CALIBRATION)


def test_a_sweep_of_another_analyzer_is_refused() -> None:
    other = replace(CALIBRATION.correct(RAW), source=replace(RAW.source, analyzer="another"))
    with pytest.raises(OtherAnalyzerError):
        judge_sweep(plan(), other, CALIBRATION)
