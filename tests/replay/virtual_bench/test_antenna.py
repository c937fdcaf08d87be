"""The bent-strip radiator bends as physics says, and never reflects more than it is sent."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.errors import BenchError
from replay.virtual_bench.antenna import BOUNDS_MM, DELIVERED, GOOD_SETTING, BentStrip
from tests.counts import examples


def limit_of_vswr_db(vswr: float) -> float:
    """RL = 20 log10 (S + 1) / (S - 1) [derived; the same in Pozar, memory]."""
    return 20.0 * math.log10((vswr + 1.0) / (vswr - 1.0))


# The demo's plan: LTE band 20 at 10 dB, NR band n3 at VSWR 2.0 (uplink 1.8), backhaul at 12 dB.
# Band edges: 3GPP TS 36.104 Table 5.5-1 and TS 38.101-1 Table 5.2-1 [read].
TARGETS_MHZ = [
    ("LTE 20 downlink", 791.0, 821.0, 10.0),
    ("LTE 20 uplink", 832.0, 862.0, 10.0),
    ("gauge backhaul", 868.0, 870.0, 12.0),
    ("n3 uplink", 1710.0, 1785.0, limit_of_vswr_db(1.8)),
    ("n3 downlink", 1805.0, 1880.0, limit_of_vswr_db(2.0)),
]

strips = st.builds(
    BentStrip, **{f"{name}_mm": st.floats(low, high) for name, (low, high) in BOUNDS_MM.items()}
)


def margins_db(strip: BentStrip) -> dict[str, float]:
    """How far the worst point of each target is above its limit."""
    margins = {}
    for name, low_mhz, high_mhz, limit_db in TARGETS_MHZ:
        reflection = strip.reflection(np.linspace(low_mhz, high_mhz, 201) * 1e6)
        margins[name] = -20.0 * math.log10(np.abs(reflection).max()) - limit_db
    return margins


def dip_hz(strip: BentStrip, low_hz: float, high_hz: float) -> float:
    """Frequency of the deepest dip between two frequencies."""
    frequency_hz = np.linspace(low_hz, high_hz, 20_001)
    return float(frequency_hz[np.argmin(np.abs(strip.reflection(frequency_hz)))])


@given(strip=strips, hz=st.floats(1e5, 20e9))
@examples(300)
def test_no_bend_makes_it_reflect_more_than_it_is_sent(strip: BentStrip, hz: float) -> None:
    assert abs(strip.reflection(np.array([hz]))[0]) <= 1.0 + 1e-12


@given(strip=strips, hz=st.floats(1e6, 6e9))
@examples(50)
def test_its_impedance_is_that_of_a_real_circuit(strip: BentStrip, hz: float) -> None:
    # Z(-f) is the conjugate of Z(f) for every network of real elements [derived].
    ahead, behind = strip.impedance_ohm(np.array([hz, -hz]))
    assert behind == pytest.approx(ahead.conjugate(), rel=1e-12)
    assert ahead.real > 0


@given(strip=strips, scale=st.floats(0.5, 2.0), hz=st.floats(1e8, 4e9))
@examples(100)
def test_scaling_every_dimension_scales_every_frequency(
    strip: BentStrip, scale: float, hz: float
) -> None:
    # f2 = f1 L1/L2, exact if every dimension scales [derived]; so df/f = -dL/L.
    scaled = BentStrip(
        **{f"{name}_mm": value * scale for name, value in strip.dimensions_mm.items()},
        strip_mm=strip.strip_mm * scale,
    )
    before = strip.reflection(np.array([hz]))[0]
    after = scaled.reflection(np.array([hz / scale]))[0]
    assert abs(after - before) < 1e-9


@pytest.mark.parametrize(
    ("arm", "low_hz", "high_hz"),
    [("arm_a", 0.7e9, 1.0e9), ("arm_b", 1.5e9, 2.1e9)],
)
@pytest.mark.parametrize("delta_mm", [-2.0, -0.5, 0.5, 2.0])
def test_an_arm_moves_its_own_dip_by_about_its_share_and_leaves_the_other(
    arm: str, low_hz: float, high_hz: float, delta_mm: float
) -> None:
    bent = GOOD_SETTING.bent(arm, delta_mm)
    before, after = dip_hz(GOOD_SETTING, low_hz, high_hz), dip_hz(bent, low_hz, high_hz)
    length_mm = GOOD_SETTING.dimensions_mm[arm]
    # df/f = -dL/L for the arm alone; the height it stands off, the feed and the other arm
    # take their part of it [derived].
    assert (after - before) / before == pytest.approx(-delta_mm / length_mm, rel=0.35)
    other = (1.5e9, 2.1e9) if arm == "arm_a" else (0.7e9, 1.0e9)
    assert dip_hz(bent, *other) == pytest.approx(dip_hz(GOOD_SETTING, *other), rel=0.006)


def test_the_gap_moves_the_depth_more_than_the_frequency() -> None:
    wider = GOOD_SETTING.bent("feed_gap", 2.0)
    low = (0.7e9, 1.0e9)
    depths = [np.abs(s.reflection(np.array([dip_hz(s, *low)])))[0] for s in (GOOD_SETTING, wider)]
    assert depths[1] > 2.0 * depths[0]
    assert dip_hz(wider, *low) == pytest.approx(dip_hz(GOOD_SETTING, *low), rel=0.03)


def test_more_height_over_the_bracket_makes_it_broader() -> None:
    def quality(strip: BentStrip) -> float:
        """Of the long arm's first resonance: Q = f dX/df / 2R where X passes zero."""
        at = strip.arm_resonance_hz(strip.arm_a_mm)
        frequency_hz = np.linspace(0.98 * at, 1.02 * at, 5)
        impedance = strip.impedance_ohm(frequency_hz)
        slope = np.polyfit(frequency_hz, impedance.imag, 1)[0]
        return float(at * slope / (2.0 * impedance[2].real))

    low, high = (replace(GOOD_SETTING, height_mm=height) for height in (12.0, 26.0))
    assert quality(high) < 0.95 * quality(low)
    assert 3.0 < quality(GOOD_SETTING) < 8.0


def test_the_good_setting_passes_the_plan_with_a_decibel_to_spare() -> None:
    assert min(margins_db(GOOD_SETTING).values()) > 1.0


@pytest.mark.parametrize("arm", ["arm_a", "arm_b"])
@pytest.mark.parametrize("delta_mm", [-0.5, 0.5])
def test_half_a_millimetre_beside_the_good_setting_still_passes(arm: str, delta_mm: float) -> None:
    assert min(margins_db(GOOD_SETTING.bent(arm, delta_mm)).values()) > 0.0


@pytest.mark.parametrize("name", DELIVERED)
def test_as_delivered_it_fails_the_plan_in_both_modes(name: str) -> None:
    margins = margins_db(DELIVERED[name])
    assert min(margins["LTE 20 downlink"], margins["gauge backhaul"]) < -1.0
    assert min(margins["n3 uplink"], margins["n3 downlink"]) < -1.0


@pytest.mark.parametrize(
    ("name", "bends"),
    [
        ("weir-3", ["arm_b -1", "arm_a 2", "arm_a 3", "arm_b -2"]),
        (
            "mill-lane-7",
            ["arm_a -2", "arm_b 2", "arm_a -2", "arm_b 1", "feed_gap 1"],
        ),
    ],
)
def test_a_handful_of_bends_makes_a_delivered_one_pass(name: str, bends: list[str]) -> None:
    strip = DELIVERED[name]
    for bend in bends:
        assert min(margins_db(strip).values()) < 0.0
        dimension, delta_mm = bend.split()
        strip = strip.bent(dimension, float(delta_mm))
    assert min(margins_db(strip).values()) > 0.5


def test_a_bend_out_of_range_is_refused_in_a_sentence() -> None:
    with pytest.raises(BenchError, match=r"arm_a cannot become 185\.5 mm: .* 60 and 110 mm"):
        GOOD_SETTING.bent("arm_a", 100.0)
    with pytest.raises(BenchError, match=r"no dimension 'strip_mm': bend one of arm_a"):
        GOOD_SETTING.bent("strip_mm", 1.0)
    with pytest.raises(BenchError, match="give a number of mm"):
        GOOD_SETTING.bent("arm_a", math.nan)


def test_bending_there_and_back_is_no_bend() -> None:
    strip = GOOD_SETTING
    for delta_mm in (0.1, 0.1, 0.1, -0.3):
        strip = strip.bent("arm_b", delta_mm)
    assert strip == GOOD_SETTING
