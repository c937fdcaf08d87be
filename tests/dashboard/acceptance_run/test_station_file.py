"""A station's file: what is wrong with one is said by its key, with the cure."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.errors import BandwrightError
from dashboard.acceptance_run.station_file import load_station, parse_station
from dashboard.errors import SetupError
from tests.wording import missing_words

GOOD = """\
name = "Saturday"
plan = "plan.toml"
kit = "n-plug-50"
[known_good]
record = "records/weir-1"
"""


def test_a_short_file_is_enough() -> None:
    found = parse_station(GOOD, "station.toml")
    assert (found.known_good.every, found.known_good.tolerance_db) == (10, 0.5)
    assert found.contact == "whoever set this up"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("name = ", "nmae = "), ["nmae", "Did you mean name"]),
        (('plan = "plan.toml"\n', ""), ["plan is missing", 'plan = "plan.toml"']),
        (('[known_good]\nrecord = "records/weir-1"\n', ""), ["known_good is missing"]),
        (("[known_good]", "[known_good]\nevery = 0"), ["known_good.every is 0", "1 to 100"]),
        (("[known_good]", "[known_good]\ntolerance_db = 9"), ["tolerance_db is 9", "0 to 3 dB"]),
        (('kit = "n-plug-50"', "kit = 50"), ["kit is 50", "a kit's name"]),
        (("[known_good]", 'serial = "GW-["\n[known_good]'), ["serial is no pattern"]),
        (("[known_good]", "load_db = -3\n[known_good]"), ["load_db is -3", "its maker states"]),
        (("name = ", "name = = "), ["not TOML"]),
    ],
)
def test_what_is_wrong_is_said_with_its_key_and_the_cure(
    change: tuple[str, str], words: list[str]
) -> None:
    with pytest.raises(SetupError) as refused:
        parse_station(GOOD.replace(*change), "station.toml")
    assert not missing_words(str(refused.value), *words)


@pytest.mark.parametrize("name", ["../plan.toml", "/etc/passwd", "a/../../b"])
def test_what_it_names_lies_in_its_folder(tmp_path: Path, name: str) -> None:
    path = tmp_path / "station.toml"
    path.write_text(GOOD.replace("plan.toml", name), encoding="utf-8")
    with pytest.raises(SetupError, match="plan: "):
        load_station(path)


def test_a_record_that_is_not_there_is_said_to_be_missing(tmp_path: Path) -> None:
    path = tmp_path / "station.toml"
    path.write_text(GOOD, encoding="utf-8")
    plan = 'name = "p"\n[[band]]\nlte = 20\nreturn_loss_db = 8\n'
    (tmp_path / "plan.toml").write_text(plan, encoding="utf-8")
    with pytest.raises(BandwrightError, match="There is no record"):
        load_station(path)


def test_a_plan_that_wants_a_touch_test_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "station.toml"
    path.write_text(GOOD, encoding="utf-8")
    plan = 'name = "p"\ntouch_test = true\n[[band]]\nlte = 20\nreturn_loss_db = 8\n'
    (tmp_path / "plan.toml").write_text(plan, encoding="utf-8")
    with pytest.raises(SetupError, match="touch test"):
        load_station(path)
