"""A calibration corrects sweeps of its own unit, on its own frequencies, and nothing else."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from acquire.sweep import Plane, Source, SweepRequest
from calibration.capture.standard_capture import StandardReading
from calibration.errors import CalibrationError, OtherAnalyzerError, RangeError, StandardError
from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration, calibrate

SPANS = ((700e6, 2700e6),)


def calibrated(unit: Any, **changes: Any) -> Calibration:
    kit = load_kit("n-plug-50")
    readings = [
        StandardReading(
            name, unit.frequency_hz, unit.raw(standard.reflection(unit.frequency_hz)), 8, None
        )
        for name, standard in kit.standards.items()
    ]
    given = {
        "source": unit.source,
        "request": unit.request,
        "spans": SPANS,
        "taken_at": datetime(2025, 6, 1, tzinfo=UTC),
        "software": "test",
    }
    return calibrate(kit, changes.pop("readings", readings), **(given | changes))


def test_a_corrected_sweep_is_at_the_connector_and_else_the_same(unit: Any) -> None:
    calibration = calibrated(unit)
    raw = unit.sweep(0.2 - 0.1j)
    corrected = calibration.correct(raw)
    assert corrected.plane is Plane.CONNECTOR
    assert (corrected.sequence, corrected.taken_at, corrected.source, corrected.request) == (
        raw.sequence,
        raw.taken_at,
        raw.source,
        raw.request,
    )
    np.testing.assert_allclose(corrected.reflection, 0.2 - 0.1j, atol=2e-3)
    assert raw.plane is Plane.RAW


def test_a_sweep_on_other_points_is_corrected_by_interpolated_terms(
    unit: Any, new_unit: Callable[..., Any]
) -> None:
    """241 points asked, 241 come back: a careless solver returned 41 [run, scikit-rf 2.2.0]."""
    calibration = calibrated(unit)
    other = new_unit(request=[SweepRequest(801e6, 2583e6, 241)])
    corrected = calibration.correct(other.sweep(0.2 - 0.1j))
    assert corrected.points == 241
    np.testing.assert_allclose(corrected.reflection, 0.2 - 0.1j, atol=2e-3)
    calibration.fits(other.source, other.request)


def test_points_off_by_a_thousandth_of_a_hertz_are_the_same_points(unit: Any) -> None:
    calibration = calibrated(unit)
    raw = unit.sweep(0.2)
    off = dataclasses.replace(raw, frequency_hz=raw.frequency_hz + 0.001)
    np.testing.assert_array_equal(
        calibration.correct(off).reflection, calibration.correct(raw).reflection
    )


def test_a_sweep_beyond_the_calibration_is_refused(unit: Any, new_unit: Callable[..., Any]) -> None:
    calibration = calibrated(unit)
    wide = new_unit(request=[SweepRequest(600e6, 2700e6, 201)])
    for refused in (
        lambda: calibration.correct(wide.sweep(0.2)),
        lambda: calibration.fits(wide.source, wide.request),
    ):
        with pytest.raises(RangeError, match="600 MHz was not calibrated"):
            refused()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"analyzer": "weir-3 bench"}, "'mill-lane-7 bench' then, 'weir-3 bench' now"),
        ({"profile": "another"}, "the profile 'invented' then, with 'another' now"),
        ({"analyzer_corrected": True}, "without the analyzer's own correction then, with"),
        ({"kind": "port"}, "the virtual bench then, an analyzer at a port now"),
    ],
)
def test_readings_of_another_unit_are_refused(
    unit: Any, change: dict[str, Any], words: str
) -> None:
    calibration = calibrated(unit)
    source = dataclasses.replace(unit.source, **change)
    sweep = dataclasses.replace(unit.sweep(0.2), source=source)
    for refused in (
        lambda: calibration.correct(sweep),
        lambda: calibration.fits(source, unit.request),
    ):
        with pytest.raises(OtherAnalyzerError, match=words):
            refused()


def test_the_port_may_change_its_name(unit: Any) -> None:
    moved = dataclasses.replace(unit.source, port="virtual:elsewhere")
    calibrated(unit).fits(moved, unit.request)


def test_over_a_units_own_correction_only_the_same_points_hold(
    new_unit: Callable[..., Any],
) -> None:
    own = Source("port", "mill-lane-7 bench", "invented", "port", analyzer_corrected=True)
    unit, other = new_unit(source=own), new_unit(source=own, request=[SweepRequest(8e8, 9e8, 51)])
    calibration = calibrated(unit)
    calibration.correct(unit.sweep(0.2))
    with pytest.raises(OtherAnalyzerError, match="corrects its readings itself"):
        calibration.correct(other.sweep(0.2))


def test_a_sweep_corrected_already_is_not_corrected_again(unit: Any) -> None:
    calibration = calibrated(unit)
    with pytest.raises(CalibrationError, match="at the connector plane already"):
        calibration.correct(calibration.correct(unit.sweep(0.2)))


def test_points_not_measured_stay_so(unit: Any) -> None:
    raw = unit.raw(0.2)
    raw[7] = np.nan
    corrected = calibrated(unit).correct(unit.stamped(raw))
    assert np.flatnonzero(~np.isfinite(corrected.reflection)).tolist() == [7]


def test_readings_that_do_not_belong_together_are_refused(unit: Any) -> None:
    f = unit.frequency_hz
    good = StandardReading("open", f, unit.raw(1.0), 8, None)
    other = StandardReading("short", f + 1e6, unit.raw(-1.0), 8, None)
    with pytest.raises(StandardError, match="other frequencies than the open"):
        calibrated(unit, readings=[good, other])
    with pytest.raises(CalibrationError, match="no place for this open"):
        calibrated(unit, readings=[good, good])
    with pytest.raises(CalibrationError, match="no place for this thru"):
        calibrated(unit, readings=[dataclasses.replace(good, name="thru")])
    with pytest.raises(ValueError, match="time zone"):
        calibrated(unit, taken_at=datetime(2025, 6, 1))  # noqa: DTZ001
