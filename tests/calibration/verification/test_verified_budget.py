"""What was measured of a calibration since counts into its budget, and is kept with it."""

from __future__ import annotations

import dataclasses
import json
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray
from calibration.capture.standard_capture import StandardCapture, StandardReading
from calibration.errors import CalibrationError, OtherAnalyzerError, StoredCalibrationError
from calibration.files.store import load_calibration, load_kit, save_calibration
from calibration.guided.verification_session import (
    Check,
    MeasureDevice,
    RemeasureStandard,
    RepeatConnection,
    captures_for,
    concluded,
    floor_db,
    outcome,
)
from calibration.one_port_calibration import Calibration, calibrate
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.uncertainty.interval import interval
from calibration.verification.verification_device import LoadBehindLine, SmallLoad, StatedDevice
from calibration.verification.verified_budget import evidence_results, verified_budget
from tests.calibration.conftest import REQUEST, SPANS, Unit

KIT = load_kit("3.5mm-plug-50")
F = Unit().frequency_hz
HOUR = timedelta(hours=1)
DRIFT = ("drift", "drift of tracking and source match", "drift since the check")
NOTHING = np.zeros(F.size, dtype=np.complex128)
TRUE: dict[str, ComplexArray] = {name: each.reflection(F) for name, each in KIT.standards.items()}


def captured(unit: Unit, name: str, true: ComplexArray) -> StandardReading:
    capture = StandardCapture(name, REQUEST, 8)
    while capture.state.phase != "done":
        capture.add(unit.sweep(true))
    return capture.result()


@pytest.fixture
def calibration(unit: Unit) -> Calibration:
    """With a load of 40 dB that nobody stated."""
    true = TRUE | {"load": TRUE["load"] + 0.01}
    return calibrate(
        KIT,
        [captured(unit, name, true[name]) for name in KIT.standards],
        source=unit.source,
        request=REQUEST,
        spans=SPANS,
        taken_at=unit.sweep(0).taken_at,
        software="test",
    )


def checked(
    unit: Unit,
    calibration: Calibration,
    check: Check,
    *trues: ComplexArray | float,
    after: timedelta = HOUR,
) -> Calibration:
    """Do a check as a page does."""
    captures = captures_for(calibration, check)
    for true in trues:
        captures.begin()
        while captures.state.phase == "capturing":
            captures.add(unit.sweep(true))
        assert captures.refusal is None
    return concluded(calibration, check, captures.readings(), calibration.taken_at + after)


def named(budget: Budget, *names: str) -> FloatArray:
    """Size of some contributions at a full reflection, added up, linear."""
    total: FloatArray = np.sum(
        [each.size(NOTHING + 1) for each in budget.contributions if each.name in names], axis=0
    )
    return total


def test_a_second_load_lifts_the_trust_floor_for_good(unit: Unit, calibration: Calibration) -> None:
    check = MeasureDevice(SmallLoad("second load", 40.0))
    after = checked(unit, calibration, check, 0.004j)
    at = calibration.taken_at + HOUR
    budgets = [verified_budget(each, Assumptions(), at) for each in (calibration, after)]
    was, now = (floor_db(each).min() for each in budgets)
    assert 24.5 < was < 26
    assert now > was + 3
    told = outcome(calibration, after, check, Assumptions(), at=at)
    assert told.agrees
    assert "The trust floor was 2" in told.words[-1]
    # it stays proven: hours later only drift has grown
    later = verified_budget(after, Assumptions(), at + 8 * HOUR)
    for name in {each.name for each in later.contributions} - {"drift"}:
        np.testing.assert_allclose(named(later, name), named(budgets[1], name))
    assert (named(later, "drift") > named(budgets[1], "drift")).all()


def test_a_small_load_behind_a_long_line_proves_directivity_by_its_ripple(
    unit: Unit, calibration: Calibration
) -> None:
    """The load was .01 off: half the swing of what circles is that [derived: |D + G exp(jp)|]."""
    turning = 0.05 * np.exp(-4j * np.pi * F * 1.5e-9)
    check = MeasureDevice(LoadBehindLine(name="load on a long line", delay_ps=1500.0))
    after = checked(unit, calibration, check, turning)
    (seen,) = evidence_results(after, Assumptions()).devices
    np.testing.assert_allclose(seen.difference, 0.01, atol=1.5e-3)
    told = outcome(calibration, after, check, Assumptions(), at=calibration.taken_at + HOUR)
    assert told.agrees
    assert "the ripple's half-swing" in told.words[0]
    at = calibration.taken_at + HOUR
    was, now = (floor_db(verified_budget(c, Assumptions(), at)).min() for c in (calibration, after))
    assert now > was + 3


def test_a_line_too_short_for_what_was_calibrated_is_refused(
    unit: Unit, calibration: Calibration
) -> None:
    check = MeasureDevice(LoadBehindLine(name="short line", delay_ps=200.0))
    with pytest.raises(CalibrationError, match="Use a longer line"):
        checked(unit, calibration, check, 0.05)


def test_a_device_that_contradicts_is_told_and_raises_the_budget(
    unit: Unit, calibration: Calibration
) -> None:
    check = MeasureDevice(StatedDevice.from_vswr("mismatch", 2.0, 0.01))
    after = checked(unit, calibration, check, 0.55)
    told = outcome(calibration, after, check, Assumptions(), at=calibration.taken_at + HOUR)
    assert not told.agrees
    assert "They do not agree" in told.words[0]
    assert evidence_results(after, Assumptions()).youngest_agreement() is None


def test_a_standard_put_back_unchanged_bounds_drift_which_then_grows_again(
    unit: Unit, calibration: Calibration
) -> None:
    after = calibration
    for standard in ("open", "short", "load"):
        true = TRUE[standard] + (0.01 if standard == "load" else 0)
        after = checked(unit, after, RemeasureStandard(standard), true, after=30 * HOUR)
    at = calibration.taken_at + 30 * HOUR
    before, now = (verified_budget(each, Assumptions(), at) for each in (calibration, after))
    drift = ("drift", "drift of tracking and source match")
    assert (named(now, *drift) < 0.5 * named(before, "drift")).all()
    assert named(now, "drift since the check").max() == 0
    later = verified_budget(after, Assumptions(), at + 10 * HOUR)
    np.testing.assert_allclose(named(later, *drift), named(now, *drift))
    assert named(later, "drift since the check").min() > 0.01


def test_a_unit_that_drifted_is_told_to_be_calibrated_again(
    unit: Unit, calibration: Calibration
) -> None:
    check = RemeasureStandard("short")
    after = checked(unit, calibration, check, TRUE["short"] * np.exp(0.1j))
    told = outcome(calibration, after, check, Assumptions(), at=calibration.taken_at + HOUR)
    assert not told.agrees
    assert "recalibrate" in told.words[0]
    assert evidence_results(after, Assumptions()).youngest_drift_check() is None
    at = calibration.taken_at + HOUR
    raised = verified_budget(after, Assumptions(), at)
    assert named(raised, "drift", "drift of tracking and source match").min() > 0.08


@pytest.mark.parametrize("after", [timedelta(minutes=5), timedelta(minutes=16), 5 * HOUR])
def test_what_contradicts_is_not_overruled_by_what_cannot_see_it(
    unit: Unit, calibration: Calibration, after: timedelta
) -> None:
    """Tracking fell by a fifth: an open shows it; a load cannot, however much later."""
    was = checked(unit, calibration, RemeasureStandard("open"), 0.8 * TRUE["open"])
    later = checked(unit, was, RemeasureStandard("load"), TRUE["load"] + 0.01, after=HOUR + after)
    found = evidence_results(later, Assumptions())
    assert [each.advice for each in found.drifts] == ["recalibrate", "carry on"]
    assert found.contradictions == found.drifts[:1]
    assert found.youngest_drift_check() is found.youngest_agreement() is None
    budget = verified_budget(later, Assumptions(), calibration.taken_at + HOUR + after)
    assert named(budget, "drift of tracking and source match").min() > 0.2
    # only the open takes back what the open has shown
    again = checked(unit, later, RemeasureStandard("open"), TRUE["open"], after=2 * HOUR + after)
    assert evidence_results(again, Assumptions()).contradictions == ()
    at = calibration.taken_at + 2 * HOUR + after
    assert named(verified_budget(again, Assumptions(), at), *DRIFT).max() < 0.05


def test_a_mismatch_that_contradicts_counts_beside_a_load_that_agrees(
    unit: Unit, calibration: Calibration
) -> None:
    """Its phase is unknown, and yet an antenna of that size is off by as much."""
    true = 0.8 * np.full(F.size, 1 / 3 + 0j)
    was = checked(
        unit, calibration, MeasureDevice(StatedDevice.from_vswr("mismatch", 2, 0.01)), true
    )
    load = MeasureDevice(SmallLoad("second load", 40.0))
    later = checked(unit, was, load, 0.004j, after=2 * HOUR)
    found = evidence_results(later, Assumptions())
    assert [each.passed for each in found.devices] == [False, True]
    assert found.contradictions == found.devices[:1]
    assert found.youngest_agreement() is None
    at = calibration.taken_at + 2 * HOUR
    read = Budget(F, verified_budget(later, Assumptions(), at).contributions)
    assert interval(read, true).high.min() > 1 / 3


def test_age_and_sweeps_count_into_drift_by_rates_that_can_be_changed(
    calibration: Calibration,
) -> None:
    at = calibration.taken_at + 2 * HOUR
    quiet = named(verified_budget(calibration, Assumptions(), at), "drift")
    used = named(verified_budget(calibration, Assumptions(), at, swept=4000), "drift")
    np.testing.assert_allclose(used / quiet, (2 * 0.002 + 4 * 0.0005) / (2 * 0.002))
    rate = Assumptions(drift_per_hour=0.01, drift_per_1000_sweeps=0.0)
    faster = named(verified_budget(calibration, rate, at, swept=4000), "drift")
    np.testing.assert_allclose(faster / quiet, 5)


def test_makings_of_the_connector_replace_what_was_assumed_of_it(
    unit: Unit, calibration: Calibration
) -> None:
    check = RepeatConnection("load", 4)
    takes = [0.01 + 0.004 * shift for shift in (1, -1, 1j, -1j)]
    after = checked(unit, calibration, check, *takes)
    at = calibration.taken_at + HOUR
    before, now = (verified_budget(each, Assumptions(), at) for each in (calibration, after))
    assert (named(now, "connecting the antenna") > 3 * named(before, "connecting the antenna"))[0]
    own = [each for each in now.contributions if each.name == "connecting the antenna"]
    assert own[0].origin == "measured"
    told = outcome(calibration, after, check, Assumptions(), at=at)
    assert told.agrees
    assert "5 makings of the load scatter" in told.words[0]  # that of calibrating counts


def test_what_was_measured_again_replaces_what_was_measured_before(
    unit: Unit, calibration: Calibration
) -> None:
    check = MeasureDevice(SmallLoad("second load", 40.0))
    twice = checked(unit, checked(unit, calibration, check, 0.2), check, 0.004j, after=2 * HOUR)
    (one,) = evidence_results(twice, Assumptions()).devices
    assert one.passed
    assert (
        evidence_results(twice, Assumptions()).youngest_agreement()
        == calibration.taken_at + 2 * HOUR
    )


def test_all_of_it_is_kept_in_the_calibration_s_file(
    unit: Unit, calibration: Calibration, tmp_path: Path
) -> None:
    after = checked(unit, calibration, MeasureDevice(SmallLoad("second load", 40.0)), 0.004j)
    after = checked(unit, after, RemeasureStandard("short"), TRUE["short"])
    after = checked(unit, after, RepeatConnection("open", 3), *[TRUE["open"]] * 3)
    save_calibration(after, tmp_path / "c.json")
    again = load_calibration(tmp_path / "c.json")
    at = calibration.taken_at + 3 * HOUR
    one, two = (verified_budget(each, Assumptions(), at) for each in (after, again))
    assert [each.name for each in one.contributions] == [each.name for each in two.contributions]
    for ours, theirs in zip(one.contributions, two.contributions, strict=True):
        np.testing.assert_allclose(ours.coefficients, theirs.coefficients, rtol=1e-12, atol=1e-15)
        assert (ours.words, ours.origin) == (theirs.words, theirs.origin)


def test_a_calibration_of_the_first_layout_loads_without_checks(
    calibration: Calibration, tmp_path: Path
) -> None:
    path = tmp_path / "c.json"
    save_calibration(calibration, path)
    old = json.loads(path.read_text())
    del old["checks"]
    path.write_text(json.dumps(old | {"schema_version": 1}))
    assert not load_calibration(path).evidence


def test_a_damaged_check_is_refused_and_named(
    unit: Unit, calibration: Calibration, tmp_path: Path
) -> None:
    path = tmp_path / "c.json"
    save_calibration(
        checked(unit, calibration, MeasureDevice(SmallLoad("second load", 40.0)), 0.0), path
    )
    stored = json.loads(path.read_text())
    stored["checks"][0]["device"]["return_loss_db"] = 400.0
    path.write_text(json.dumps(stored))
    with pytest.raises(StoredCalibrationError, match="return_loss_db is 400"):
        load_calibration(path)


def test_what_cannot_be_checked_so_is_refused(unit: Unit, calibration: Calibration) -> None:
    with pytest.raises(CalibrationError, match="has no mirror to compare with"):
        captures_for(calibration, RemeasureStandard("mirror"))
    with pytest.raises(CalibrationError, match="1 makings say too little"):
        captures_for(calibration, RepeatConnection("open", 1))
    with pytest.raises(CalibrationError, match="made from files"):
        captures_for(dataclasses.replace(calibration, request=()), RemeasureStandard("open"))
    with pytest.raises(CalibrationError, match="before the calibration was done"):
        checked(unit, calibration, RemeasureStandard("short"), TRUE["short"], after=-HOUR)


def test_another_unit_s_sweeps_are_refused_and_nothing_is_captured(
    unit: Unit, calibration: Calibration
) -> None:
    captures = captures_for(calibration, RemeasureStandard("short"))
    captures.begin()
    other = dataclasses.replace(unit.source, analyzer="another")
    captures.add(dataclasses.replace(unit.sweep(-1.0), source=other))
    assert isinstance(captures.refusal, OtherAnalyzerError)
    assert captures.state.phase == "refused"
    with pytest.raises(CalibrationError, match="has not been measured yet"):
        captures.readings()


def test_one_of_several_makings_can_be_taken_again(unit: Unit, calibration: Calibration) -> None:
    captures = captures_for(calibration, RepeatConnection("open", 3))
    names = [f"open, making {n}" for n in (1, 2, 3)]
    for name in names:
        assert captures.state.step is not None
        assert captures.state.step.standard == "open"
        captures.begin()
        while captures.state.phase == "capturing":
            captures.add(unit.sweep(TRUE["open"]))
        assert name in captures.state.taken
    assert captures.state.phase == "complete"
    assert captures.redo(names[1]).remaining == (names[1],)
    with pytest.raises(CalibrationError, match="There is no mirror here"):
        captures.redo("mirror")
