"""The budget against a general library for uncertain complex numbers, on one worked case.

GTC (PyPI, Measurement Standards Laboratory of New Zealand) carries uncertain complex numbers
through any calculation. Here it solves the three error terms from uncertain readings and uncertain
standards, in closed form, and corrects a device; ours must say the same of each input's weight and
of the sum.

The worked case is section 1's vector [run, scikit-rf and numpy agree]: ED .06-.05j, ES .10+.08j,
ER .85-.20j, device 0.2 at 40 degrees.
"""

from __future__ import annotations

import cmath
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import GTC  # type: ignore[import-untyped]  # it ships no types
import numpy as np
import pytest

from acquire.sweep import ComplexArray, Reading, Source
from calibration.calibration_budget import budget_of
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import ErrorTerms, correct, embed
from calibration.one_port_calibration import Calibration, calibrate
from calibration.standards.kit import Kit
from calibration.standards.standard import DataStandard
from calibration.uncertainty.budget import Assumptions, Budget, Contribution
from calibration.uncertainty.interval import interval
from calibration.uncertainty.sensitivity import lagrange, through_terms


def row(*values: complex) -> ComplexArray:
    """Values by frequency."""
    return np.array(values, dtype=np.complex128)


ONE = np.ones(1)
TERMS = ErrorTerms(1e9 * ONE, row(0.06 - 0.05j), row(0.10 + 0.08j), row(0.85 - 0.20j))
ACTUAL = {"open": row(1), "short": row(-1), "load": row(0)}
DEVICE = cmath.rect(0.2, np.deg2rad(40))
DEFINITION = {"open": 0.004, "short": 0.003, "load": 0.0316}
"""Standard deviation of each component of what the standards truly reflect."""
NOISE = 4e-4
"""Of each component of a raw reading."""


def raw(reflection: complex) -> complex:
    return complex(embed(TERMS, np.array([reflection]))[0])


def corrected_by_gtc() -> tuple[Any, dict[str, Any], dict[str, Any]]:
    """The device by GTC; its inputs, the standards and the readings, by name."""
    standards = {
        name: GTC.ucomplex(complex(value[0]), DEFINITION[name], label=name)
        for name, value in ACTUAL.items()
    }
    readings = {
        name: GTC.ucomplex(raw(complex(value[0])), NOISE, label=f"reading of {name}")
        for name, value in ACTUAL.items()
    }
    readings["device"] = GTC.ucomplex(raw(DEVICE), NOISE, label="reading of the device")
    return solved_by_gtc(standards, readings), standards, readings


def solved_by_gtc(standards: Mapping[str, Any], readings: Mapping[str, Any]) -> Any:
    """The device's reflection, from uncertain standards and readings."""
    # t11 a + t12 - t21 a m = m at each standard, by Cramer's rule
    (a1, m1), (a2, m2), (a3, m3) = ((standards[n], readings[n]) for n in ("open", "short", "load"))
    b1, b2, b3 = a1 * m1, a2 * m2, a3 * m3
    determinant = (a1 - a3) * (b3 - b2) - (a2 - a3) * (b3 - b1)
    t11 = ((m1 - m3) * (b3 - b2) - (m2 - m3) * (b3 - b1)) / determinant
    t21 = ((a1 - a3) * (m2 - m3) - (a2 - a3) * (m1 - m3)) / determinant
    t12 = m3 - t11 * a3 + t21 * b3
    beyond = readings["device"] - t12
    return beyond / (t11 - t21 * readings["device"])


def budget() -> Budget:
    """The same inputs as contributions: what our own code would make of them."""
    weights = lagrange(TERMS, ACTUAL)
    through = through_terms(TERMS)[0]
    parts: dict[str, ComplexArray] = {
        f"{name}'s definition": DEFINITION[name] * weight for name, weight in weights.items()
    }
    for name, weight in weights.items():
        referred = (1 - TERMS.source_match * ACTUAL[name]) ** 2 / TERMS.reflection_tracking
        parts[f"noise in {name}"] = NOISE * referred * weight
    parts["noise in this reading"] = NOISE * through
    return Budget(
        TERMS.frequency_hz,
        tuple(Contribution(name, "stated", "", False, part) for name, part in parts.items()),
    )


def test_the_case_is_the_published_one() -> None:
    """Device reads 0.214635193+0.032933061j [run]."""
    assert raw(DEVICE) == pytest.approx(0.214635193 + 0.032933061j, abs=1e-9)
    device, _, _ = corrected_by_gtc()
    assert GTC.value(device) == pytest.approx(DEVICE, abs=1e-12)


@pytest.mark.parametrize("name", ["open", "short", "load"])
def test_each_standard_weighs_as_gtc_says(name: str) -> None:
    """dG/dA: GTC's by automatic differentiation, ours Lagrange's polynomial, to 1e-9."""
    device, standards, readings = corrected_by_gtc()
    e0, e1, e2 = -lagrange(TERMS, ACTUAL)[name][:, 0]
    ours = -(e0 + e1 * DEVICE + e2 * DEVICE**2)
    assert derivative(device, standards[name]) == pytest.approx(ours, rel=1e-9)
    a = complex(ACTUAL[name][0])
    referred = (1 - 0.10 * a - 0.08j * a) ** 2 / (0.85 - 0.20j)
    assert derivative(device, readings[name]) == pytest.approx(-referred * ours, rel=1e-9)


def test_the_reading_s_own_noise_weighs_as_gtc_says() -> None:
    device, _, readings = corrected_by_gtc()
    e0, e1, e2 = through_terms(TERMS)[0][:, 0]
    ours = e0 + e1 * DEVICE + e2 * DEVICE**2
    assert derivative(device, readings["device"]) == pytest.approx(ours, rel=1e-9)


def test_the_whole_is_as_uncertain_along_the_reading_as_gtc_says() -> None:
    """Standard uncertainty of |G|: GTC's of magnitude(G), ours half of the 95 % interval / 1.96.

    To first order both are the same; the interval is worked out to second order, hence 0.1 %.
    """
    device, _, _ = corrected_by_gtc()
    theirs = GTC.uncertainty(GTC.magnitude(device))
    squares = [each.size(np.array([DEVICE]))[0] ** 2 for each in budget().contributions]
    assert np.sqrt(sum(squares)) == pytest.approx(theirs, rel=1e-6)
    found = interval(budget(), np.array([DEVICE]))
    half = (found.high[0] - found.low[0]) / 2
    assert half / 1.959964 == pytest.approx(theirs, rel=1e-3)


# Three frequencies: section 1's vector in the middle, other terms and real standards around it.
BENCH = ErrorTerms(
    np.array([0.5e9, 1.0e9, 1.5e9]),
    row(0.02 + 0.11j, 0.06 - 0.05j, -0.13 + 0.04j),
    row(-0.16 + 0.05j, 0.10 + 0.08j, 0.03 - 0.20j),
    row(0.70 + 0.35j, 0.85 - 0.20j, 0.40 - 0.55j),
)
KNOWN = {
    "open": row(0.98 * cmath.exp(0.4j), 1, 0.97 * cmath.exp(-0.4j)),
    "short": row(-0.99 * cmath.exp(0.3j), -1, -0.96 * cmath.exp(-0.3j)),
    "load": row(0.03 - 0.02j, 0, -0.02 + 0.05j),
}
BOUND = {"open": 0.004, "short": 0.003, "load": 0.0316}
"""`error` of each standard's data: bounded, phase unknown."""
SCATTER = {"open": 8e-4, "short": 6e-4, "load": 5e-4}
"""Raw, rms of one sweep."""
STUDENT_8 = 2.365 / 1.96
"""Of 8 sweeps, 7 degrees of freedom: t at 97.5 % over the normal law, as tables print them."""


def bench() -> Calibration:
    f = BENCH.frequency_hz
    standards = {
        name: DataStandard(name, Reading(f, values), "the case", BOUND[name])  # type: ignore[arg-type]
        for name, values in KNOWN.items()
    }
    readings = [
        StandardReading(name, f, embed(BENCH, values), 8, np.full(f.size, SCATTER[name]))
        for name, values in KNOWN.items()
    ]
    return calibrate(
        Kit("case", "case", "none", "invented", standards),
        readings,
        source=Source("virtual", "invented", "invented", "virtual:"),
        request=(),
        spans=((0.5e9, 1.5e9),),
        taken_at=datetime(2026, 5, 1, tzinfo=UTC),
        software="test",
    )


@pytest.mark.parametrize("at", [0, 1, 2])
@pytest.mark.parametrize("device", [0j, DEVICE, -0.7 + 0.4j], ids=["nothing", "0.2", "0.8"])
def test_the_budget_of_a_calibration_is_what_gtc_makes_of_its_inputs(
    at: int, device: complex
) -> None:
    """Each contribution and their root-sum-square, through `calibrate` and `budget_of`.

    A bound of unknown phase has a standard deviation of bound / sqrt2 in each component [derived:
    mean of cos^2]; a complex scatter of rms s over n sweeps s / sqrt(2 n). To 1e-6, relative.
    """
    calibration = bench()
    budget = budget_of(calibration, Assumptions(connection=0.0, cable=0.0), sweeps=4)
    raw_device = complex(embed(BENCH, np.full(3, device))[at])
    standards = {
        name: GTC.ucomplex(complex(values[at]), BOUND[name] / np.sqrt(2))
        for name, values in KNOWN.items()
    }
    readings = {
        name: GTC.ucomplex(
            complex(embed(BENCH, values)[at]), STUDENT_8 * SCATTER[name] / np.sqrt(2 * 8)
        )
        for name, values in KNOWN.items()
    }
    level = np.sqrt(np.mean(np.square(list(SCATTER.values()))))
    readings["device"] = GTC.ucomplex(raw_device, level / np.sqrt(2 * 4))
    theirs = solved_by_gtc(standards, readings)
    found = complex(correct(calibration.terms, np.full(3, raw_device))[at])
    assert GTC.value(theirs) == pytest.approx(found, abs=1e-12)
    inputs = {
        **{f"the {name}'s definition": each for name, each in standards.items()},
        **{f"noise in the {name}": readings[name] for name in standards},
        "noise in this reading": readings["device"],
    }
    total = 0.0
    at_all = np.full(3, found)
    for each in budget.contributions:
        size = float(each.size(at_all)[at]) / (np.sqrt(2) if each.bounded else 1)
        total += size**2
        if each.name not in inputs:
            assert size == 0, each.name
            continue
        component = GTC.rp.u_component(theirs, inputs[each.name])
        sensed = abs(complex(component.rr, component.ir))
        assert size == pytest.approx(sensed, rel=1e-6, abs=1e-15), each.name
    assert {each.name for each in budget.contributions} >= set(inputs)
    if device == 0:
        one_component = GTC.uncertainty(theirs.real)
    else:
        one_component = GTC.uncertainty(GTC.magnitude(theirs))
        told = interval(budget, at_all)
        covers = (told.high[at] - told.low[at]) / 2 / one_component
        # between one phasor's 1.41 and a normal law's 1.96, with the sum's margin of 4 %
        assert 1.41 < covers < 1.96 * 1.04
    assert np.sqrt(total) == pytest.approx(one_component, rel=1e-6)


def derivative(result: Any, source: Any) -> complex:
    """dresult/dsource of an analytic function, from GTC's matrix of real sensitivities."""
    matrix = GTC.rp.sensitivity(result, source)
    assert matrix.rr == pytest.approx(matrix.ii, rel=1e-9, abs=1e-12)
    assert matrix.ir == pytest.approx(-matrix.ri, rel=1e-9, abs=1e-12)
    return complex(matrix.rr, matrix.ir)
