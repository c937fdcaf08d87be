"""Pigtails on the virtual bench: passive, and what they do is what a cascade does."""

from __future__ import annotations

import numpy as np
import pytest
import skrf

from replay.address_schemes import openers
from replay.clock import AcceleratedClock
from replay.errors import BenchError, VirtualAnalyzerError
from replay.virtual_bench.pigtails import PIGTAILS, Pigtail
from replay.virtual_bench.simulated_bench import VirtualBench

GRID = np.linspace(700e6, 2700e6, 201)


@pytest.mark.parametrize("name", PIGTAILS)
def test_a_pigtail_is_passive(name: str) -> None:
    for end in (1.0, -1.0, 0.6j, 0.0):
        assert np.abs(PIGTAILS[name].seen(np.full(GRID.size, end + 0j), GRID)).max() <= 1 + 1e-12


@pytest.mark.parametrize("name", PIGTAILS)
def test_a_pigtail_is_scikit_rf_s_cascade(name: str) -> None:
    """Joint, line of its own impedance, joint [run]."""
    pigtail: Pigtail = PIGTAILS[name]
    frequency = skrf.Frequency.from_f(GRID, unit="Hz")
    gamma = pigtail.loss_db(GRID) * np.log(10) / 20 + 2j * np.pi * GRID * pigtail.delay_s
    media = skrf.media.DefinedGammaZ0(frequency, gamma=gamma, z0=pigtail.line_ohm)
    ours = skrf.media.DefinedGammaZ0(frequency, gamma=gamma, z0=50)
    line = media.line(1, "m")
    line.renormalize(50)
    near = ours.inductor(pigtail.near_h)
    if pigtail.near_ohm:
        near = ours.resistor(pigtail.near_ohm) ** near
    whole = near**line ** ours.shunt_capacitor(pigtail.far_f)
    end = skrf.Network(frequency=frequency, s=np.full(GRID.size, 0.4 - 0.2j), z0=50)
    seen = pigtail.seen(np.full(GRID.size, 0.4 - 0.2j), GRID)
    assert np.abs((whole**end).s[:, 0, 0] - seen).max() < 1e-9


def test_the_bench_lays_a_pigtail_and_takes_it_away() -> None:
    bench = VirtualBench(AcceleratedClock(), on_port="antenna")
    alone = bench.true_reflection(GRID)
    assert bench.lay("lossy").pigtail == "lossy"
    weakened = bench.true_reflection(GRID)
    assert np.abs(weakened).max() < np.abs(alone).max() / 2
    bench.lay("none")
    assert np.array_equal(bench.true_reflection(GRID), alone)
    with pytest.raises(BenchError, match="no pigtail 'gold': lay one of none, good, lossy"):
        bench.lay("gold")


def test_an_address_lays_a_pigtail() -> None:
    clock = AcceleratedClock()
    bench = VirtualBench(clock)
    openers(bench, clock)["virtual"]("virtual:prompted?pigtail=wrong", 115200)
    assert bench.state().pigtail == "wrong"
    with pytest.raises(BenchError, match="no pigtail"):
        openers(bench, clock)["virtual"]("virtual:?pigtail=x", 115200)
    with pytest.raises(VirtualAnalyzerError, match="and pigtail"):
        openers(bench, clock)["virtual"]("virtual:?pigtal=x", 115200)
