"""A record's times hold together, or it does not hold."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.checksums import CHECKSUMS, differences, format_checksums
from acceptance.record.recheck import Recheck, recheck
from acceptance.record.record_folder import parse_record, write_record
from acceptance.version import software
from tests.acceptance.made import BEGUN, accepted, record
from tests.wording import missing_words

NOW = BEGUN + timedelta(days=3)


def checked(files: dict[str, bytes], now: datetime = NOW) -> Recheck:
    files[CHECKSUMS] = format_checksums(files)
    return recheck(parse_record(files, "weir-3"), differences(files), software(), now)


def moved(to: dict[str, datetime]) -> dict[str, bytes]:
    """A record with some of its times put elsewhere, its sums made anew."""
    files = dict(record().files)
    head = json.loads(files["record.json"])
    for key, at in to.items():
        if key == "swept":
            for each in head["conditions"][0]["sweeps"]:
                each["taken_at"] = at.isoformat()
        elif key == "calibrated":
            text = files["calibration.json"].decode()
            text, count = re.subn(
                r'"taken_at": ?"[^"]*"', f'"taken_at": "{at.isoformat()}"', text, count=1
            )
            assert count
            files["calibration.json"] = text.encode()
        else:
            head[key] = at.isoformat()
    files["record.json"] = json.dumps(head).encode()
    return files


def test_times_in_their_order_hold() -> None:
    found = checked(dict(record().files))
    assert found.times == ()
    assert found.holds


@pytest.mark.parametrize(
    ("to", "words"),
    [
        ({"accepted_at": datetime(2099, 1, 1, tzinfo=UTC)}, ["signing off", "2099", "to come"]),
        ({"begun_at": datetime(1999, 1, 1, tzinfo=UTC)}, ["beginning", "1999", "before there"]),
        ({"begun_at": BEGUN + timedelta(hours=1)}, ["beginning", "later than the signing off"]),
        ({"swept": BEGUN - timedelta(hours=2)}, ["calibration", "later than a sweep", "bare"]),
        ({"swept": BEGUN + timedelta(hours=2)}, ["a sweep", "bare", "later than the signing off"]),
        ({"calibrated": BEGUN + timedelta(days=1)}, ["calibration", "later than a sweep"]),
        ({"calibrated": datetime(1999, 1, 1, tzinfo=UTC)}, ["calibration", "1999"]),
    ],
)
def test_a_time_that_fits_no_other_is_found(to: dict[str, datetime], words: list[str]) -> None:
    found = checked(moved(to))
    assert not missing_words(" ".join(found.times), *words)
    assert not found.holds
    assert any("do not hold together" in line for line in found.lines)


def test_a_clock_that_was_put_right_by_minutes_is_no_matter() -> None:
    few = timedelta(minutes=8)
    times = {"begun_at": accepted().accepted_at or BEGUN, "swept": BEGUN - few}
    times["begun_at"] += few
    assert checked(moved(times)).times == ()
    assert checked(dict(record().files), BEGUN + timedelta(minutes=1)).times == ()
    assert checked(dict(record().files), BEGUN - timedelta(minutes=30)).times


def test_the_clock_of_this_machine_is_asked(tmp_path: Path) -> None:
    files = moved({"accepted_at": datetime(2099, 1, 1, tzinfo=UTC)})
    files[CHECKSUMS] = format_checksums(files)
    made = record()
    folder = write_record(type(made)(made.folder, files), tmp_path)
    assert "2099" in recheck_folder(folder).times[0]
    assert recheck_folder(folder, datetime(2099, 1, 2, tzinfo=UTC)).times == ()
