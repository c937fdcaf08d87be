"""A standard put back tells drift from noise, and never judges its own definition."""

from __future__ import annotations

import dataclasses
from datetime import timedelta

import numpy as np
import pytest

from acquire.sweep import ComplexArray, Sweep
from calibration.capture.standard_capture import StandardCapture, StandardReading
from calibration.error_terms.one_port import ErrorTerms
from calibration.errors import CalibrationError
from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration, calibrate
from calibration.uncertainty.budget import Assumptions
from calibration.verification.drift import Drift, drift_since
from tests.calibration.conftest import REQUEST, SPANS, Unit

KIT = load_kit("n-plug-50")
TRUE = {
    name: standard.reflection(Unit().frequency_hz) + (0.03j if name == "load" else 0)
    for name, standard in KIT.standards.items()
}
"""The load is .03 off what the kit says: it must not matter."""


def calibration_by(unit: Unit) -> Calibration:
    def captured(name: str) -> StandardReading:
        capture = StandardCapture(name, REQUEST, 8)
        for _ in range(8):
            capture.add(unit.sweep(TRUE[name]))
        return capture.result()

    return calibrate(
        KIT,
        [captured(name) for name in KIT.standards],
        source=unit.source,
        request=REQUEST,
        spans=SPANS,
        taken_at=unit.sweep(0).taken_at,
        software="test",
    )


def later(unit: Unit, reflection: ComplexArray, hours: float = 1.0) -> Sweep:
    sweep = unit.sweep(reflection)
    return dataclasses.replace(sweep, taken_at=sweep.taken_at + timedelta(hours=hours))


def drifted(unit: Unit, tracking: float = 0.0, directivity: float = 0.0) -> None:
    """Move the unit's terms by so much of full scale."""
    old = unit.terms
    unit.terms = ErrorTerms(
        old.frequency_hz,
        old.directivity + directivity,
        old.source_match,
        old.reflection_tracking * (1 + tracking),
    )


@pytest.mark.parametrize("name", ["open", "short", "load"])
def test_nothing_but_noise_says_carry_on(unit: Unit, name: str) -> None:
    found = drift_since(calibration_by(unit), name, later(unit, TRUE[name]))
    assert found.advice == "carry on"
    assert found.age_s == pytest.approx(3600, abs=60)
    assert "carry on" in found.words


@pytest.mark.parametrize("seed", range(10))
def test_a_connector_made_again_says_carry_on(new_unit: type[Unit], seed: int) -> None:
    unit = new_unit(seed=seed)
    rng = np.random.default_rng(seed)
    calibration = calibration_by(unit)
    made = 1e-3 * unit.frequency_hz / 1e9 * complex(*rng.standard_normal(2)) / np.sqrt(2)
    assert drift_since(calibration, "short", later(unit, TRUE["short"] + made)).advice == "carry on"


@pytest.mark.parametrize(
    ("name", "tracking", "directivity"), [("short", 0.05, 0.0), ("load", 0.0, 0.03)]
)
def test_a_unit_that_moved_says_recalibrate_with_numbers(
    unit: Unit, name: str, tracking: float, directivity: float
) -> None:
    calibration = calibration_by(unit)
    drifted(unit, tracking, directivity)
    found = drift_since(calibration, name, later(unit, TRUE[name]))
    assert found.advice == "recalibrate"
    (span,) = found.spans
    # tracking off by 5 % moves a full reflection by about .05; ED by .03 through ER of .65 to .8
    moved = 0.05 if name == "short" else 0.03 / 0.75
    assert span.rms == pytest.approx(moved, rel=0.3)
    assert span.largest > span.allowed
    assert f"{span.largest:.2g}" in span.words


def test_the_same_change_is_allowed_after_a_day_that_is_too_much_after_an_hour(unit: Unit) -> None:
    calibration = calibration_by(unit)
    drifted(unit, tracking=0.03)
    advice = [
        drift_since(calibration, "short", later(unit, TRUE["short"], hours)).advice
        for hours in (1, 24)
    ]
    assert advice == ["recalibrate", "carry on"]
    strict = Assumptions(drift_per_hour=0.0)
    late = later(unit, TRUE["short"], 24)
    assert drift_since(calibration, "short", late, assumptions=strict).advice == "recalibrate"


def test_each_band_is_judged_by_itself(unit: Unit) -> None:
    calibration = calibration_by(unit)
    high = unit.frequency_hz > 2e9
    moved = TRUE["short"] * np.where(high, 1.08, 1.0)
    found = drift_since(
        calibration, "short", later(unit, moved), spans=((700e6, 960e6), (2.2e9, 2.7e9))
    )
    assert [each.advice for each in found.spans] == ["carry on", "recalibrate"]
    assert found.advice == "recalibrate"


def test_points_that_were_not_measured_never_say_carry_on(unit: Unit) -> None:
    calibration = calibration_by(unit)
    sweep = later(unit, TRUE["short"])
    broken = sweep.reflection.copy()
    broken[:20] = complex("nan")
    found = drift_since(
        calibration,
        "short",
        dataclasses.replace(sweep, reflection=broken),
        spans=((700e6, 800e6), (850e6, 1200e6), (1300e6, 2700e6)),
    )
    assert [each.advice for each in found.spans] == ["not measured", "not measured", "carry on"]


def test_another_grid_within_the_calibration_will_do(unit: Unit, new_unit: type[Unit]) -> None:
    calibration = calibration_by(unit)
    fine = new_unit(seed=9, request=(type(REQUEST[0])(800e6, 2600e6, 333),))
    true = KIT.standards["short"].reflection(fine.frequency_hz)
    found: Drift = drift_since(calibration, "short", later(fine, true))
    assert found.advice == "carry on"
    assert found.change.shape == (333,)


def test_what_shows_no_drift_is_refused(unit: Unit) -> None:
    calibration = calibration_by(unit)
    with pytest.raises(CalibrationError, match="before the calibration"):
        drift_since(calibration, "short", later(unit, TRUE["short"], -5))
    with pytest.raises(CalibrationError, match="has no attenuator"):
        drift_since(calibration, "attenuator", later(unit, TRUE["short"]))
