"""How far a band's average can be trusted: by benches whose standards are wrong."""

from __future__ import annotations

import dataclasses
from dataclasses import replace

import numpy as np
import pytest

from acceptance.limits.match import average_return_loss_db
from acceptance.verdict.band_average import average_interval_db
from calibration.calibration_budget import budget_of_file
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.interval import interval
from tests.calibration.uncertainty.wrong_standards import ASSUMED, Benches
from tests.counts import LONG

DRAWS = 20_000 if LONG else 4_000
F = np.linspace(791e6, 821e6, 16)
SPAN = (791e6, 821e6)
READING = (0.3 - 0.1j) * np.exp(-2j * np.pi * (F - F[0]) * 2e-9)


@pytest.mark.parametrize("load_db", [26.0, 40.0])
def test_the_average_lies_where_that_of_the_benches_antennas_does(load_db: float) -> None:
    found = interval(budget_of_file(F, replace(ASSUMED, load_db=load_db)), READING)
    ends = average_interval_db(found, READING, SPAN)
    assert ends is not None
    true = Benches(F, load_db, DRAWS, np.random.default_rng(1)).truth(READING)
    averages = np.array([average_return_loss_db(F, each) for each in true])
    low, high = np.quantile(averages, [0.025, 0.975])
    assert ends[0] < average_return_loss_db(F, READING) < ends[1]
    assert (ends[1] - ends[0]) / (high - low) == pytest.approx(1.04, abs=0.09)
    assert np.mean((averages >= ends[0]) & (averages <= ends[1])) > 0.933


def test_where_nothing_is_known_no_average_is_bounded() -> None:
    found = interval(budget_of_file(F, Assumptions()), READING)
    assert average_interval_db(dataclasses.replace(found, budget=None), READING, SPAN) is None
    assert average_interval_db(found, READING, (800e6, 800.5e6)) is None
    hole = READING.copy()
    hole[3] = complex("nan")
    assert average_interval_db(found, hole, SPAN) is None


def test_a_band_that_may_reflect_nothing_has_no_greatest_average() -> None:
    nothing = np.full(F.size, 0.01 + 0j)
    found = interval(budget_of_file(F, Assumptions()), nothing)
    ends = average_interval_db(found, nothing, SPAN)
    assert ends is not None
    assert np.isinf(ends[1])
