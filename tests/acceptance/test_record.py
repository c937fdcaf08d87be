"""The record of an accepted antenna: everything in it, under a safe name, whole or not at all."""

from __future__ import annotations

import json
import tomllib
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.errors import RecordError
from acceptance.plan import parse_plan
from acceptance.record import compose_record, safe_name
from acceptance.store import load_bands, software, write_record
from acceptance.verdict import judge
from acquire.sweep import Plane, Source, Sweep, SweepRequest
from acquire.touchstone import parse_touchstone
from calibration.budget import Assumptions

PLAN = parse_plan(
    'name = "river gauge"\n[[band]]\nlte = 20\nreturn_loss_db = 10\n', "plan.toml", load_bands()
)
TAKEN = datetime(2025, 6, 3, 14, 5, 9, 250_000, tzinfo=timezone(timedelta(hours=2)))


def sweep(plane: Plane, size: float, kind="virtual") -> Sweep:
    request = SweepRequest(780e6, 870e6, 91)
    source = Source(kind, "virtual unit", "prompted", "virtual:prompted")
    reflection = np.full(91, size + 0.01j)
    return Sweep(request.grid_hz(), reflection, plane, TAKEN, 7, source, (request,))


def record(unit="weir-3", **changes):
    raw, corrected = sweep(Plane.RAW, 0.31), sweep(Plane.CONNECTOR, 0.2)
    arguments = {
        "unit": unit,
        "operator": "A. Volunteer",
        "note": "second attempt",
        "accepted_at": TAKEN + timedelta(seconds=20),
        "raw": raw,
        "corrected": corrected,
        "calibration": '{"kit": "ideal"}',
        "plan": PLAN,
        "verdict": judge(PLAN, corrected),
        "assumptions": Assumptions(load_db=30.0),
        "software": "bandwright 0.1.0",
    }
    return compose_record(**{**arguments, **changes})


def test_a_record_holds_both_sweeps_the_calibration_the_plan_and_the_verdict():
    made = record()
    assert set(made.files) == {
        "raw.s1p",
        "corrected.s1p",
        "calibration.json",
        "plan.toml",
        "verdict.json",
    }
    assert made.folder == "weir-3_2025-06-03T120529Z"
    for name, size in (("raw.s1p", 0.31), ("corrected.s1p", 0.2)):
        file = parse_touchstone(made.files[name], name)
        assert file.remarks == ()
        np.testing.assert_array_equal(file.reading.reflection, np.full(91, size + 0.01j))
    assert tomllib.loads(made.files["plan.toml"].decode())["name"] == "river gauge"
    assert json.loads(made.files["calibration.json"]) == {"kit": "ideal"}


def test_the_verdict_s_file_says_where_it_came_from_and_what_it_is_not():
    written = json.loads(record().files["verdict.json"])
    assert written["statement"] == "match only, not gain or pattern"
    assert written["invented"] is True
    assert written["unit"] == "weir-3"
    assert written["software"] == "bandwright 0.1.0"
    assert written["accepted_at"] == "2025-06-03T12:05:29.250Z"
    assert written["taken_at"] == "2025-06-03T12:05:09.250Z"
    assert written["source"]["measured"] is False
    assert written["verdict"]["overall"] == "pass"
    assert written["words"] == "pass (unguarded)"
    assert [detail["words"] for detail in written["details"]] == ["pass (unguarded)"] * 2
    assert written["details"][0]["average_return_loss_db"] == pytest.approx(13.97, abs=0.01)
    assert any("the data is invented" in note for note in written["notes"])


def test_invented_data_says_so_in_its_touchstone_files_and_measured_data_does_not():
    assert b"! invented data" in record().files["raw.s1p"]
    real = sweep(Plane.RAW, 0.31, "port"), sweep(Plane.CONNECTOR, 0.2, "port")
    made = record(raw=real[0], corrected=real[1])
    assert b"invented" not in made.files["raw.s1p"]
    assert json.loads(made.files["verdict.json"])["invented"] is False


def test_a_record_without_a_calibration_has_no_file_for_it():
    assert "calibration.json" not in record(calibration=None).files


def test_a_record_of_two_different_sweeps_no_name_or_no_time_zone_is_refused():
    later = sweep(Plane.RAW, 0.31)
    object.__setattr__(later, "sequence", 8)
    for changes, words in (
        ({"raw": later}, "Raw sweep 8 and corrected sweep 7 are not the same"),
        ({"unit": "  "}, "needs a name"),
        ({"accepted_at": datetime(2025, 6, 3)}, "must carry its time zone"),  # noqa: DTZ001
    ):
        with pytest.raises(RecordError, match=words):
            record(**changes)


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


def test_a_record_is_written_whole_and_a_second_one_never_touches_the_first(tmp_path):
    made = record()
    parent = tmp_path / "records"
    first = write_record(made, parent)
    second = write_record(made, parent)
    assert [path.name for path in (first, second)] == [made.folder, f"{made.folder}-2"]
    for path in (first, second):
        assert {file.name: file.read_bytes() for file in path.iterdir()} == dict(made.files)
    assert sorted(path.name for path in parent.iterdir()) == [first.name, second.name]


def test_a_record_that_cannot_be_written_leaves_nothing_behind(tmp_path, monkeypatch):
    def full(descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("acceptance.store.os.fsync", full)
    with pytest.raises(RecordError, match=r"No space left on device\. Nothing was kept"):
        write_record(record(), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_a_file_is_refused_in_a_sentence(tmp_path):
    (tmp_path / "records").write_text("in the way")
    with pytest.raises(RecordError, match="could not be written"):
        write_record(record(), tmp_path / "records")


def test_the_program_names_itself():
    assert software().startswith("bandwright")
