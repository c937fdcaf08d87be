"""A calibration from sweeps by name: what it comes to, carries along, and refuses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import skrf

from acquire.sweep import UNKNOWN_TIME, Plane, Sweep
from calibration.errors import (
    CalibrationError,
    KitError,
    OtherAnalyzerError,
    RangeError,
    StandardError,
)
from calibration.files.portable_calibration import (
    ASSUMED_AGE,
    PortableCalibration,
    budget_at_connector,
    calibrate_by_name,
)
from calibration.files.store import load_kit
from calibration.uncertainty.budget import Assumptions
from calibration.verification.reading_budget import ReadingBudget
from tests.calibration.conftest import Unit

KIT = load_kit("3.5mm-plug-50")
ANTENNA = 0.3 - 0.2j


def read(unit: Unit, count: int = 1) -> dict[str, list[Sweep]]:
    """So many sweeps of each standard."""
    return {
        name: [unit.sweep(standard.reflection(unit.frequency_hz)) for _ in range(count)]
        for name, standard in KIT.standards.items()
    }


def as_networks(standards: dict[str, list[Sweep]]) -> dict[str, skrf.Network]:
    return {name: each[0].to_network() for name, each in standards.items()}


def test_what_was_embedded_comes_back(new_unit: Callable[..., Unit]) -> None:
    unit = new_unit(noise=0.0)
    calibration = calibrate_by_name(read(unit), KIT)
    corrected = calibration.correct(unit.sweep(ANTENNA))
    # exact but for rounding, enlarged by the condition number, some 10 [derived]
    assert np.allclose(corrected.reflection, ANTENNA, rtol=0, atol=1e-12)
    assert corrected.plane is Plane.CONNECTOR


def test_networks_do_as_well_as_sweeps(new_unit: Callable[..., Unit]) -> None:
    unit = new_unit(noise=0.0)
    calibration = calibrate_by_name(as_networks(read(unit)), "3.5mm-plug-50")
    corrected = calibration.correct(unit.sweep(ANTENNA).to_network())
    assert np.allclose(corrected.reflection, ANTENNA, rtol=0, atol=1e-12)
    assert calibration.taken_at == UNKNOWN_TIME
    assert calibration.spans == ((unit.frequency_hz[0], unit.frequency_hz[-1]),)


def test_several_sweeps_of_a_standard_are_averaged_and_their_noise_is_known(unit: Unit) -> None:
    calibration = calibrate_by_name(read(unit, 8), KIT)
    for reading in calibration.readings.values():
        assert reading.sweeps == 8
        assert reading.noise is not None
        assert np.median(reading.noise) == pytest.approx(unit.noise, rel=0.2)


def test_sweeps_of_a_standard_that_moved_are_refused(unit: Unit) -> None:
    standards = read(unit)
    standards["short"] = [*standards["short"], unit.sweep(0.5)]
    with pytest.raises(StandardError, match="do not agree") as caught:
        calibrate_by_name(standards, KIT)
    assert caught.value.standard == "short"


def test_the_stated_load_narrows_the_uncertainty_and_is_kept(unit: Unit, tmp_path: Path) -> None:
    raw = unit.sweep(ANTENNA)
    unstated, stated = (
        calibrate_by_name(read(unit), KIT, load_db=load_db) for load_db in (None, 40.0)
    )
    assert (stated.uncertainty(raw).floor < unstated.uncertainty(raw).floor).all()
    stated.save(str(tmp_path / "kept.json"))
    again = PortableCalibration.load(tmp_path / "kept.json")
    assert again.kit.load_return_loss_db == 40.0
    assert np.array_equal(again.uncertainty(raw).high, stated.uncertainty(raw).high)
    assert np.array_equal(again.correct(raw).reflection, stated.correct(raw).reflection)


def test_uncertainty_is_the_same_before_and_after_correcting(unit: Unit) -> None:
    calibration = calibrate_by_name(read(unit), KIT)
    raw = unit.sweep(ANTENNA)
    corrected = calibration.correct(raw)
    kept = ReadingBudget(Assumptions()).interval(calibration, corrected)
    for found in (calibration.uncertainty(raw), calibration.uncertainty(corrected)):
        assert np.array_equal(found.high, kept.high)
        assert np.array_equal(found.low, kept.low)


def test_where_no_time_is_known_drift_counts_for_an_hour(unit: Unit) -> None:
    timed = calibrate_by_name(read(unit), KIT)
    raw = unit.sweep(ANTENNA)
    an_hour_later = replace(timed.correct(raw), taken_at=timed.taken_at + ASSUMED_AGE)
    wanted = budget_at_connector(timed, an_hour_later, Assumptions())
    untimed = calibrate_by_name(as_networks(read(unit)), KIT)
    found = budget_at_connector(untimed, untimed.correct(raw.to_network()), Assumptions())

    def sizes(budget: object, name: str = "drift") -> list[float]:
        return [
            float(np.max(each.size(an_hour_later.reflection)))
            for each in budget.contributions  # type: ignore[attr-defined]
            if each.part == name
        ]

    assert sizes(found) == pytest.approx(sizes(wanted), rel=1e-2)
    assert min(sizes(found)) > 0


def test_a_step_of_range_is_not_interpolated_across(unit: Unit) -> None:
    networks = as_networks(read(unit))
    calibration = calibrate_by_name(networks, KIT, range_steps_hz=[1200e6, 5e9])
    assert calibration.spans == ((700e6, 1200e6), (1200e6, 2700e6))


def test_a_gap_in_a_file_is_not_interpolated_across(unit: Unit) -> None:
    networks = {
        name: network[np.r_[0:50, 100:201]] for name, network in as_networks(read(unit)).items()
    }
    calibration = calibrate_by_name(networks, KIT)
    assert len(calibration.spans) == 2
    with pytest.raises(RangeError):
        calibration.correct(unit.sweep(ANTENNA).to_network())


def test_readings_that_were_corrected_are_no_standards(unit: Unit) -> None:
    standards = read(unit)
    standards["open"] = [replace(each, plane=Plane.CONNECTOR) for each in standards["open"]]
    with pytest.raises(StandardError, match=r"plane=Plane\.RAW"):
        calibrate_by_name(standards, KIT)


def test_standards_of_two_analyzers_are_refused(unit: Unit) -> None:
    standards = read(unit)
    other = replace(unit.source, analyzer="another")
    standards["load"] = [replace(each, source=other) for each in standards["load"]]
    with pytest.raises(OtherAnalyzerError, match="another"):
        calibrate_by_name(standards, KIT)


@pytest.mark.parametrize("left", [{}, {"open": []}])
def test_nothing_read_is_no_calibration(left: dict[str, list[Sweep]]) -> None:
    with pytest.raises(CalibrationError, match="Nothing"):
        calibrate_by_name(left, KIT)


def test_a_kit_that_is_not_there_is_refused_by_its_name(unit: Unit) -> None:
    with pytest.raises(KitError, match="no-such-kit"):
        calibrate_by_name(read(unit), "no-such-kit")


def test_a_sweep_of_another_analyzer_has_no_uncertainty_here(unit: Unit) -> None:
    calibration = calibrate_by_name(read(unit), KIT)
    corrected = calibration.correct(unit.sweep(ANTENNA))
    other = replace(corrected, source=replace(corrected.source, analyzer="another"))
    with pytest.raises(OtherAnalyzerError):
        calibration.uncertainty(other)


def test_what_a_network_does_not_tell_can_be_told(unit: Unit) -> None:
    at = datetime(2026, 5, 1, 14, 5, tzinfo=UTC)
    standards = {
        name: Sweep.from_network(each, taken_at=at + timedelta(minutes=n), analyzer="weir-3")
        for n, (name, each) in enumerate(as_networks(read(unit)).items())
    }
    calibration = calibrate_by_name(standards, KIT)
    assert calibration.taken_at == at + timedelta(minutes=2)
    assert calibration.source.analyzer == "weir-3"
