"""Averaging: only what is steady, never across a move, and without what one burst disturbed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.sweep import ComplexArray, Plane, Source, Sweep, SweepRequest
from calibration.capture.averaging import Averaging, average

REQUEST = (SweepRequest(0.7e9, 1.1e9, 201),)
F = REQUEST[0].grid_hz()
NOISE = 1e-3
SOURCE = Source("virtual", "invented", "invented", "virtual:")


def antenna(dip_hz: float = 0.9e9) -> ComplexArray:
    """A series resonance of Q 12 behind a metre of cable: invented."""
    detuning = 12 * (F / dip_hz - dip_hz / F)
    z = 40 * (1 + 1j * detuning)
    reflection: ComplexArray = (z - 50) / (z + 50) * np.exp(-4j * np.pi * F * 5e-9)
    return reflection


class Bench:
    """Sweeps with noise, numbered."""

    def __init__(self, seed: int = 1) -> None:
        self.rng = np.random.default_rng(seed)
        self.number = 0

    def sweep(
        self, true: ComplexArray | None = None, burst: Mapping[int, complex] | None = None
    ) -> Sweep:
        """burst : what is added, by index."""
        self.number += 1
        real, imaginary = self.rng.standard_normal((2, F.size)) * NOISE / np.sqrt(2)
        values = (antenna() if true is None else true) + real + 1j * imaginary
        for at, size in (burst or {}).items():
            values[at] += size
        when = datetime(2026, 5, 1, 9, 0, self.number % 60, tzinfo=UTC)
        return Sweep(F, values, Plane.RAW, when, self.number, SOURCE, REQUEST)


def test_steady_sweeps_are_averaged_and_their_scatter_is_told() -> None:
    """Noise of a mean falls with the root of the sweeps; its size is what was put in [derived]."""
    bench, averaging = Bench(), Averaging()
    for _ in range(8):
        found = averaging.add(bench.sweep())
    assert found.sweeps == 8
    assert not found.bursts
    error = np.sqrt(np.mean(np.abs(found.sweep.reflection - antenna()) ** 2))
    assert error == pytest.approx(NOISE / np.sqrt(8), rel=0.15)
    assert found.noise is not None
    assert np.median(found.noise) == pytest.approx(NOISE, rel=0.15)


def test_two_states_of_a_moving_antenna_never_average() -> None:
    """Two states 90 degrees apart would turn 10 dB into 13 dB [derived: |1 + j| / 2]."""
    bench = Bench()
    flat = np.full(F.size, 10 ** (-10 / 20) + 0j)
    averaging = Averaging()
    for _ in range(6):
        for state in (flat, 1j * flat):
            found = averaging.add(bench.sweep(state))
            assert found.sweeps == 1
            assert np.abs(found.sweep.reflection) == pytest.approx(np.abs(flat), abs=6 * NOISE)
    assert average([bench.sweep(flat), bench.sweep(1j * flat), bench.sweep(flat)]) is None


@given(shift_mhz=st.floats(0.5, 60), seed=st.integers(0, 1000))
def test_a_dip_that_moves_is_never_averaged_into_a_better_one(shift_mhz: float, seed: int) -> None:
    """Whatever the move, no point comes out deeper than both states, but for noise."""
    bench, averaging = Bench(seed), Averaging()
    states = [antenna(), antenna(0.9e9 + shift_mhz * 1e6)]
    for state in (states[0], states[1], states[0], states[1]):
        found = averaging.add(bench.sweep(state))
        size = np.abs(found.sweep.reflection)
        known = np.isfinite(size)
        deeper = np.minimum(*(np.abs(each) for each in states))[known] - size[known]
        assert deeper.max() < 0.012


def test_what_moves_slowly_is_noticed() -> None:
    bench, averaging = Bench(), Averaging()
    for step in range(60):
        found = averaging.add(bench.sweep(antenna(0.9e9 + 60e3 * step)))
    assert found.sweeps < 8
    off = np.abs(found.sweep.reflection - antenna(0.9e9 + 60e3 * 59))
    assert np.sqrt(np.mean(off**2)) < 4 * NOISE


def test_a_burst_in_one_sweep_is_left_out_and_named() -> None:
    bench, averaging = Bench(), Averaging()
    for number in range(6):
        burst = {40: 0.4j, 41: -0.2 + 0.1j} if number == 3 else None
        found = averaging.add(bench.sweep(burst=burst))
    (burst_found,) = found.bursts
    assert burst_found.sequence == 4
    assert burst_found.low_hz == pytest.approx(F[40])
    assert burst_found.high_hz == pytest.approx(F[41])
    assert burst_found.size == pytest.approx(0.4, rel=0.05)
    assert "780.0 to 782.0 MHz" in burst_found.words
    assert "transmitter nearby" in burst_found.words
    assert found.sweeps == 6
    assert np.abs(found.sweep.reflection - antenna())[40] < 4 * NOISE


def test_a_burst_in_the_newest_of_two_sweeps_leaves_the_point_unknown_until_a_third() -> None:
    bench, averaging = Bench(), Averaging()
    averaging.add(bench.sweep())
    second = averaging.add(bench.sweep(burst={40: 0.4j}))
    assert second.sweeps == 2
    assert np.flatnonzero(~np.isfinite(second.sweep.reflection)).tolist() == [40]
    third = averaging.add(bench.sweep())
    assert np.isfinite(third.sweep.reflection).all()
    assert [burst.sequence for burst in third.bursts] == [2]


def test_a_transmitter_that_stays_widens_the_noise_where_it_is() -> None:
    bench, averaging = Bench(), Averaging()
    for _ in range(8):
        draw = 0.03 * complex(*bench.rng.standard_normal(2))
        found = averaging.add(bench.sweep(burst={120: draw}))
    assert found.noise is not None
    assert found.noise[120] > 0.01
    assert np.median(found.noise) < 2 * NOISE


def test_a_burst_over_much_of_a_sweep_is_a_move() -> None:
    bench, averaging = Bench(), Averaging()
    for _ in range(4):
        averaging.add(bench.sweep())
    wide = {n: 0.3 * (-1) ** n + 0j for n in range(20, 60)}
    found = averaging.add(bench.sweep(burst=wide))
    assert found.sweeps == 1
    assert found.change is not None
    assert not found.change.steady


def test_another_request_or_an_older_number_begins_anew() -> None:
    bench, averaging = Bench(), Averaging()
    averaging.add(bench.sweep())
    other = (SweepRequest(0.7e9, 1.1e9 + 1, 201),)
    assert averaging.add(replace(bench.sweep(), request=other)).sweeps == 1
    assert averaging.add(replace(bench.sweep(), sequence=1)).sweeps == 1


def test_points_that_were_never_measured_stay_so() -> None:
    bench, averaging = Bench(), Averaging()
    for _ in range(4):
        found = averaging.add(bench.sweep(burst={7: complex("nan")}))
    assert np.flatnonzero(~np.isfinite(found.sweep.reflection)).tolist() == [7]
    assert found.sweeps == 4
    assert not found.bursts


@given(st.integers(2, 60))
def test_a_sweep_of_any_number_of_points_is_averaged(points: int) -> None:
    """A narrow band may take a dozen. On a handful, chance may pass for movement."""
    bench, averaging = Bench(), Averaging()
    for _ in range(3):
        whole = bench.sweep(np.full(F.size, 0.5 + 0j))
        few = replace(whole, frequency_hz=F[:points], reflection=whole.reflection[:points])
        found = averaging.add(few)
    assert found.sweep.points == points
    assert found.noise is not None or points < 10
    if found.noise is not None:
        assert found.noise.shape == (points,)
        assert found.noise == pytest.approx(NOISE, rel=0.8)
