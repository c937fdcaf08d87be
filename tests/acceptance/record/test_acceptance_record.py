"""The record of an accepted antenna: all that was done, under safe names, whole or not at all."""

from __future__ import annotations

import dataclasses
import json
import os
import tomllib
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.errors import RecordError
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Condition, Record, done_files, safe_name
from acceptance.record.checksums import differences
from acceptance.record.examination import examine
from acceptance.record.plan_requirements import sign_off
from acceptance.record.recheck import recheck
from acceptance.record.record_folder import load_record, parse_record, write_record
from acceptance.version import software
from acquire.touchstone.reader import parse_touchstone
from calibration.errors import OtherAnalyzerError
from calibration.files.calibration_file import calibration_text
from tests.acceptance.made import SOURCE, F, accepted, begun, calibration, plan, record, sweeps


def test_a_record_holds_what_was_done_and_what_follows_from_it() -> None:
    made = record()
    assert made.folder == "weir-3_2026-05-01T121400Z"
    assert set(made.files) == {
        "record.json",
        "plan.toml",
        "recipe.toml",
        "calibration.json",
        *(f"{name}/raw-0{n}.s1p" for name in ("bare", "sealed") for n in (1, 2)),
        "bare/corrected.s1p",
        "sealed/corrected.s1p",
        "bare/trust.csv",
        "sealed/trust.csv",
        "verdict.json",
        "SHA256SUMS",
    }
    file = parse_touchstone(made.files["bare/raw-02.s1p"], "raw")
    assert file.remarks == ()
    np.testing.assert_array_equal(file.reading.reflection, sweeps(838e6)[1].reflection)
    assert tomllib.loads(made.files["plan.toml"].decode())["name"] == "river gauge"


def test_its_head_says_who_when_and_under_what_clock() -> None:
    done = json.loads(record().files["record.json"])
    assert done["antenna"] == "weir-3"
    assert done["operator"] == "A. Volunteer"
    assert done["recipe"] == "bent strip"
    assert done["sizes_mm"] == {"arm_a": 84.5}
    assert done["accepted_at"] == "2026-05-01T12:14:00+00:00"
    assert done["utc_offset_minutes"] == 120
    assert done["invented"] is True
    assert done["statement"] == "match only, not gain or pattern"
    assert [each["name"] for each in done["conditions"]] == ["bare", "sealed"]
    assert done["conditions"][0]["request"] == [{"start_hz": 760e6, "stop_hz": 900e6, "points": 57}]
    assert "verdict" not in done


def test_the_last_condition_decides_unless_the_plan_says_otherwise() -> None:
    written = json.loads(record().files["verdict.json"])
    assert [each["judged"] for each in written["conditions"]] == [False, True]
    assert written["overall"] == written["conditions"][1]["verdict"]["overall"]


def test_invented_data_says_so_in_its_touchstone_files_and_measured_data_does_not() -> None:
    assert b"! invented data" in record().files["bare/raw-01.s1p"]
    acceptance = accepted()
    real = dataclasses.replace(sweeps(838e6)[0].source, kind="port")
    one = acceptance.conditions[0]
    swept = tuple(dataclasses.replace(each, source=real) for each in one.raw)
    real_one = dataclasses.replace(acceptance, conditions=(Condition("bare", swept),))
    assert not real_one.invented
    assert b"invented data" not in done_files(real_one, None)["bare/raw-01.s1p"]


def test_what_was_done_comes_back_from_the_disk_as_it_was(tmp_path: Path) -> None:
    before = accepted()
    stored = load_record(write_record(record(before), tmp_path))
    after = stored.acceptance
    assert after.calibration is not None
    assert before.calibration is not None
    assert calibration_text(after.calibration) == calibration_text(before.calibration)
    for one, other in zip(before.conditions, after.conditions, strict=True):
        assert (one.name, one.sweeps_since_calibration) == (
            other.name,
            other.sweeps_since_calibration,
        )
        for a, b in zip(one.raw, other.raw, strict=True):
            np.testing.assert_array_equal(a.reflection, b.reflection)
            assert (a.taken_at, a.sequence, a.source, a.request) == (
                b.taken_at,
                b.sequence,
                b.source,
                b.request,
            )
    for name in ("antenna", "operator", "note", "begun_at", "accepted_at", "software", "kind"):
        assert getattr(after, name) == getattr(before, name)
    assert after.accepted_at is not None
    assert after.accepted_at.utcoffset() == before.begun_at.utcoffset()
    assert (after.plan, after.recipe, after.touch_test) == (
        before.plan,
        before.recipe,
        before.touch_test,
    )
    assert (after.assumptions, dict(after.sizes_mm)) == (before.assumptions, {"arm_a": 84.5})


def test_what_tells_two_units_of_one_name_apart_stands_with_what_was_done_alone() -> None:
    """In the calibration and the conditions, nowhere else; a record that has none has no word."""
    without = record().files
    assert not any(b"usb_sum" in each for n, each in without.items() if n != "calibration.json")
    told = dataclasses.replace(SOURCE, usb_sum="0a1b")
    held = dataclasses.replace(calibration(), source=told)
    one = dataclasses.replace(accepted(), calibration=held)
    for each in one.conditions:
        swept = tuple(dataclasses.replace(sweep, source=told) for sweep in each.raw)
        one = one.with_condition(Condition(each.name, swept, each.sweeps_since_calibration))
    files = record(one).files
    assert {name for name, each in files.items() if b"0a1b" in each} == {
        "calibration.json",
        "record.json",
    }
    found = recheck(parse_record(files, "weir-3"), differences(files), software())
    assert found.holds, found.lines
    again = found.record.acceptance
    assert {each.source for each in again.conditions[0].raw} == {told}
    assert again.calibration is not None
    assert again.calibration.source == told


def test_a_record_of_another_unit_of_the_same_name_than_its_calibration_s_does_not_hold() -> None:
    told, other = (dataclasses.replace(SOURCE, usb_sum=each) for each in ("0a1b", "9988"))
    held = dataclasses.replace(calibration(), source=told)
    swept = tuple(dataclasses.replace(each, source=other) for each in sweeps(838e6))
    one = begun().with_condition(Condition("bare", swept))
    with pytest.raises(OtherAnalyzerError, match="by USB another serial number"):
        examine(dataclasses.replace(one, calibration=held))


def test_conditions_stand_in_the_plan_s_order_and_the_newest_of_one_counts() -> None:
    late = begun().with_condition(Condition("sealed", sweeps(820e6)))
    both = late.with_condition(Condition("bare", sweeps(838e6)))
    assert [each.name for each in both.conditions] == ["bare", "sealed"]
    again = both.with_condition(Condition("bare", sweeps(840e6), sweeps_since_calibration=3))
    assert [each.sweeps_since_calibration for each in again.conditions] == [3, 0]


def test_what_the_plan_still_wants_is_named_before_anything_is_signed() -> None:
    half = begun().with_condition(Condition("bare", sweeps(838e6)))
    assert half.missing == ("sealed",)
    with pytest.raises(RecordError, match="still wants the antenna swept: sealed"):
        sign_off(half, datetime(2026, 5, 1, tzinfo=UTC))
    touched = begun(wanted=plan('touch_test = true\nname="x"\n[[band]]\nlte=20\nvswr=2.0\n'))
    done = touched.with_condition(Condition("finished", sweeps(838e6)))
    with pytest.raises(RecordError, match="wants a touch test"):
        sign_off(done, datetime(2026, 5, 1, tzinfo=UTC))


def test_no_name_no_sweep_or_no_time_zone_is_refused() -> None:
    with pytest.raises(RecordError, match="needs a name"):
        begun("  ")
    with pytest.raises(RecordError, match="Nothing was swept of the antenna bare"):
        begun().with_condition(Condition("bare", ()))
    with pytest.raises(RecordError, match="must carry its time zone"):
        sign_off(accepted(), datetime(2025, 6, 3))  # noqa: DTZ001 - that is the mistake


@pytest.mark.parametrize(
    ("typed", "safe"),
    [
        ("weir-3", "weir-3"),
        ("mill lane 7", "mill-lane-7"),
        ("../../etc/passwd", "etc-passwd"),
        ("/absolute", "absolute"),
        ("C:\\windows", "C-windows"),
        ("..", "unit"),
        ("a..b", "a.b"),
        (" . ", "unit"),
        ("CON", "unit-CON"),
        ("lpt1.txt", "unit-lpt1.txt"),
        ("nul\x00byte", "nul-byte"),
        ("Mühle Nr. 4", "Mühle-Nr.-4"),
        ("水門三", "水門三"),
        ("水" * 60, "水" * 26),
    ],
)
def test_a_name_a_person_typed_becomes_one_safe_part_of_a_path(typed, safe):
    assert safe_name(typed) == safe


@given(st.text(max_size=200))
def test_no_name_escapes_its_folder(typed):
    safe = safe_name(typed)
    assert safe
    assert Path(safe).name == safe
    assert not set(safe) & set('/\\:*?"<>|')
    assert safe.isprintable()
    assert safe not in (".", "..")
    assert len(safe.encode()) <= 85


def test_a_record_is_written_whole_and_a_second_one_never_touches_the_first(tmp_path: Path) -> None:
    made = record()
    parent = tmp_path / "records"
    first, second = write_record(made, parent), write_record(made, parent)
    assert [path.name for path in (first, second)] == [made.folder, f"{made.folder}-2"]
    for path in (first, second):
        files = (file for file in path.rglob("*") if file.is_file())
        found = {file.relative_to(path).as_posix(): file.read_bytes() for file in files}
        assert found == dict(made.files)
    assert sorted(path.name for path in parent.iterdir()) == [first.name, second.name]


def test_a_record_that_cannot_be_written_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device", descriptor)

    monkeypatch.setattr("acceptance.record.record_folder.os.fsync", full)
    with pytest.raises(RecordError, match=r"No space left on device\. Nothing was kept"):
        write_record(record(), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_what_a_power_cut_left_of_a_draft_is_cleared_once_it_is_old(tmp_path: Path) -> None:
    for name in (".draft-old", ".draft-new"):
        (tmp_path / name / "bare").mkdir(parents=True)
    os.utime(tmp_path / ".draft-old", (0, 0))
    folder = write_record(record(), tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {".draft-new", folder.name}


def test_a_folder_that_is_a_file_is_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "records").write_text("in the way")
    with pytest.raises(RecordError, match="could not be written"):
        write_record(record(), tmp_path / "records")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("record.json", None, "verdict.json is no record|'version' is missing|version is missing"),
        ("record.json", b"{", "cannot be read"),
        ("record.json", b"[1]", "cannot be read"),
        ("record.json", b'{"version": 9}', "later version .layout 9"),
        ("plan.toml", None, "plan.toml is missing"),
        ("plan.toml", b"\xff", "cannot be read"),
        ("calibration.json", None, "calibration.json is missing"),
        ("calibration.json", b"{}", "no stored calibration"),
        ("bare/raw-01.s1p", None, "bare/raw-01.s1p is missing"),
        ("bare/raw-01.s1p", b"# Hz S RI R 50\n1 2\n", "cannot be read"),
    ],
)
def test_a_folder_that_is_no_whole_record_is_refused_in_a_sentence(
    tmp_path: Path, name: str, content: bytes | None, words: str
) -> None:
    files = dict(record().files)
    if content is None:
        del files[name]
    else:
        files[name] = content
    folder = write_record(Record("broken", files), tmp_path)
    with pytest.raises(RecordError, match=words) as refused:
        load_record(folder)
    assert "Traceback" not in str(refused.value)


def test_a_folder_that_is_not_there_is_no_record(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="There is no record"):
        load_record(tmp_path / "nothing")


def test_a_calibration_knows_its_grid() -> None:
    assert calibration().frequency_hz.size == F.size


def test_the_program_names_itself() -> None:
    assert software().startswith("bandwright")


def test_two_programs_may_write_into_one_folder_at_once(tmp_path: Path) -> None:
    made = record()
    with ThreadPoolExecutor(8) as programs:
        written = list(programs.map(lambda _: write_record(made, tmp_path), range(24)))
    assert len(set(written)) == 24
    assert sorted(written) == sorted(tmp_path.iterdir())
    assert all(recheck_folder(folder).holds for folder in written[:4])
    assert [len(list(folder.iterdir())) for folder in written] == [
        len(list(written[0].iterdir()))
    ] * 24
