"""A cable that nobody said lies between is told from what an antenna does by itself."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from acceptance.verdict.undeclared_cable import cable_between, usual_length_m
from acquire.sweep import ComplexArray, FloatArray
from replay.virtual_bench.antenna import GOOD_SETTING
from replay.virtual_bench.pigtails import PIGTAILS
from tests.counts import LONG

WIDE = np.linspace(600e6, 1000e6, 201)
BANDS = np.r_[np.linspace(0.69e9, 0.97e9, 120), np.linspace(1.7e9, 1.9e9, 90)]


def random_antenna(f: FloatArray, rng: np.random.Generator) -> ComplexArray:
    """One to three resonances across the port, Q 4 to 40, 10 to 200 ohm each: invented."""
    admittance = np.zeros(f.size, dtype=complex)
    for _ in range(rng.integers(1, 4)):
        q, f0, ohm = rng.uniform(4, 40), rng.uniform(f[0], f[-1]), rng.uniform(10, 200)
        admittance += 1 / (ohm * (1 + 1j * q * (f / f0 - f0 / f)))
    return (1 - 50 * admittance) / (1 + 50 * admittance)


def noisy(g: ComplexArray, rng: np.random.Generator) -> ComplexArray:
    return g + 1e-3 * (rng.standard_normal((g.size, 2)) @ [1, 1j])


@pytest.mark.parametrize("f", [WIDE, BANDS], ids=["wide", "bands"])
def test_no_antenna_by_itself_is_taken_for_a_cable(f: FloatArray) -> None:
    rng = np.random.default_rng(1)
    for _ in range(2000 if LONG else 200):
        assert cable_between(f, noisy(random_antenna(f, rng), rng)) == 0


@pytest.mark.parametrize("delay_ns", [5.0, 15.0, 40.0])
@pytest.mark.parametrize("f", [WIDE, BANDS], ids=["wide", "bands"])
def test_an_antenna_behind_a_cable_tells_its_length(f: FloatArray, delay_ns: float) -> None:
    """Nearly always: an antenna matched over most of the sweep sends back too little."""
    rng = np.random.default_rng(2)
    cable = np.exp(-4j * np.pi * f * delay_ns * 1e-9) * 10 ** (-2 * 0.1 * delay_ns / 20)
    told = [
        cable_between(f, noisy(0.03 + cable * random_antenna(f, rng), rng)) * 1e9
        for _ in range(100)
    ]
    right = [each for each in told if each]
    assert len(right) >= 75
    assert all(abs(each - delay_ns) < 0.25 * delay_ns + 1 for each in right)


@pytest.mark.parametrize(
    ("pigtail", "metres"), [(None, 0), ("good", 0), ("lossy", 3.2), ("wrong", 1.7)]
)
def test_the_bench_s_pigtails(pigtail: str | None, metres: float) -> None:
    """2 m of 75 ohm cable at a velocity factor of .81 are as long as 1.7 m at .69 [derived]."""
    g = GOOD_SETTING.reflection(BANDS)
    seen = g if pigtail is None else PIGTAILS[pigtail].seen(g, BANDS)
    assert usual_length_m(cable_between(BANDS, seen)) == pytest.approx(metres, rel=0.3)


def test_measured_cables_are_told_and_a_measured_antenna_and_loads_are_not() -> None:
    """40 to 200 MHz, an antenna, two loads and two long cables: the radiometer set's answers."""
    folder = os.environ.get("BANDWRIGHT_MEASURED", "")
    if not Path(folder or "nowhere").is_dir():
        pytest.skip("BANDWRIGHT_MEASURED is not set: published in edges-collab/edges-analysis")
    told = {}
    for name in ("ant", "amb", "hot", "open", "short"):
        path = Path(folder) / "radiometer_antenna_2022" / f"answer_{name}.csv"
        rows = [row for row in path.read_text().splitlines() if row[:1].isdigit()]
        f, real, imaginary = np.array([row.split(",") for row in rows], dtype=float).T
        told[name] = cable_between(1e6 * f, real + 1j * imaginary) * 1e9
    assert told == {
        "ant": 0,
        "amb": 0,
        "hot": 0,
        "open": pytest.approx(13.1, abs=0.3),
        "short": pytest.approx(13.1, abs=0.3),
    }


def test_what_tells_nothing_is_no_cable() -> None:
    rng = np.random.default_rng(3)
    assert cable_between(WIDE, noisy(np.zeros(WIDE.size, complex), rng)) == 0
    assert cable_between(WIDE, np.full(WIDE.size, np.nan + 0j)) == 0
    few = np.linspace(800e6, 830e6, 11)
    assert cable_between(few, np.exp(-4j * np.pi * few * 20e-9)) == 0
    holes = np.exp(-4j * np.pi * WIDE * 15e-9)
    holes[::40] = np.nan
    assert cable_between(WIDE, holes) == pytest.approx(15e-9, rel=1e-3)
