"""An enclosure and rain act on the virtual antenna as dielectrics do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.clock import AcceleratedClock
from replay.virtual_bench.antenna import ANTENNAS, BOUNDS_MM, GOOD_SETTING, BentStrip
from replay.virtual_bench.simulated_bench import VirtualBench
from replay.virtual_bench.surroundings import SURROUNDINGS, Loading, Surrounding
from tests.counts import examples
from tests.replay.virtual_bench.test_antenna import dip_hz, margins_db

LOW, HIGH = (0.7e9, 1.0e9), (1.5e9, 2.1e9)
GRID_HZ = np.linspace(700e6, 2100e6, 281)
loadings = st.builds(
    Loading, permittivity=st.floats(1.0, 4.0), loss_tangent=st.floats(0.0, 1.0)
)  # fmt: skip
strips = st.builds(
    BentStrip,
    **{f"{name}_mm": st.floats(low, high) for name, (low, high) in BOUNDS_MM.items()},
    loading=loadings,
)


def inside(name: Surrounding) -> BentStrip:
    return replace(GOOD_SETTING, loading=SURROUNDINGS[name])


@given(strip=strips, hz=st.floats(1e6, 20e9))
@examples(200)
def test_whatever_lies_round_it_it_stays_a_circuit_of_real_elements(
    strip: BentStrip, hz: float
) -> None:
    ahead, behind = strip.impedance_ohm(np.array([hz, -hz]))
    assert behind == pytest.approx(ahead.conjugate(), rel=1e-12)
    assert ahead.real > 0
    assert abs(strip.reflection(np.array([hz]))[0]) <= 1.0 + 1e-12


@pytest.mark.parametrize("band", [LOW, HIGH], ids=["low dip", "high dip"])
def test_every_dip_goes_down_by_about_the_root_of_the_permittivity(
    band: tuple[float, float],
) -> None:
    # a line with the field in e acts sqrt(e) times longer [derived]; the feed takes its part
    bare, boxed = dip_hz(GOOD_SETTING, *band), dip_hz(inside("enclosure"), *band)
    wanted = SURROUNDINGS["enclosure"].permittivity ** -0.5
    assert boxed / bare == pytest.approx(wanted, rel=0.005)


def test_rain_on_the_lid_detunes_further_and_absorbs() -> None:
    dips = [
        dip_hz(inside(each), *LOW) for each in ("nothing", "enclosure", "enclosure in rain")
    ]  # fmt: skip
    assert dips == sorted(dips, reverse=True)

    def sent_back(name: Surrounding) -> float:
        """Of the power, over a band far wider than the dip: what is not radiated or absorbed."""
        size = np.abs(inside(name).reflection(np.linspace(400e6, 1300e6, 901)))
        return float((size**2).mean())

    lossless = replace(
        GOOD_SETTING, loading=replace(SURROUNDINGS["enclosure in rain"], loss_tangent=0.0)
    )
    size = np.abs(lossless.reflection(np.linspace(400e6, 1300e6, 901)))
    assert sent_back("enclosure in rain") < float((size**2).mean())


def test_one_tuned_bare_no_longer_passes_in_its_enclosure_and_shorter_arms_mend_it() -> None:
    assert min(margins_db(GOOD_SETTING).values()) > 1.0
    assert min(margins_db(inside("enclosure")).values()) < 0.0
    shorter = BentStrip(82.0, 34.0, 1.6, 23.0)  # found by search
    for name in ("enclosure", "enclosure in rain"):
        loaded = replace(shorter, loading=SURROUNDINGS[name])
        assert min(margins_db(loaded).values()) > 1.0


def test_the_bench_puts_it_in_and_takes_it_out() -> None:
    clock = AcceleratedClock()
    bench = VirtualBench(clock, on_port="antenna", antenna="known-good")
    bare = bench.true_reflection(GRID_HZ)
    state = bench.surround(enclosed=True)
    assert (state.enclosed, state.wet, state.steady) == (True, False, False)
    boxed = bench.true_reflection(GRID_HZ)
    assert (boxed == inside("enclosure").reflection(GRID_HZ)).all()
    assert bench.surround(wet=True).enclosed
    assert np.abs(bench.true_reflection(GRID_HZ) - boxed).max() > 0.01
    bench.surround(enclosed=False, wet=False)
    assert (bench.true_reflection(GRID_HZ) == bare).all()


def test_another_antenna_comes_bare_and_dry() -> None:
    bench = VirtualBench(AcceleratedClock(), on_port="antenna")
    bench.surround(enclosed=True, wet=True)
    assert set(bench.state().antennas) == set(ANTENNAS)
    state = bench.fetch("mill-lane-7")
    assert (state.enclosed, state.wet) == (False, False)
