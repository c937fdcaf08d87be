"""A record checked by someone who was not there."""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from acceptance.errors import RecordError
from acceptance.limits.decision import State
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Acceptance, Condition, Record
from acceptance.record.checksums import CHECKSUMS, differences, format_checksums
from acceptance.record.examination import compose_record, examine
from acceptance.record.json_difference import first_difference
from acceptance.record.recheck import Recheck, recheck
from acceptance.record.record_folder import parse_record, write_record
from acceptance.record.uncertainty_table import parse_uncertainty_table
from acceptance.version import software
from acquire.sweep import Plane
from calibration.files.calibration_file import calibration_text
from tests.acceptance.made import accepted, plan, record, sweeps
from tests.wording import missing_words

ARCHIVED = Path(__file__).parents[1] / "records"


def checked(files: dict[str, bytes], program: str | None = None) -> Recheck:
    return recheck(parse_record(files, "weir-3"), differences(files), program or software())


def test_a_record_as_it_was_written_holds() -> None:
    found = checked(dict(record().files))
    assert found.holds
    files, verdict = found.lines
    assert not missing_words(files, "every file", "as it was")
    assert not missing_words(verdict, "verdict follows from the raw readings", "pass")


def test_with_every_derived_file_gone_it_comes_to_the_same_verdict() -> None:
    files = dict(record().files)
    recorded = json.loads(files["verdict.json"])
    for name in ("verdict.json", "bare/corrected.s1p", "sealed/corrected.s1p", CHECKSUMS):
        del files[name]
    found = checked(files)
    assert found.examined is not None
    assert found.examined.overall is State(recorded["overall"])
    assert any(not missing_words(each, "gone", "anew", "pass") for each in found.lines)
    assert not found.holds  # it is no whole record any more


def test_a_verdict_changed_by_hand_is_found_though_its_sums_were_made_again() -> None:
    files = dict(record().files)
    recorded = json.loads(files["verdict.json"])
    band = recorded["conditions"][1]["verdict"]["bands"][0]
    worst = band["worst_return_loss_db"]
    band["worst_return_loss_db"] = worst + 0.01
    files["verdict.json"] = json.dumps(recorded).encode()
    files[CHECKSUMS] = format_checksums(files)
    found = checked(files)
    assert found.checksum_differences == ()
    assert not found.holds
    assert found.difference.startswith(
        "conditions[sealed].verdict.bands[LTE 20 uplink].worst_return_loss_db is "
    )
    assert "changed before the sums were made" in found.lines[1]


def test_a_raw_reading_changed_by_hand_is_found_though_its_sums_were_made_again() -> None:
    files = dict(record().files)
    lines = files["sealed/raw-01.s1p"].splitlines(keepends=True)
    middle = len(lines) // 2
    f, real, imaginary = lines[middle].split()
    lines[middle] = b"%s %f %s\n" % (f, float(real) + 1e-4, imaginary)
    files["sealed/raw-01.s1p"] = b"".join(lines)
    files[CHECKSUMS] = format_checksums(files)
    found = checked(files)
    assert not found.holds
    assert found.difference or found.problem


def by_an_older_version(change: Callable[[dict[str, Any]], None]) -> dict[str, bytes]:
    """A record of another version, whose verdict differs and whose sums agree."""
    acceptance = dataclasses.replace(accepted(), software="bandwright 0.0.9")
    assert acceptance.calibration is not None
    text = calibration_text(acceptance.calibration)
    files = dict(compose_record(examine(acceptance), text).files)
    recorded = json.loads(files["verdict.json"])
    change(recorded["conditions"][1]["verdict"])
    files["verdict.json"] = json.dumps(recorded).encode()
    files[CHECKSUMS] = format_checksums(files)
    return files


def test_a_record_holds_where_another_version_said_otherwise_of_trust_alone() -> None:
    def trusted_less(verdict: dict[str, Any]) -> None:
        verdict["bands"][0]["trust_floor_db"] += 1.0
        verdict["notes"] = ["Worded as it was then."]
        del verdict["bands"][0]["false_pass_risk"]  # not yet known then

    files = by_an_older_version(trusted_less)
    found = checked(files)
    assert found.holds
    assert found.method_difference
    assert not missing_words(found.lines[1], "of trust", "was not held", "trust_floor_db")
    files["plan.toml"] += b"# changed\n"
    assert not checked(files).holds


def test_this_version_s_own_trust_is_held_to_the_last_digit() -> None:
    files = dict(record().files)
    recorded = json.loads(files["verdict.json"])
    recorded["conditions"][1]["verdict"]["bands"][0]["trust_floor_db"] += 1e-6
    files["verdict.json"] = json.dumps(recorded).encode()
    files[CHECKSUMS] = format_checksums(files)
    assert "trust_floor_db" in checked(files).difference


@pytest.mark.parametrize(
    ("key", "value"), [("state", "not measured"), ("margin_db", 9.0), ("link", "both ways")]
)
def test_another_version_s_state_is_told_apart_from_changed_data(key: str, value: object) -> None:
    files = by_an_older_version(lambda verdict: verdict["bands"][0].update({key: value}))
    by_method = checked(files)
    assert not by_method.holds
    assert by_method.by_method
    assert "the method differs, not the data" in by_method.lines[1]
    files["plan.toml"] += b"# changed\n"
    by_data = checked(files)
    assert not by_data.by_method
    assert not missing_words(by_data.lines[0], "plan.toml", "changed")


def test_sweeps_that_do_not_agree_are_no_acceptance() -> None:
    files = dict(record().files)
    files["sealed/raw-02.s1p"] = files["bare/raw-02.s1p"]
    found = checked(files)
    assert "do not agree with each other" in found.problem
    assert not found.holds


@pytest.mark.parametrize("folder", sorted(ARCHIVED.iterdir()), ids=lambda each: each.name)
def test_archived_records_of_every_layout_still_load_and_hold(folder: Path) -> None:
    found = recheck_folder(folder)
    assert found.holds, found.lines
    assert found.examined is not None
    assert found.examined.overall is (State.FAIL if folder.name.endswith("-full") else State.PASS)
    if found.record.version == 1:
        assert "layout 1 has no sums" in found.lines[0]


def test_every_layout_has_an_archived_record() -> None:
    assert {recheck_folder(each).record.version for each in ARCHIVED.iterdir()} == {1, 2, 3}


@pytest.mark.process
@pytest.mark.parametrize(
    "surroundings",
    [
        {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "LANG": "C"},
        {"TZ": "America/St_Johns", "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"},
    ],
    ids=["C, +14 h", "comma decimals, -3.5 h"],
)
def test_it_rechecks_in_another_folder_time_zone_and_locale(
    tmp_path: Path, surroundings: dict[str, str]
) -> None:
    folder = write_record(record(), tmp_path / "somewhere else")
    program = (
        "import locale, sys\n"
        "try: locale.setlocale(locale.LC_ALL, '')\n"
        "except locale.Error: pass\n"
        "from dashboard.command_line.main import main\n"
        "sys.exit(main(['recheck', sys.argv[1], '--json']))\n"
    )
    top = Path(__file__).parents[3]
    done = subprocess.run(
        [sys.executable, "-c", program, str(folder)],
        cwd=tmp_path,
        env={**os.environ, **surroundings, "PYTHONPATH": str(top)},
        capture_output=True,
        text=True,
        check=False,
    )
    found = json.loads(done.stdout)
    assert found["holds"] is True
    assert done.returncode == 0, done.stderr
    assert found["verdict"] == json.loads(record().files["verdict.json"])


def imported(**changed: Any) -> Acceptance:
    """A file of the past, matched to 34 dB, in a record."""
    raw = sweeps(838e6)[0]
    one = dataclasses.replace(raw, reflection=np.full(raw.points, 0.02 + 0j), plane=Plane.CONNECTOR)
    one = dataclasses.replace(one, **changed)
    return dataclasses.replace(
        accepted(
            dips_hz=(838e6,), wanted=plan('name = "x"\n[[band]]\nlte = 20\nreturn_loss_db = 6\n')
        ),
        kind="imported",
        calibration=None,
        conditions=(Condition("finished", (one,)),),
    )


def test_an_imported_file_of_unknown_calibration_passes_behind_the_default_load_and_says_so() -> (
    None
):
    stated = imported()
    unknown = dataclasses.replace(
        stated, assumptions=dataclasses.replace(stated.assumptions, load_db=None)
    )
    note = "a load of 26 dB of unknown phase is assumed"
    for one, said in ((stated, False), (unknown, True)):
        examined = examine(one)
        assert examined.overall is State.PASS
        assert any(note in n for n in examined.conditions[0].verdict.notes) is said
        assert checked(dict(compose_record(examined, None).files)).holds


def test_raw_readings_get_no_verdict_but_those_of_an_analyzer_that_corrects_itself() -> None:
    raw = examine(imported(plane=Plane.RAW))
    assert raw.overall is State.NOT_MEASURED
    assert not missing_words(raw.conditions[0].verdict.bands[0].reason, "raw", "Calibrate")
    own = dataclasses.replace(sweeps(838e6)[0].source, analyzer_corrected=True)
    corrected = examine(imported(plane=Plane.RAW, source=own))
    assert corrected.overall is State.PASS
    assert any("the analyzer's own" in n for n in corrected.conditions[0].verdict.notes)


def test_what_a_file_made_doubtful_stays_with_the_record() -> None:
    doubt = "It may be in another format."
    bare = imported()
    doubted = dataclasses.replace(
        bare, conditions=(dataclasses.replace(bare.conditions[0], doubts=(doubt,)),)
    )
    assert examine(doubted).overall is State.CONDITIONAL_PASS
    files = compose_record(examine(doubted), None).files
    again = parse_record(files, "x").acceptance
    assert again.conditions[0].doubts == (doubt,)
    assert doubt in examine(again).conditions[0].verdict.notes
    assert b"doubts" not in compose_record(examine(bare), None).files["record.json"]


@pytest.mark.parametrize(
    ("recorded", "recomputed", "words"),
    [
        ({"a": 1.0}, {"a": 1.0 + 1e-12}, ""),
        ({"a": 1.0}, {"a": 1.001}, "a is 1.0 recorded and 1.001 recomputed"),
        ({"a": True}, {"a": 1}, "a is True recorded and 1 recomputed"),
        ({"a": None}, {"a": 0.0}, "a is None recorded and 0.0 recomputed"),
        ({"a": [1, 2]}, {"a": [1]}, "a has 2 entries recorded and 1 recomputed"),
        ({"a": 1}, {}, "a is recorded only"),
        ({}, {"a": 1}, "a is recomputed only"),
        (
            {"bands": [{"name": "LTE 20", "link": "uplink", "state": "pass"}]},
            {"bands": [{"name": "LTE 20", "link": "uplink", "state": "fail"}]},
            "bands[LTE 20 uplink].state is 'pass' recorded and 'fail' recomputed",
        ),
    ],
)
def test_the_first_difference_is_named(recorded: object, recomputed: object, words: str) -> None:
    assert first_difference(recorded, recomputed) == words


def test_a_record_of_a_later_layout_is_refused(tmp_path: Path) -> None:
    files = dict(record().files)
    head = json.loads(files["record.json"])
    files["record.json"] = json.dumps({**head, "version": 4}).encode()
    folder = write_record(Record("later", files), tmp_path)
    with pytest.raises(Exception, match="written by a later version"):
        recheck_folder(folder)


def test_a_figure_of_trust_changed_by_hand_is_found_though_its_sums_were_made_again() -> None:
    files = dict(record().files)
    lines = files["sealed/trust.csv"].decode().split("\r\n")
    assert lines[0].startswith("frequency_hz,return_loss_db,return_loss_low_db")
    cells = lines[30].split(",")
    cells[5] = repr(float(cells[5]) * (1 + 1e-6))
    lines[30] = ",".join(cells)
    files["sealed/trust.csv"] = "\r\n".join(lines).encode()
    files[CHECKSUMS] = format_checksums(files)
    found = checked(files)
    assert found.difference == "the table of trust, sealed, is another one"
    for wrong in (b"frequency_hz\r\n", b"a,b\r\n1,2\r\n", b"\xff"):
        files["sealed/trust.csv"] = wrong
        with pytest.raises(RecordError, match="cannot be read"):
            checked(files)


def test_the_table_of_trust_holds_what_was_worked_out() -> None:
    """A reading of G is off by at most e0 + e1 G + e2 G^2, each term at its residual."""
    acceptance = accepted()
    examined = examine(acceptance)
    table = parse_uncertainty_table(record(acceptance).files["bare/trust.csv"])
    examined_condition = examined.conditions[0]
    size = np.abs(examined_condition.corrected.reflection)
    np.testing.assert_allclose(table[:, 1], -20 * np.log10(size), rtol=1e-12)
    most = table[:, 5] + table[:, 6] * size + table[:, 7] * size**2
    # a tenth more, since the interval's end is worked out half way between the reading and itself
    assert (examined_condition.interval.upward <= 1.1 * most).all()
    np.testing.assert_allclose(
        table[:, 4], -20 * np.log10(examined_condition.interval.floor), rtol=1e-12
    )
