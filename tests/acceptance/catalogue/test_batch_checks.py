"""A batch is checked at its start, every tenth antenna and its end, and a failed check names all
that it puts in doubt."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from acceptance.catalogue.batch_checks import (
    EVERY,
    FOLDER,
    BatchChecks,
    batch_checks,
    batch_words,
    doubtful_records,
)
from acceptance.catalogue.query import Query
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.record.acceptance_record import Condition
from acceptance.record.check_after_sweep import ChecksAfterSweep
from acceptance.record.plan_requirements import sign_off
from acceptance.record.record_folder import load_record, write_record
from acceptance.version import software
from calibration.errors import CalibrationError
from calibration.uncertainty.budget import Assumptions
from tests.acceptance.made import BEGUN, begun, calibration, plan, record, sweeps
from tests.acceptance.record.test_check_after_sweep import ONE, put_back
from tests.wording import missing_words

WANTED = plan(f'check_after = "batch"\n{ONE}')
GIVEN = Assumptions()


def checked(batch: BatchChecks, minutes: float, tracking: float = 1.0) -> bool:
    found = batch.check(put_back(minutes, tracking), GIVEN, WANTED.spans, software())
    return found.holds


def accepted(batch: BatchChecks, records: Path, name: str, minutes: float) -> Path:
    assert batch.last is not None
    raw = tuple(
        replace(each, taken_at=each.taken_at + timedelta(minutes=minutes)) for each in sweeps(838e6)
    )
    made = replace(
        begun(name, WANTED), after_sweep=ChecksAfterSweep(batch_check=batch.last.reference)
    ).with_condition(Condition("finished", raw, 12))
    written = write_record(record(sign_off(made, BEGUN + timedelta(minutes=minutes))), records)
    batch.add(written)
    return written


@pytest.fixture
def batch(tmp_path: Path) -> BatchChecks:
    return BatchChecks(tmp_path, calibration())


def test_a_batch_is_checked_at_its_start_and_every_tenth(
    batch: BatchChecks, tmp_path: Path
) -> None:
    assert "begins with a standard put back" in batch.due
    assert checked(batch, 1)
    assert batch.due == ""
    for n in range(EVERY):
        assert batch.due == ""
        accepted(batch, tmp_path, f"weir-{n}", 2 + n / 10)
    assert batch.due.startswith("10 antennas were accepted since")
    again = BatchChecks(tmp_path, calibration())
    assert again.since == EVERY, "counted anew from what is on the disk"
    assert again.last == batch.last
    assert checked(again, 20)
    assert (again.since, again.due) == (0, "")
    assert len(batch_checks(tmp_path)[-1].records) == EVERY


def test_a_failed_check_puts_all_since_the_last_good_one_in_doubt(
    batch: BatchChecks, tmp_path: Path
) -> None:
    checked(batch, 1)
    before = accepted(batch, tmp_path, "weir-1", 2)
    checked(batch, 3)
    after = [accepted(batch, tmp_path, f"weir-{n}", 2 + n) for n in (2, 3)]
    for each in after:
        counts, words = batch_words(load_record(each), each)
        assert not counts
        assert not missing_words(words, "no check of the batch after it", "finish")
    assert not checked(batch, 8, tracking=0.92)
    assert not missing_words(batch.failed, "last check failed", "calibrate anew")
    counts, words = batch_words(load_record(before), before)
    assert counts
    assert "reads as it did" in words
    for each in after:
        counts, words = batch_words(load_record(each), each)
        assert not counts
        assert not missing_words(words, "In doubt", "reads otherwise", "sweep the antenna again")
    assert set(doubtful_records(tmp_path)) == {each.name for each in after}
    catalogue = Catalogue.in_folder(tmp_path)
    catalogue.take_in(tmp_path)
    found = {each.folder: each.caveat for each in catalogue.find(Query()).entries}
    catalogue.close()
    assert found[before.name] == ""
    assert all(found[each.name].startswith("In doubt") for each in after)


def test_a_check_that_was_changed_counts_for_nothing(batch: BatchChecks, tmp_path: Path) -> None:
    checked(batch, 1)
    one = accepted(batch, tmp_path, "weir-1", 2)
    assert not checked(batch, 8, tracking=0.92)
    newest = tmp_path / FOLDER / batch_checks(tmp_path)[-1].folder / "check.json"
    newest.write_bytes(newest.read_bytes().replace(b'"holds": false', b'"holds": true'))
    counts, words = batch_words(load_record(one), one)
    assert not counts
    assert "check.json was changed" in words


def test_what_is_damaged_among_the_checks_hides_no_other(
    batch: BatchChecks, tmp_path: Path
) -> None:
    checked(batch, 1)
    for name, content in (("check_a", b""), ("check_b", b"{}"), ("check_c", b"[1]")):
        (tmp_path / FOLDER / name).mkdir()
        (tmp_path / FOLDER / name / "check.json").write_bytes(content)
        (tmp_path / FOLDER / name / "SHA256SUMS").write_bytes(b"")
    (tmp_path / FOLDER / "a file").write_text("no folder")
    assert len(batch_checks(tmp_path)) == 1
    assert BatchChecks(tmp_path, calibration()).due == ""


def test_nothing_is_written_where_it_is_no_standard(batch: BatchChecks, tmp_path: Path) -> None:
    check = put_back(1)
    small = tuple(each.with_reflection(0.05 * each.reflection, each.plane) for each in check.raw)
    with pytest.raises(CalibrationError, match="nothing of tracking"):
        batch.check(replace(check, raw=small), GIVEN, WANTED.spans, software())
    assert not (tmp_path / FOLDER).exists()
