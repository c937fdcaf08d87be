"""A standard put back after a sweep finds what changed in between, and seldom what did not.

The bench is told here as two-ports in a row, with its own numbers: analyzer, test cable, the joint
at its far end, what is on. Nothing of the bound is used to make it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from acquire.sweep import ComplexArray, Plane, Source, Sweep
from calibration.capture.standard_capture import StandardReading
from calibration.errors import CalibrationError
from calibration.evidence import ConnectionRepeats
from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration, calibrate
from calibration.uncertainty.budget import Assumptions
from calibration.verification.put_back import PutBack, put_back, standards_to_put_back
from tests.counts import LONG, QUICK
from tests.wording import missing_words

F = np.linspace(0.7e9, 2.7e9, 161)
GHZ = F / 1e9
MADE = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
SOURCE = Source("virtual", "told as two-ports", "invented", "virtual:")
KIT = load_kit("3.5mm-plug-50")
HONEST = 1000 if LONG else 60 if QUICK else 300
MOST_REFUSED = {1000: 5, 300: 3, 60: 1}
"""1 in 200, and what chance makes of it in fewer [derived: binomial law]."""


@dataclass(frozen=True)
class Fault:
    """What is another than while calibrating."""

    loss_db: float = 0.0
    """Of the test cable, one way, at 1 GHz."""
    longer_s: float = 0.0
    series_ohm: float = 0.0
    series_h: float = 0.0
    """Of the joint at the cable's far end."""
    tracking: float = 0.0


@dataclass
class Bench:
    """One analyzer and its cable, with a person who tightens joints by hand."""

    rng: np.random.Generator
    joint: float
    """rms of one making, linear, at 2.7 GHz."""
    noise: float = 5e-4
    fault: Fault = field(default_factory=Fault)

    def __post_init__(self) -> None:
        self.directivity, self.match = (
            size * np.exp(2j * np.pi * (self.rng.uniform() - F * delay))
            for size, delay in ((0.1, 0.4e-9), (0.12, 0.3e-9))
        )
        self.way = 0.8 * np.exp(-4j * np.pi * F * 0.6e-9) * 10 ** (-0.012 * np.sqrt(GHZ))
        self.wander = np.zeros((3, 1))

    def drift(self, hours: float) -> None:
        """Within what is assumed of it: each term wanders by itself."""
        most = 0.002 * hours * np.array([[0.5], [1], [1]])
        phase = np.exp(2j * np.pi * self.rng.uniform(size=(3, 1)))
        self.wander = most * np.sqrt(self.rng.uniform(size=(3, 1))) * phase

    def read(self, true: ComplexArray) -> ComplexArray:
        """Connected by hand and swept once, raw."""
        fault = self.fault
        z = fault.series_ohm / 50 + 2j * np.pi * F * fault.series_h / 50
        a = true + z * (1 - true) ** 2 / 2 / (1 + z * (1 - true) / 2)  # z in series
        a = a + self.joint / np.sqrt(2) * GHZ / 2.7 * complex(*self.rng.standard_normal(2))
        lost = 10 ** (-2 * fault.loss_db * np.sqrt(GHZ) / 20)
        lost = lost * np.exp(-4j * np.pi * F * fault.longer_s)
        cable = 1 + 0.002 * GHZ * np.exp(2j * np.pi * self.rng.uniform()) * self.rng.uniform()
        d, t, m = self.wander
        a = a * lost * cable * (1 + fault.tracking + t)
        ideal = self.way * a / (1 - (self.match + m) * a)
        noise = self.noise * _normal(self.rng) / np.sqrt(2)
        raw: ComplexArray = self.directivity + d + ideal + noise
        return raw

    def calibration(self) -> Calibration:
        quiet = np.full(F.size, self.noise)
        true = {name: each.reflection(F) for name, each in KIT.standards.items()}
        true["load"] = true["load"] + 0.03 * np.exp(2j * np.pi * self.rng.uniform())
        readings = [
            StandardReading(name, F, np.mean([self.read(each)] * 8, axis=0), 8, quiet)
            for name, each in true.items()
        ]
        return calibrate(
            KIT, readings, source=SOURCE, request=(), spans=((F[0], F[-1]),), taken_at=MADE,
            software="test",
        )  # fmt: skip

    def sweep(self, true: ComplexArray, hours: float) -> Sweep:
        at = MADE + timedelta(hours=hours)
        return Sweep(F, self.read(true), Plane.RAW, at, 1, SOURCE, ())


def _normal(rng: np.random.Generator) -> ComplexArray:
    real, imaginary = rng.standard_normal((2, F.size))
    found: ComplexArray = real + 1j * imaginary
    return found


def turning(size: float, delay_s: float) -> ComplexArray:
    """A reflection of one size behind so much line, there and back."""
    turned: ComplexArray = size * np.exp(-2j * np.pi * F * delay_s).astype(np.complex128)
    return turned


def found(seed: int, fault: Fault, standard: str = "short") -> PutBack:
    """Calibrated, then so many hours later the standard put back."""
    rng = np.random.default_rng([26, seed])
    bench = Bench(rng, joint=rng.uniform(0.003, 0.01))
    calibration = bench.calibration()
    hours = float(rng.uniform(0.05, 8))
    bench.drift(hours)
    bench.fault = fault
    sweep = bench.sweep(KIT.standards[standard].reflection(F), hours)
    return put_back(calibration, sweep, Assumptions(), swept=int(60 * hours))


@pytest.mark.slow
def test_an_honest_bench_is_refused_in_one_of_two_hundred_at_most() -> None:
    refused = [n for n in range(HONEST) if not found(n, Fault(), ("short", "open")[n % 2]).holds]
    assert len(refused) <= MOST_REFUSED[HONEST], refused


FAULTS: Mapping[str, Fault] = {
    "a cable 0.7 dB lossier": Fault(loss_db=0.7),
    "a cable 2.7 dB lossier": Fault(loss_db=2.7),
    "0.7 dB lossier there and back": Fault(loss_db=0.35),
    "another length too": Fault(loss_db=0.7, longer_s=40e-12),
    "the far nut loose, 1 nH": Fault(series_h=1e-9),
    "the far nut loose, 0.4 nH": Fault(series_h=0.4e-9),
    "the far nut loose, 3 ohm": Fault(series_ohm=3.0),
    "the far nut loose, 1.5 ohm and 0.3 nH": Fault(series_ohm=1.5, series_h=0.3e-9),
    "8 % of tracking": Fault(tracking=0.08),
    "8 % of tracking, less": Fault(tracking=-0.08),
}


@pytest.mark.parametrize("name", FAULTS)
def test_what_changed_is_found(name: str) -> None:
    missed = [n for n in range(20) if found(n, FAULTS[name]).holds]
    assert not missed, missed


@pytest.mark.parametrize("name", [each for each in FAULTS if "nut" not in each])
def test_an_open_finds_what_is_no_joint_as_well(name: str) -> None:
    assert not [n for n in range(20) if found(n, FAULTS[name], "open").holds]


def test_another_cable_s_calibration_is_found() -> None:
    for seed in range(20):
        rng = np.random.default_rng([27, seed])
        one, other = (Bench(rng, joint=0.005) for _ in range(2))
        other.way = other.way * np.exp(-4j * np.pi * F * rng.uniform(20e-12, 2e-9))
        back = other.sweep(KIT.standards["short"].reflection(F), 0.2)
        assert not put_back(one.calibration(), back, Assumptions()).holds


@pytest.fixture
def bench() -> Bench:
    return Bench(np.random.default_rng(5), joint=0.003)


def test_a_load_is_refused_with_the_reason(bench: Bench) -> None:
    calibration = bench.calibration()
    for small in (0.02, 0.1, 0.3):
        with pytest.raises(CalibrationError) as raised:
            put_back(calibration, bench.sweep(turning(small, 1.6e-9), 0.2), Assumptions())
        told = str(raised.value)
        assert not missing_words(told, "load", "tracking", "Put the short (or the open")


def test_what_is_no_standard_is_asked_for_again_and_counts_for_nothing(bench: Bench) -> None:
    calibration = bench.calibration()
    antenna = turning(0.8, 1e-9)
    swept = bench.sweep(antenna, 0.1)
    with pytest.raises(CalibrationError, match="antenna did: it is still on"):
        put_back(calibration, bench.sweep(antenna, 0.2), Assumptions(), antenna=swept)
    with pytest.raises(CalibrationError, match="an empty connector"):
        put_back(calibration, bench.sweep(turning(1.0, 0.6e-12), 0.2), Assumptions())


def test_the_short_is_asked_for_first_and_either_is_known_by_its_reading(bench: Bench) -> None:
    calibration = bench.calibration()
    assert standards_to_put_back(calibration) == ("short", "open")
    for name in ("short", "open"):
        back = bench.sweep(KIT.standards[name].reflection(F), 0.2)
        shown = put_back(calibration, back, Assumptions())
        assert shown.holds
        assert shown.standard == name
        assert ("hides a loose nut" in shown.words) == (name == "open")
        assert not missing_words(shown.words, f"the {name}", "12 min", shown.figures)


def test_one_whole_band_beyond_the_bound_is_enough(bench: Bench) -> None:
    calibration = bench.calibration()
    back = bench.sweep(KIT.standards["short"].reflection(F), 0.2)
    off = np.where((F > 1.8e9) & (F < 1.87e9), 1.15, 1.0)
    shown = put_back(calibration, back.with_reflection(back.reflection * off, Plane.RAW),
                     Assumptions())  # fmt: skip
    assert shown.holds, "six points of 161 are no drift"
    banded = put_back(calibration, back.with_reflection(back.reflection * off, Plane.RAW),
                      Assumptions(), spans=((0.8e9, 0.9e9), (1.81e9, 1.86e9)))  # fmt: skip
    assert not banded.holds


def test_a_connector_that_was_measured_tightens_the_bound(bench: Bench) -> None:
    calibration = bench.calibration()
    true = KIT.standards["short"].reflection(F)
    takes = tuple(
        StandardReading("short", F, bench.read(true), 8, np.full(F.size, 5e-4)) for _ in range(5)
    )
    measured = calibration.with_evidence(
        ConnectionRepeats("short", takes, MADE + timedelta(minutes=5))
    )
    back = bench.sweep(true, 0.2)
    loose, tight = (put_back(each, back, Assumptions()) for each in (calibration, measured))
    assert tight.holds
    assert (tight.allowed < 0.8 * loose.allowed).all()


def test_age_never_explains_eight_percent(bench: Bench) -> None:
    calibration = bench.calibration()
    bench.fault = replace(bench.fault, tracking=0.08)
    shown = put_back(
        calibration, bench.sweep(KIT.standards["short"].reflection(F), 40.0), Assumptions()
    )
    assert not shown.holds
    assert not missing_words(shown.words, "reads otherwise", "calibrate anew", "sweep the antenna")
