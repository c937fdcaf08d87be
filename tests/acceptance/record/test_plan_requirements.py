"""What a plan asks of an acceptance is held against what was done: by whoever signs, by whoever
checks."""

from __future__ import annotations

import dataclasses
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from acceptance.catalogue.record_summary_reader import summarise_record
from acceptance.errors import RecordError
from acceptance.limits.decision import State
from acceptance.plan.acceptance_plan import Plan
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Acceptance, Condition
from acceptance.record.checksums import differences
from acceptance.record.examination import compose_record, examine
from acceptance.record.plan_requirements import sign_off, unmet
from acceptance.record.recheck import Recheck, recheck
from acceptance.record.record_folder import load_record, parse_record, write_record
from acceptance.report.report_files import Report
from acceptance.tuning.touch_test import Touch
from acceptance.version import software
from calibration.evidence import DeviceCheck, DriftCheck
from calibration.files.calibration_file import calibration_text
from calibration.one_port_calibration import Calibration
from calibration.verification.verification_device import SmallLoad
from tests.acceptance.made import BEGUN, accepted, begun, calibration, plan, record, sweeps
from tests.wording import missing_words

SWEPT_AT = datetime(2026, 5, 1, 12, 10, 1, tzinfo=UTC)
BANDS = "[[band]]\nlte = 20\nreturn_loss_db = 8\n"
STILL = Touch("none", 0.0, 0.0, 0.0, 0.0, "Nothing.")


def asking(lines: str) -> Plan:
    return plan(f'name = "x"\n{lines}\n{BANDS}')


def done(wanted: Plan, *names: str, count: int = 2) -> Acceptance:
    """Signed off by hand, whatever the plan asks."""
    acceptance = begun(wanted=wanted)
    for name in names:
        acceptance = acceptance.with_condition(Condition(name, sweeps(838e6, count)))
    return dataclasses.replace(acceptance, accepted_at=BEGUN + timedelta(minutes=9))


def rechecked(acceptance: Acceptance) -> Recheck:
    files = dict(record(acceptance).files)
    return recheck(parse_record(files, "weir-3"), differences(files), software())


def checked(minute: int, *, agrees: bool = True) -> Calibration:
    """With a second load measured back at 12:00 and so many minutes; the sweeps are of 12:10."""
    made = calibration()
    reading = made.readings["load" if agrees else "short"]
    at = datetime(2026, 5, 1, 12, minute, tzinfo=UTC)
    return made.with_evidence(
        DeviceCheck(SmallLoad("second load", 36.0, another=True), reading, at)
    )


def put_back(minute: int) -> Calibration:
    """The same with the calibration's own open."""
    made = calibration()
    at = datetime(2026, 5, 1, 12, minute, tzinfo=UTC)
    return made.with_evidence(DriftCheck("open", made.readings["open"], at))


def left(acceptance: Acceptance, made: Calibration) -> str:
    return " ".join(unmet(dataclasses.replace(acceptance, calibration=made)))


def test_a_record_that_holds_little_of_what_its_plan_asks_does_not_hold() -> None:
    wanted = asking(
        'conditions = ["bare", "sealed"]\njudged = ["sealed"]\ntouch_test = true\n'
        "verified_within_hours = 1\nsweeps = 50"
    )
    found = rechecked(done(wanted, "bare", count=4))
    assert found.checksum_differences == ()
    assert found.difference == ""
    assert not found.holds
    assert found.unmet == (
        "The plan still wants the antenna swept: sealed.",
        "The plan wants 50 sweeps that agree, and of the antenna bare there are 4. Sweep it again.",
        "Swept bare: the plan wants a known device that agreed within 1 h, and there is none. "
        "Measure one back: a second load, a mismatch, a certificate.",
        "The plan wants a touch test. Do it, then sign off.",
    )
    assert found.lines[0] == f"What its own plan asks for was not done. {found.unmet[0]}"
    assert found.lines[-1] == "The verdict follows from the raw readings: not measured."


def test_the_same_is_asked_before_signing_off() -> None:
    wanted = asking("verified_within_hours = 1\nsweeps = 3")
    swept = begun(wanted=wanted).with_condition(Condition("finished", sweeps(838e6)))
    with pytest.raises(RecordError, match=r"wants 3 sweeps .* there are 2\. .* there is none"):
        sign_off(swept, BEGUN + timedelta(minutes=9))


def test_a_check_counts_while_it_is_as_young_as_the_plan_asks() -> None:
    acceptance = done(asking("verified_within_hours = 0.1\nsweeps = 2"), "finished")
    assert "there is none" in left(acceptance, calibration())
    assert "the latest is 8 min old" in left(acceptance, checked(2))
    assert left(acceptance, checked(9)) == ""
    assert "a check contradicts it" in left(acceptance, checked(9, agrees=False))
    assert "there is none" in left(acceptance, put_back(9)), "no verification"


def test_so_does_a_standard_put_back_where_drift_is_asked_for() -> None:
    acceptance = done(asking("drift_checked_within_hours = 0.1\nsweeps = 2"), "finished")
    assert "there is none" in left(acceptance, calibration())
    assert "the latest is 8 min old" in left(acceptance, put_back(2))
    assert left(acceptance, put_back(9)) == ""


def test_a_device_measured_back_again_before_signing_off_hides_no_sweep_s_check() -> None:
    """A calibration keeps the newest check of a device, and an acceptance may take days."""
    acceptance = done(asking("verified_within_hours = 0.1\nsweeps = 2"), "finished")
    again = dataclasses.replace(acceptance, calibration=checked(13))
    assert unmet(again) == ()
    (late,) = unmet(dataclasses.replace(acceptance, calibration=checked(40)))
    assert "dated 26 min later than the signing off" in late


def test_a_touch_test_that_told_nothing_is_none() -> None:
    acceptance = done(asking("touch_test = true\nsweeps = 2"), "finished")
    unclear = Touch("unclear", 20.0, 8.0, 0.0, 0.0, "Unclear.")
    (why,) = unmet(dataclasses.replace(acceptance, touch_test=unclear))
    assert not missing_words(why, "plan", "touch test", "the last one did not", "again")
    strong = Touch("strong", 20.0, 0.1, 0.0, 0.0, "Strong.")
    assert unmet(dataclasses.replace(acceptance, touch_test=strong)) == (), "it told, and is told"


def test_a_record_as_its_plan_asks_holds_touch_and_check_included() -> None:
    wanted = asking("touch_test = true\nverified_within_hours = 0.1\nsweeps = 3")
    swept = dataclasses.replace(begun(wanted=wanted), calibration=checked(9), touch_test=STILL)
    swept = swept.with_condition(Condition("finished", sweeps(838e6, 3)))
    found = rechecked(sign_off(swept, BEGUN + timedelta(minutes=9)))
    assert found.holds, found.lines
    assert found.unmet == ()


def test_without_the_condition_that_decides_nothing_is_decided() -> None:
    wanted = asking('conditions = ["bare", "sealed"]\nsweeps = 2')
    examined = examine(done(wanted, "bare"))
    assert examined.conditions[0].verdict.overall is State.PASS
    assert examined.overall is State.NOT_MEASURED
    assert examined.words == "not measured"
    assert examined.deciding == ()
    report = Report.of(examined, "weir-3").sheet
    assert report.state is State.NOT_MEASURED
    assert report.headline == "the plan decides by the antenna sealed, and it was not swept so"


def test_one_of_two_that_decide_can_fail_the_whole_and_not_pass_it() -> None:
    wanted = asking('conditions = ["bare", "wet"]\njudged = ["bare", "wet"]\nsweeps = 2')
    assert examine(done(wanted, "bare")).overall is State.NOT_MEASURED
    off = begun(wanted=wanted).with_condition(Condition("bare", sweeps(700e6)))
    assert examine(off).overall is State.FAIL


def test_a_card_tells_the_same() -> None:
    wanted = asking('conditions = ["bare", "sealed"]\nsweeps = 2')
    files = dict(record(done(wanted, "bare")).files)
    summary = summarise_record(files, folder="weir-3")
    assert (summary.entry.overall, summary.deciding) == (State.NOT_MEASURED, ())
    assert (summary.entry.margin_or_bound_db, summary.condition()) == (None, None)
    told = json.loads(files["verdict.json"])
    files["verdict.json"] = json.dumps({**told, "overall": "pass", "words": "pass"}).encode()
    by_hand = summarise_record(files, folder="weir-3").entry
    assert (by_hand.overall, by_hand.words) == (State.NOT_MEASURED, "not measured")


def test_what_was_not_signed_off_is_no_record(tmp_path: Path) -> None:
    acceptance = accepted()
    assert acceptance.calibration is not None
    open_ = examine(dataclasses.replace(acceptance, accepted_at=None))
    with pytest.raises(RecordError, match="weir-3 is not signed off"):
        compose_record(open_, calibration_text(acceptance.calibration))
    folder = write_record(record(), tmp_path)
    head = json.loads((folder / "record.json").read_text())
    (folder / "record.json").write_text(json.dumps({**head, "accepted_at": None}))
    found = recheck_folder(folder)
    assert not found.holds
    assert found.lines[0].startswith("It was begun and not signed off")
    told = {each: (folder / each).read_bytes() for each in ("record.json", "verdict.json")}
    assert summarise_record(told, folder=folder.name, caveat="damaged").entry.caveat == (
        "not signed off; damaged"
    )


@pytest.mark.parametrize("version", [0, -3, 1.5, 2.0, True, "2", None, [2]])
def test_a_layout_that_there_never_was_is_refused(tmp_path: Path, version: object) -> None:
    folder = write_record(record(), tmp_path)
    head = json.loads((folder / "record.json").read_text())
    (folder / "record.json").write_text(json.dumps({**head, "version": version}))
    with pytest.raises(RecordError, match=r"a layout that there never was, .*; there are 1 to 3"):
        load_record(folder)
    told = {each: (folder / each).read_bytes() for each in ("record.json", "verdict.json")}
    with pytest.raises(RecordError, match="cannot be read"):
        summarise_record(told, folder=folder.name)


@pytest.mark.parametrize(
    ("kind", "words"),
    [("imported", "an imported file has no calibration.json"), ("other", "no kind that there is")],
)
def test_an_acceptance_does_not_pass_for_another_kind(
    tmp_path: Path, kind: str, words: str
) -> None:
    """Of an imported file nothing is asked."""
    folder = write_record(record(), tmp_path)
    head = json.loads((folder / "record.json").read_text())
    (folder / "record.json").write_text(json.dumps({**head, "kind": kind}))
    with pytest.raises(RecordError, match=words):
        load_record(folder)
