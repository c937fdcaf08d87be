"""A known device measured back judges the calibration."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from acquire.sweep import ComplexArray, Plane, Reading, Source, Sweep
from calibration.calibration_budget import budget_of
from calibration.errors import CalibrationError, RangeError
from calibration.evidence import KnownDevice
from calibration.files.store import load_kit
from calibration.uncertainty.budget import Assumptions, Budget, Contribution
from calibration.uncertainty.interval import radius
from calibration.verification.device_comparison import Verification, agrees, verify
from calibration.verification.verification_device import (
    RADIAL_95,
    CertifiedDevice,
    EndedLine,
    OwnStandard,
    SmallLoad,
    StatedDevice,
)
from tests.calibration.random_benches import FREQUENCY_HZ, Faults, HiddenBench

WHEN = datetime(2026, 5, 1, 10, 0, tzinfo=UTC)
SOURCE = Source("virtual", "hidden bench", "invented", "virtual:")
LOAD = 10 ** (-30 / 20)
ONES = np.ones(FREQUENCY_HZ.size)


def bench_of(seed: int, load: float = LOAD) -> HiddenBench:
    return HiddenBench(load_kit("3.5mm-plug-50"), Faults(load), np.random.default_rng(seed))


def at_plane(reflection: ComplexArray) -> Sweep:
    return Sweep(FREQUENCY_HZ, reflection, Plane.CONNECTOR, WHEN, 1, SOURCE, ())


def judged(
    bench: HiddenBench, device: KnownDevice, true: ComplexArray, load_db: float | None = 30.0
) -> Verification:
    budget = budget_of(bench.calibration, bench.stated(load_db))
    return verify(bench.calibration, budget, device, at_plane(bench.read(true)))


def certificate(true: ComplexArray, expanded: float = 0.002) -> CertifiedDevice:
    return CertifiedDevice("mismatch 17", Reading(FREQUENCY_HZ, true), expanded)


def only(size: float, *, bounded: bool) -> Budget:
    """One contribution, the same at every reflection."""
    coefficients = np.zeros((3, FREQUENCY_HZ.size), dtype=complex)
    coefficients[0] = size
    return Budget(FREQUENCY_HZ, (Contribution("it", "stated", "", bounded, coefficients),))


def test_the_normalised_error_is_difference_over_both_uncertainties() -> None:
    """|.003 + .004j| / sqrt(.006^2 + .008^2) = .5 [derived]; ISO/IEC 17043's En [memory]."""
    bench = bench_of(1)
    sweep = at_plane(0.2 * ONES + 0.003 + 0.004j)
    device = certificate(0.2 * ONES + 0j, 0.008)
    found = verify(bench.calibration, only(0.006, bounded=True), device, sweep)
    np.testing.assert_allclose(found.normalised, 0.5, rtol=1e-6)
    assert found.passed
    assert found.share_inside == 1
    assert "En 0.50" in found.words


def test_a_random_part_counts_2_45_times_for_a_complex_difference() -> None:
    """sqrt(-2 ln 0.05) = 2.4477 [derived]; k = 2 would cover 86 %."""
    found = radius(only(0.001, bounded=False), 0.1 * ONES + 0j)
    np.testing.assert_allclose(found, 2.4477e-3, rtol=1e-4)
    assert pytest.approx(2.4477, rel=1e-4) == RADIAL_95
    assert 1 - np.exp(-(2**2) / 2) == pytest.approx(0.86, abs=0.005)


@pytest.mark.slow
@pytest.mark.parametrize("true_db", [10.0, 20.0, 35.0])
def test_an_honest_calibration_passes_nearly_always(true_db: float) -> None:
    """60 benches of hidden faults within what was stated."""
    true = 10 ** (-true_db / 20) * np.exp(-2j * np.pi * FREQUENCY_HZ * 0.2e-9)
    passed = sum(judged(bench_of(seed), certificate(true), true).passed for seed in range(60))
    assert passed >= 55


def test_a_load_far_worse_than_stated_is_found_out() -> None:
    true = 0.2 * np.exp(-2j * np.pi * FREQUENCY_HZ * 0.2e-9)
    found = [judged(bench_of(seed, load=0.12), certificate(true), true) for seed in range(20)]
    assert not any(each.passed for each in found)
    assert "do not agree" in found[0].words


def test_a_device_of_unknown_phase_is_compared_by_size_alone() -> None:
    """VSWR 1.5 +/- .05: |G| from .1837 to .2157 [derived]."""
    device = StatedDevice.from_vswr("mismatch", 1.5, 0.05)
    np.testing.assert_allclose([device.least, device.most], [0.45 / 2.45, 0.55 / 2.55], rtol=1e-14)
    true = 0.2 * np.exp(-2j * np.pi * FREQUENCY_HZ * 1.7e-9)
    found = judged(bench_of(2), device, true)
    assert found.passed
    assert "sizes alone" in found.words
    assert not judged(bench_of(2), device, 2 * true).passed


def test_a_device_may_be_stated_by_return_loss() -> None:
    device = StatedDevice.from_return_loss("10 dB pad, open", 20.0, 1.0)
    np.testing.assert_allclose([device.least, device.most], [10**-1.05, 10**-0.95], rtol=1e-14)


def test_a_short_behind_an_offset_turns_with_frequency() -> None:
    """c / 4 f of air turns a short into an open [derived]."""
    device = EndedLine(name="offset short", kind="short", delay_ps=250.0, loss_db=0.5)
    found = device.reflection(np.array([0.0, 1e9]))
    np.testing.assert_allclose(found, [-(10**-0.05), 10**-0.05], atol=1e-12)
    f = np.array([2e9])
    sharp = EndedLine(name="s", kind="short", delay_ps=0, plane_ps=2.0, loss_tolerance_db=0,
                      match_return_loss_db=200)  # fmt: skip
    # 4 pi 2e9 * 2 ps = 50.3 mrad [derived]
    np.testing.assert_allclose(sharp.uncertainty(f), 0.0503, rtol=1e-3)


def test_an_attenuator_s_own_reflection_is_inside_the_stated_uncertainty() -> None:
    """An exact two-port: G = s11 + s21^2 g / (1 - s22 g), phases drawn."""
    device = EndedLine(name="pad", kind="open", delay_ps=0.0, plane_ps=0.0, loss_db=3.0,
                       loss_tolerance_db=0.0, match_return_loss_db=30.0)  # fmt: skip
    f = np.array([1e9])
    turns = np.exp(2j * np.pi * np.random.default_rng(4).uniform(size=(2, 20_000)))
    s11, s22 = 10**-1.5 * turns
    exact = s11 + 10**-0.3 / (1 - s22)
    miss = np.abs(exact - device.reflection(f)[0])
    assert miss.max() <= 1.01 * device.uncertainty(f)[0]
    assert miss.max() > 0.8 * device.uncertainty(f)[0]


def test_without_the_delay_only_the_size_is_known() -> None:
    device = EndedLine(name="open behind 6 dB", kind="open", delay_ps=None, loss_db=6.0)
    assert not device.phase_known
    np.testing.assert_allclose(device.reflection(FREQUENCY_HZ), 10**-0.6)
    assert judged(bench_of(3), device, 10**-0.6 * np.exp(-1j * FREQUENCY_HZ / 1e8)).passed


def test_one_point_far_out_fails_though_nineteen_in_twenty_agree() -> None:
    assert agrees(np.array([0.1] * 40 + [1.3]))
    assert not agrees(np.array([0.1] * 40 + [2.1]))
    assert not agrees(np.array([0.1] * 10 + [1.3]))


def test_points_that_were_not_measured_never_pass() -> None:
    true = 0.2 * ONES + 0j
    bench = bench_of(4)
    reading = bench.read(true)
    reading[3] = complex("nan")
    budget = budget_of(bench.calibration, bench.stated(30.0))
    found = verify(bench.calibration, budget, certificate(true), at_plane(reading))
    assert not found.passed
    assert found.worst != 3
    with pytest.raises(CalibrationError, match="No point"):
        verify(bench.calibration, budget, certificate(true), at_plane(reading * complex("nan")))


def test_its_age_counts_from_when_it_was_taken() -> None:
    true = 0.2 * ONES + 0j
    found = judged(bench_of(5), certificate(true), true)
    assert found.taken_at == WHEN
    assert found.age_s(WHEN + timedelta(hours=2)) == 7200


def test_one_of_the_calibration_s_own_standards_is_held_to_drift_and_connection_only() -> None:
    bench = bench_of(6)
    device = OwnStandard.of(bench.calibration, "load")
    as_believed = device.reflection(FREQUENCY_HZ)
    budget = budget_of(bench.calibration, bench.stated(30.0))
    found = verify(bench.calibration, budget, device, at_plane(as_believed + 0.02))
    assert not found.passed, ".02 is within the load's definition and far beyond any connection"
    assert found.laboratory.max() < 0.02
    with pytest.raises(CalibrationError, match="made with: open, short, load"):
        OwnStandard.of(bench.calibration, "lode")


@pytest.mark.parametrize(
    "make",
    [
        lambda: StatedDevice.from_vswr("m", 0.9, 0.0),
        lambda: StatedDevice.from_return_loss("m", -10.0, 0.0),
        lambda: SmallLoad("l", -30.0),
        lambda: EndedLine(name="e", kind="load", delay_ps=0.0),
        lambda: CertifiedDevice("c", Reading(FREQUENCY_HZ, 0.1 * ONES), -1.0),
        lambda: CertifiedDevice("c", Reading(FREQUENCY_HZ, 0.1 * ONES), np.ones(3)),
    ],
)
def test_a_device_that_cannot_be_is_refused_in_a_sentence(
    make: Callable[[], KnownDevice],
) -> None:
    with pytest.raises(CalibrationError) as caught:
        make()
    assert str(caught.value).endswith(".")


def test_what_cannot_be_compared_is_refused() -> None:
    bench = bench_of(7)
    budget = budget_of(bench.calibration, Assumptions())
    true = 0.2 * ONES + 0j
    narrow = CertifiedDevice("narrow", Reading(np.array([1e9, 2e9]), np.array([0.2, 0.2])), 0.01)
    with pytest.raises(RangeError, match="narrow"):
        verify(bench.calibration, budget, narrow, at_plane(true))
    moved = Sweep(FREQUENCY_HZ, true, Plane.ANTENNA, WHEN, 1, SOURCE, ())
    with pytest.raises(CalibrationError, match="antenna's plane"):
        verify(bench.calibration, budget, certificate(true), moved)
    other = Sweep(FREQUENCY_HZ[1:], true[1:], Plane.CONNECTOR, WHEN, 1, SOURCE, ())
    with pytest.raises(CalibrationError, match="budget"):
        verify(bench.calibration, budget, certificate(true), other)
