"""The known good antenna reads as its record says, or puts in doubt what came since."""

from __future__ import annotations

import contextlib
import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from acceptance.catalogue.known_good_checks import (
    CHECK_FILE,
    FOLDER,
    doubted_by_known_good,
    known_good_checks,
    known_good_difference,
    known_good_of,
    known_good_words,
    readings_of,
    write_check,
)
from acceptance.catalogue.query import Query
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.errors import RecordError
from acceptance.record.examination import examine
from acceptance.record.record_folder import write_record
from tests.acceptance import made

AT = datetime(2026, 5, 1, 15, 0, tzinfo=UTC)
DIPS = (838e6, 820e6)
PLAN = made.plan(made.UNCHECKED_PLAN_TEXT)


def written(folder: Path, antenna: str, dips_hz: tuple[float, float] = DIPS) -> Path:
    return write_record(made.record(made.accepted(antenna, dips_hz, PLAN)), folder)


def checked(folder: Path, dips_hz: tuple[float, float], tolerance_db: float = 0.5) -> Path:
    """One antenna tested between two looks at the known good one; returns its record."""
    good = known_good_of(written(folder, "weir-1"), PLAN)
    serial = written(folder, "GW-1", (830e6, 828e6))
    again = made.accepted("weir-1", dips_hz, PLAN)
    now = write_record(made.record(again), folder)
    write_check(
        folder,
        good,
        now,
        readings_of(examine(again), PLAN),
        [serial],
        station="Saturday",
        tolerance_db=tolerance_db,
        software="test",
        at=AT,
    )
    return serial


def test_the_same_antenna_again_holds_and_the_record_says_so(tmp_path: Path) -> None:
    serial = checked(tmp_path, DIPS)
    (check,) = known_good_checks(tmp_path)
    assert check.holds, check.words
    assert "reads as its record says" in check.words
    counts, words = known_good_words(serial)
    assert counts
    assert "swept after it" in words
    assert doubted_by_known_good(tmp_path) == {}


def test_one_whose_dip_has_moved_puts_what_came_since_in_doubt(tmp_path: Path) -> None:
    serial = checked(tmp_path, (846e6, 828e6))
    (check,) = known_good_checks(tmp_path)
    assert not check.holds
    assert "times what is allowed" in check.words
    counts, words = known_good_words(serial)
    assert not counts
    assert "In doubt: the known good antenna failed after it" in words
    assert list(doubted_by_known_good(tmp_path)) == [serial.name]
    with contextlib.closing(Catalogue.in_folder(tmp_path)) as catalogue:
        catalogue.take_in(tmp_path)
        found = {each.antenna: each.caveat for each in catalogue.find(Query()).entries}
    assert "known good antenna failed" in found["GW-1"]
    assert found["weir-1"] == ""


def test_the_tolerance_is_what_connector_and_place_may_change(tmp_path: Path) -> None:
    then = readings_of(examine(made.accepted("weir-1", DIPS, PLAN)), PLAN)
    now = readings_of(examine(made.accepted("weir-1", (838.6e6, 820.6e6), PLAN)), PLAN)
    assert known_good_difference(then, now, 3.0).holds
    far = readings_of(examine(made.accepted("weir-1", (870e6, 852e6), PLAN)), PLAN)
    assert not known_good_difference(then, far, 3.0).holds
    assert not known_good_difference({}, now, 3.0).holds


@pytest.mark.parametrize("what", ["holds", "readings"])
def test_a_check_that_was_changed_does_not_count(tmp_path: Path, what: str) -> None:
    serial = checked(tmp_path, (846e6, 828e6))
    (folder,) = (tmp_path / FOLDER).iterdir()
    head = json.loads((folder / CHECK_FILE).read_text(encoding="utf-8"))
    if what == "holds":
        head["holds"] = True
    else:
        head["now"] = head["reference"]
    (folder / CHECK_FILE).write_text(json.dumps(head), encoding="utf-8")
    counts, words = known_good_words(serial)
    assert not counts
    assert "does not hold" in words


def test_a_record_of_other_bands_is_no_known_good_one(tmp_path: Path) -> None:
    folder = written(tmp_path, "weir-1")
    other = made.plan('name = "p"\n[[band]]\nlte = 7\nreturn_loss_db = 8\n')
    with pytest.raises(RecordError, match="no reading in the plan's bands"):
        known_good_of(folder, other)
