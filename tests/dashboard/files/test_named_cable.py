"""The test cable in use, held against the one that a calibration was made with."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calibration.files.store import load_kit, save_calibration
from calibration.one_port_calibration import Calibration
from dashboard.errors import SetupError
from dashboard.files.named_cable import cable_name, calibration_of, require_cable
from tests.calibration.verification.rough_bench import RoughBench
from tests.wording import missing_words


@pytest.fixture(scope="module")
def made() -> Calibration:
    return RoughBench(
        load_kit("3.5mm-plug-50"), np.random.default_rng(1), np.linspace(0.8e9, 1e9, 11)
    ).calibration()


def test_the_calibration_of_another_cable_is_refused(made: Calibration) -> None:
    blue = replace(made, cable="blue, 1 m")
    require_cable(blue, "")
    require_cable(blue, "  blue,  1 m ")
    with pytest.raises(SetupError) as refused:
        require_cable(blue, "red")
    assert not missing_words(str(refused.value), "blue, 1 m", "red", "calibrate anew")


def test_one_that_names_no_cable_is_refused_where_a_cable_is_named(
    made: Calibration, tmp_path: Path
) -> None:
    kept = tmp_path / "today.json"
    save_calibration(made, kept)
    assert calibration_of(kept, "").cable == ""
    with pytest.raises(SetupError) as refused:
        calibration_of(kept, "red")
    assert not missing_words(str(refused.value), "does not say", '--cable "red"')


@pytest.mark.parametrize("typed", ["x" * 61, "red\x07"])
def test_a_name_that_cannot_be_kept_is_refused(typed: str) -> None:
    with pytest.raises(SetupError):
        cable_name(typed)
