"""What a cable does to verdicts: the handbook's rows, and where nothing honest is left."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.cable.verdict_through_cable import CableCheck, Wanted, check_cable
from acceptance.limits.match import reflection_from_return_loss, vswr
from acquire.sweep import Reading
from calibration.cable.measured_line import BARE_ENDS, MeasuredLine
from calibration.calibration_budget import budget_of_file
from calibration.plane.loss import LossLaw
from calibration.uncertainty.budget import Assumptions
from tests.wording import missing_words

GRID = np.linspace(700e6, 2700e6, 401)
BAND = Wanted("the band", (1790e6, 1810e6), 10.0)


def checked(loss_db: float, wanted: Wanted = BAND, load_db: float | None = None) -> CableCheck:
    """A plain line of so much loss at 1800 MHz."""
    way = 10 ** (-2 * LossLaw.at_one(loss_db, 1800, 0.9).db(GRID) / 20)
    way = way * np.exp(-4j * np.pi * GRID * 5e-9)
    ends = {"open": Reading(GRID, way), "short": Reading(GRID, -way)}
    line = MeasuredLine(words="it", ends=ends, standards=BARE_ENDS)
    return check_cable(line, budget_of_file(GRID, Assumptions(load_db=load_db)), [wanted], 0.66)


def test_an_antenna_of_1_db_reads_13_db_behind_6_db() -> None:
    """1 + 2 x 6 [derived]: a false pass of a limit of 10 dB."""
    found = checked(6.0, load_db=40)
    (band,) = found.bands
    assert band.bad_antenna_reads_db == pytest.approx(13.0, abs=0.1)
    assert band.far_end_valid == "when undone"
    assert "what reads 13.0 dB can be an antenna of 1 dB" in band.words
    assert "whatever hangs there passes" in band.words
    assert found.far_end_valid


def test_10_db_through_3_db_reads_as_a_vswr_of_1_377() -> None:
    """10 + 2 x 3 = 16 dB [derived; Pozar, ARRL Handbook, memory]."""
    assert vswr(reflection_from_return_loss(10 + 2 * 3)) == pytest.approx(1.377, abs=5e-4)
    assert vswr(reflection_from_return_loss(10)) == pytest.approx(1.925, abs=5e-4)


def test_a_short_good_cable_changes_little() -> None:
    (band,) = checked(0.2).bands
    assert band.far_end_valid == "yes"
    assert band.words.startswith("It changes little")


def test_behind_too_much_loss_no_verdict_is_honest() -> None:
    """A limit of 20 dB behind 6 dB, with a load nobody stated: the floor at the far end lies
    below it."""
    found = checked(6.0, Wanted("deep", (1790e6, 1810e6), 28.0))
    (band,) = found.bands
    assert band.far_end_valid == "no"
    assert "No verdict at the far end can be honest" in band.words
    assert not found.far_end_valid
    assert band.floor_far_db < 28


def test_a_flat_match_with_nothing_on_it_is_noted() -> None:
    assert any("cannot tell that from a load" in each for each in checked(11.9).sentences)
    assert not any("cannot tell that from a load" in each for each in checked(2.0).sentences)


def test_the_length_is_told_for_a_velocity_factor() -> None:
    """5 ns at .66 c: 0.989 m [derived]."""
    said = checked(1.0).sentences
    assert "Delay one way: 5.000 ns" in said[0]
    assert not missing_words(said[1], "989 mm", "velocity factor 0.66")
