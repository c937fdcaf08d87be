"""The noise of a reading, told by its budget, against the scatter of many such readings."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.sweep import ComplexArray
from calibration.capture.averaging import Averaged, average
from calibration.capture.standard_capture import StandardReading
from calibration.files.store import load_kit, load_plane
from calibration.one_port_calibration import Calibration, calibrate
from calibration.uncertainty.budget import Assumptions
from calibration.verification.reading_budget import ReadingBudget, noise_in
from tests.calibration.conftest import SPANS, Unit

SWEEPS, READINGS = 8, 60
ANTENNA = 0.1 * np.exp(0.7j)


@pytest.fixture
def calibration(unit: Unit) -> Calibration:
    kit = load_kit("ideal")
    f = unit.frequency_hz
    readings = [
        StandardReading(name, f, unit.raw(standard.reflection(f)), 8, np.full(f.size, unit.noise))
        for name, standard in kit.standards.items()
    ]
    return calibrate(
        kit,
        readings,
        source=unit.source,
        request=unit.request,
        spans=SPANS,
        taken_at=unit.sweep(0).taken_at,
        software="a test",
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    "plane", ["connector", "delay_ps=5000 loss_db=6 loss_at_mhz=1700"], ids=["connector", "6 dB"]
)
def test_it_is_what_many_readings_scatter_by(
    unit: Unit, calibration: Calibration, plane: str
) -> None:
    """Through tracking, source match and whatever is undone. 60 readings of 8 sweeps scatter by
    the noise within 2 % at the middle of 201 points; 5 % is allowed, and some for the fewness of
    8 sweeps [derived]."""
    reading_budget = ReadingBudget(Assumptions())
    readings: list[ComplexArray] = []
    told = []
    for _ in range(READINGS):
        averaged: Averaged | None = average([unit.sweep(ANTENNA) for _ in range(SWEEPS)])
        assert averaged is not None
        corrected = calibration.correct(averaged.sweep)
        budget = reading_budget.budget(calibration, corrected, averaged)
        reflection = corrected.reflection
        if plane != "connector":
            there = load_plane(plane, calibration).move(corrected, budget)
            budget, reflection = there.budget, there.reading.reflection
        told.append(noise_in(budget, reflection))
        readings.append(reflection)
    scatter = np.median(np.std(readings, axis=0))
    assert np.mean(told) == pytest.approx(scatter, rel=0.05)


def test_a_point_that_nobody_knows_does_not_count(unit: Unit, calibration: Calibration) -> None:
    averaged = average([unit.sweep(ANTENNA) for _ in range(SWEEPS)])
    assert averaged is not None
    corrected = calibration.correct(averaged.sweep)
    budget = ReadingBudget(Assumptions()).budget(calibration, corrected, averaged)
    reflection = corrected.reflection.copy()
    whole = noise_in(budget, reflection)
    reflection[:50] = np.nan
    assert noise_in(budget, reflection) == pytest.approx(whole, rel=0.1)
    assert noise_in(budget, np.full_like(reflection, np.nan)) == 0
