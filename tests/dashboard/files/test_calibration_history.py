"""The last calibrations of each analyzer, kept to hold the next one against."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration
from calibration.verification.past_calibrations import compared_with_past, once_only
from dashboard.files.calibration_history import FOLDER, MOST_KEPT, past_calibrations, remember
from tests.calibration.verification.rough_bench import RoughBench


@pytest.fixture(scope="module")
def made() -> Calibration:
    return RoughBench(
        load_kit("3.5mm-plug-50"), np.random.default_rng(1), np.linspace(0.8e9, 1e9, 11)
    ).calibration()


def test_what_is_kept_comes_back_and_speaks_for_the_next_one(
    tmp_path: Path, made: Calibration
) -> None:
    remember(made, tmp_path)
    past = past_calibrations(tmp_path, made.source.analyzer)
    assert [each.made for each in past] == [made.made]
    later = replace(made, taken_at=made.taken_at + timedelta(days=1))
    assert compared_with_past(later, past).known
    assert past_calibrations(tmp_path, "another one") == []


def test_kept_again_it_takes_the_place_of_what_it_was(tmp_path: Path, made: Calibration) -> None:
    remember(made.with_doubts([once_only("load")]), tmp_path)
    remember(made, tmp_path)
    (kept,) = past_calibrations(tmp_path, made.source.analyzer)
    assert kept.doubts == ()


def test_the_oldest_go_and_those_of_another_cable_stay(tmp_path: Path, made: Calibration) -> None:
    remember(replace(made, cable="blue"), tmp_path)
    for day in range(MOST_KEPT + 2):
        remember(replace(made, taken_at=made.taken_at + timedelta(days=day)), tmp_path)
    past = past_calibrations(tmp_path, made.source.analyzer)
    assert sum(each.cable == "blue" for each in past) == 1
    assert len(past) == MOST_KEPT + 1
    assert min(each.taken_at for each in past if not each.cable) > made.taken_at


def test_what_is_damaged_is_left_aside(tmp_path: Path, made: Calibration) -> None:
    remember(made, tmp_path)
    (folder,) = (tmp_path / FOLDER).iterdir()
    (folder / "000_2020.json").write_text("{", encoding="utf-8")
    assert len(past_calibrations(tmp_path, made.source.analyzer)) == 1
