"""Calibrations made before: which are offered, how old, and what of a plan they cover; and how many
sweeps a slow analyzer needs for the next one."""

from __future__ import annotations

import dataclasses
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from calibration.files.store import load_calibration
from calibration.one_port_calibration import Calibration
from dashboard.bench import calibration_folder
from dashboard.bench.capture_words import sweeps_a_standard, sweeps_words
from dashboard.bench.kept_calibrations import MOST_OFFERED, KeptCalibration, kept_calibrations
from dashboard.demo.scenario import PLAN
from dashboard.page.plan_form import read_plan


@pytest.fixture
def made(kept_calibration: Path) -> Calibration:
    return load_calibration(kept_calibration)


def test_the_newest_of_the_analyzer_are_offered_and_nothing_damaged(
    tmp_path: Path, made: Calibration
) -> None:
    now = made.taken_at + timedelta(hours=1)
    analyzer = made.source.analyzer
    for hours in range(MOST_OFFERED + 2):
        earlier = dataclasses.replace(made, taken_at=made.taken_at - timedelta(hours=hours))
        calibration_folder.keep(earlier, tmp_path)
    (tmp_path / f"{analyzer}_9.json").write_text("{")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    later = dataclasses.replace(made, taken_at=now + timedelta(hours=1))
    other = calibration_folder.keep(later, elsewhere)
    found = kept_calibrations(tmp_path, [other, tmp_path / "gone.json"], analyzer, now)
    ages = [each.age_words(now) for each in found]
    assert ages[:2] == ["1 h old", "2 h old"]
    assert len(found) <= MOST_OFFERED
    assert kept_calibrations(tmp_path, [], "another analyzer", now) == []


def test_what_is_covered_and_how_old_it_is_are_said(made: Calibration) -> None:
    kept, plan = KeptCalibration(Path("x.json"), made), read_plan(PLAN)
    assert kept.covered_words(plan) == "covers all 3 bands"
    assert kept.whole(plan)
    more = read_plan(PLAN + "\n[[band]]\nnr = 78\nvswr = 2\n")
    assert kept.covered_words(more) == "covers 3 of 4 bands, not NR n78"
    assert not kept.whole(more)
    assert kept.covered_words(None).endswith(" MHz")
    for later, words in (
        (timedelta(minutes=12), "12 min old"),
        (timedelta(hours=3), "3 h old"),
        (timedelta(days=5), "5 days old"),
    ):
        assert kept.age_words(made.taken_at + later) == words
    noon = datetime.combine(made.taken_at.astimezone(), datetime.min.time()).astimezone()
    of_noon = KeptCalibration(
        Path("x.json"), dataclasses.replace(made, taken_at=noon + timedelta(hours=12))
    )
    assert of_noon.today(noon + timedelta(hours=13))
    assert not of_noon.today(noon + timedelta(hours=37))


def test_four_sweeps_a_standard_do_where_one_is_slow_and_it_is_said() -> None:
    assert sweeps_a_standard(2.0) == 8
    assert sweeps_words(2.0) == ""
    assert sweeps_a_standard(2.1) == 4
    assert all(each in sweeps_words(3.14) for each in ("3.1 s", "4 of each", "instead of 8"))
