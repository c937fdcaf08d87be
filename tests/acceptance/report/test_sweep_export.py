"""What leaves in other forms comes back as it was."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from acceptance.record.acceptance_record import touchstone_of
from acceptance.record.examination import examine
from acceptance.report.sweep_export import COLUMNS, as_csv, as_object
from acquire.sweep import Plane, Source, Sweep
from acquire.touchstone.reader import parse_touchstone
from tests.acceptance.made import accepted

SOURCE = Source("virtual", "invented unit", "prompted-pairs", "virtual:")
PARTS = st.floats(-1.5, 1.5, allow_subnormal=False)
REFLECTIONS = st.integers(2, 40).flatmap(
    lambda n: arrays(np.float64, (2, n), elements=PARTS).map(lambda p: p[0] + 1j * p[1])
)


def sweep_of(reflection: np.ndarray, plane: Plane = Plane.CONNECTOR) -> Sweep:
    f = 700e6 + 1e6 * np.arange(reflection.size)
    at = datetime(2026, 5, 1, 12, tzinfo=UTC)
    return Sweep(f, reflection, plane, at, 3, SOURCE, ())


@given(REFLECTIONS)
def test_touchstone_csv_json_and_network_give_every_digit_back(reflection: np.ndarray) -> None:
    sweep = sweep_of(reflection)
    file = parse_touchstone(touchstone_of(sweep, "weir-3", "bandwright"), "x.s1p").reading
    np.testing.assert_array_equal(file.reflection, reflection)
    np.testing.assert_array_equal(file.frequency_hz, sweep.frequency_hz)
    rows = list(csv.DictReader(io.StringIO(as_csv(sweep))))
    again = [complex(float(row["real"]), float(row["imaginary"])) for row in rows]
    np.testing.assert_array_equal(again, reflection)
    object_ = json.loads(json.dumps(as_object(sweep), allow_nan=False))
    np.testing.assert_array_equal(
        np.array(object_["real"]) + 1j * np.array(object_["imaginary"]), reflection
    )
    network = sweep.to_network()
    np.testing.assert_array_equal(network.s[:, 0, 0], reflection)
    np.testing.assert_array_equal(network.f, sweep.frequency_hz)


def test_a_csv_says_the_match_in_every_way_of_the_trade() -> None:
    """|G| 1/3: VSWR 2, 9.542 dB, 100 ohm [derived; Pozar, memory]."""
    (row, _) = csv.DictReader(io.StringIO(as_csv(sweep_of(np.array([1 / 3, 0.1], complex)))))
    assert tuple(row) == COLUMNS
    assert float(row["vswr"]) == pytest.approx(2.0)
    assert float(row["return_loss_db"]) == pytest.approx(9.5424, abs=1e-4)
    assert float(row["resistance_ohm"]) == pytest.approx(100.0)
    assert row["return_loss_low_db"] == ""


def test_scikit_rf_s_network_agrees_on_the_match() -> None:
    """The independent reference: skrf.Network [run]."""
    sweep = sweep_of(np.array([0.3 + 0.1j, -0.2j, 0.05]))
    network = sweep.to_network()
    rows = list(csv.DictReader(io.StringIO(as_csv(sweep))))
    np.testing.assert_allclose([float(r["vswr"]) for r in rows], network.s_vswr[:, 0, 0])
    np.testing.assert_allclose([-float(r["return_loss_db"]) for r in rows], network.s_db[:, 0, 0])
    np.testing.assert_allclose([float(r["resistance_ohm"]) for r in rows], network.z_re[:, 0, 0])
    assert isinstance(network, skrf.Network)


def test_raw_readings_have_no_impedance_and_missing_points_no_numbers() -> None:
    sweep = sweep_of(np.array([0.3 + 0.1j, complex(np.nan, np.nan)]), Plane.RAW)
    first, second = csv.DictReader(io.StringIO(as_csv(sweep)))
    assert first["resistance_ohm"] == ""
    assert [second[name] for name in COLUMNS[1:]] == [""] * (len(COLUMNS) - 1)
    assert as_object(sweep)["real"] == [0.3, None]


def test_the_interval_stands_beside_the_reading() -> None:
    result = examine(accepted()).conditions[0]
    rows = list(csv.DictReader(io.StringIO(as_csv(result.corrected, result.interval))))
    low, high = result.interval.return_loss_db
    for row, least, most in zip(rows, low, high, strict=True):
        assert float(row["return_loss_low_db"]) == least
        assert row["return_loss_high_db"] == (repr(float(most)) if np.isfinite(most) else "")
    object_ = as_object(result.corrected, result.interval, result.verdict)
    assert object_["verdict"] == result.verdict.answer()
    assert object_["invented"] is True


def test_drawing_the_exported_causes_gives_the_exported_covariance() -> None:
    """What a program does that knows nothing but the file: draw each cause by its law, and see."""
    result = examine(accepted()).conditions[0]
    told = json.loads(json.dumps(as_object(result.corrected, result.interval), allow_nan=False))
    rows = list(csv.DictReader(io.StringIO(as_csv(result.corrected, result.interval))))
    rng = np.random.default_rng(1)
    draws, at = 100_000, len(rows) // 2
    error = np.zeros(draws, dtype=complex)
    for each in told["causes"]:
        phase = np.exp(2j * np.pi * rng.uniform(size=draws))
        drawn = {
            "bounded, phase unknown": phase,
            "bounded, direction known": phase.real,
            "normal, complex": rng.standard_normal((draws, 2)) @ [1, 1j],
        }[each["law"]]
        error += (each["real"][at] + 1j * each["imaginary"][at]) * drawn
    seen = np.cov(error.real, error.imag)
    size = np.trace(seen)
    for name, value in (
        ("variance_real", seen[0, 0]),
        ("covariance_real_imaginary", seen[0, 1]),
        ("variance_imaginary", seen[1, 1]),
    ):
        assert float(rows[at][name]) == told[name][at]
        assert told[name][at] == pytest.approx(value, abs=0.02 * size)
    assert {each["cause"] for each in told["causes"]} >= {"the load", "open and short", "noise"}
    assert any(each["every_point"] and each["every_reading"] for each in told["causes"])
