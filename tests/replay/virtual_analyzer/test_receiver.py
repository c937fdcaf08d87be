"""The virtual analyzer's receivers err as a raw low-cost instrument does."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray
from replay.virtual_analyzer.receiver import Receiver, Sweeping
from replay.virtual_analyzer.simulated_analyzer import CHARACTERS, describe

GRID_HZ = np.linspace(1e6, 4.4e9, 4000)


@dataclass(frozen=True)
class Fixed:
    """A port with the same reflection at every frequency."""

    value: complex

    def port_reflection(self, frequency_hz: FloatArray, at_s: FloatArray) -> ComplexArray:
        return np.full(frequency_hz.shape, self.value, dtype=np.complex128)


def one_sweep(grid_hz: FloatArray = GRID_HZ, number: int = 1) -> Sweeping:
    return Sweeping(number, grid_hz, 0.0, 0.001)


@pytest.mark.parametrize("seed", range(25))
def test_its_errors_are_of_the_size_of_a_raw_low_cost_instrument(seed: int) -> None:
    errors = Receiver(Fixed(0), seed=seed, range_steps_hz=(3e8, 1.2e9)).errors(GRID_HZ)
    # Between 1 MHz and 4.4 GHz directivity is .02-.15, tracking .63-.91, source match .01-.21:
    # scikit-rf's own example data (BSD-3-Clause) [run].
    for term, low, high in (
        (errors.directivity, 0.02, 0.15),
        (errors.reflection_tracking, 0.63, 0.91),
        (errors.source_match, 0.01, 0.21),
    ):
        assert np.abs(term).min() >= low
        assert np.abs(term).max() <= high


def test_its_errors_are_smooth_but_where_it_switches_range() -> None:
    steps_hz = (3e8, 1.2e9)
    errors = Receiver(Fixed(0), seed=4, range_steps_hz=steps_hz).errors(GRID_HZ)
    switched = np.searchsorted(GRID_HZ, steps_hz) - 1
    for term in (errors.directivity, errors.reflection_tracking, errors.source_match):
        jumps = np.abs(np.diff(term))
        within = np.delete(jumps, switched)
        assert within.max() < 0.01
        assert (jumps[switched] > 3.0 * within.max()).any()


def test_its_tracking_carried_back_to_zero_hertz_has_next_to_no_phase() -> None:
    frequency_hz = np.linspace(5e6, 2.9e8, 200)
    tracking = Receiver(Fixed(0), seed=4, range_steps_hz=(3e8,)).errors(frequency_hz)
    phase = np.unwrap(np.angle(tracking.reflection_tracking))
    at_zero = np.polynomial.Polynomial.fit(frequency_hz, phase, 1)(0.0)
    # open and short taken the right way round: near 0, not 180 degrees
    assert abs(at_zero) < np.radians(10.0)


def test_a_reading_is_the_published_bilinear_map_of_the_reflection() -> None:
    device = 0.153208889 + 0.128557522j
    receiver = Receiver(Fixed(device), seed=1, noise=0.0)
    errors = receiver.errors(GRID_HZ)
    # linear form of the one-port model: Gm = t11 G + t12 - t21 G Gm with t11 = ER - ED ES,
    # t12 = ED, t21 = -ES (scikit-rf's `OnePort`, citing Marks, 50th ARFTG 1997 p. 115) [read]
    reading = receiver.read(one_sweep(), 0)
    t11 = errors.reflection_tracking - errors.directivity * errors.source_match
    right = t11 * device + errors.directivity + errors.source_match * device * reading
    assert np.abs(reading - right).max() < 1e-12


def test_its_noise_has_the_stated_size_and_no_preferred_phase() -> None:
    quiet = Receiver(Fixed(0.3), seed=1, noise=0.0)
    noisy = Receiver(Fixed(0.3), seed=1, noise=1e-3)
    noise = noisy.read(one_sweep(), 0) - quiet.read(one_sweep(), 0)
    rms = np.sqrt(np.mean(np.abs(noise) ** 2))
    # 4000 draws: the rms is known to 1.1 % [derived], four of that are allowed
    assert rms == pytest.approx(1e-3, rel=0.045)
    assert abs(np.mean(noise)) < 4e-3 / np.sqrt(noise.size)
    assert abs(np.mean(noise**2)) < 4e-6 / np.sqrt(noise.size)


def test_the_same_seed_repeats_every_sweep_and_no_two_sweeps_are_alike() -> None:
    first, again = (Receiver(Fixed(0.3), seed=9) for _ in range(2))
    assert np.array_equal(first.read(one_sweep(), 0), again.read(one_sweep(), 0))
    readings = [first.read(one_sweep(number=n), k)[0] for n in (1, 2) for k in (0, 1)]
    assert len(set(readings)) == 4


def test_part_of_a_sweep_reads_as_in_the_whole() -> None:
    receiver = Receiver(Fixed(0.3), seed=9)
    whole = receiver.read(one_sweep(), 3)
    assert np.array_equal(receiver.read(one_sweep(), 3, slice(100, 230)), whole[100:230])


def test_its_tracking_drifts_as_much_as_asked_for() -> None:
    still, drifting = (
        Receiver(Fixed(0.5), seed=2, noise=0.0, drift_per_hour=drift, powered_s=100.0)
        for drift in (0.0, 0.02)
    )
    grid_hz = GRID_HZ[:10]
    an_hour_later = Sweeping(1, grid_hz, 3700.0, 0.0)
    ratio = (drifting.read(an_hour_later, 0) - drifting.errors(grid_hz).directivity) / (
        still.read(an_hour_later, 0) - still.errors(grid_hz).directivity
    )
    assert np.abs(ratio - 0.98 * np.exp(-0.02j)).max() < 1e-12


@pytest.mark.parametrize("character", CHARACTERS)
def test_a_virtual_unit_never_poses_as_hardware(character: str) -> None:
    said = " ".join(describe(character).identity)
    assert "virtual" in said
    assert "not hardware" in said


@pytest.mark.parametrize("begun_s", [0.0, 100.0, 2.0**18 + 0.1, 2.0**24 + 1 / 3])
@pytest.mark.parametrize("points", [2, 21, 401])
def test_a_sweep_is_finished_at_its_end_and_not_before_on_any_clock(
    begun_s: float, points: int
) -> None:
    """After days the clock's last digit is longer than the rounding of a quotient."""
    sweeping = Sweeping(1, np.linspace(7e8, 8e8, points), begun_s, 0.0005)
    for number in (0, 1, 7, 1000):
        end_s = sweeping.ends_s(number)
        assert sweeping.finished_by(end_s) == number + 1
        assert sweeping.finished_by(math.nextafter(end_s, 0.0)) == number
