"""What standards reflect, by coefficients and by data."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.sweep import Reading
from calibration.errors import KitError, RangeError
from calibration.files.store import load_kit
from calibration.standards.standard import CoefficientStandard, DataStandard, IdealStandard

GHZ = np.array([0.7, 1.0, 2.6, 3.5])
# |reflection| and degrees at 0.7, 1.0, 2.6 and 3.5 GHz.
# Source: run from the published coefficients; scikit-rf's media.DefinedGammaZ0(...).line **
# (shunt_capacitor ** open) agrees to 4e-15 [run].
PUBLISHED = {
    ("n-plug-50", "open"): (
        (0.999981, 0.999955, 0.999547, 0.999129),
        (-22.9002, -32.7381, -85.3806, -115.0766),
    ),
    ("n-plug-50", "short"): (
        (0.998349, 0.998056, 0.997324, 0.997306),
        (156.7169, 146.7638, 93.7406, 63.9434),
    ),
    ("3.5mm-plug-50", "open"): (
        (0.999985, 0.999963, 0.999619, 0.999233),
        (-15.9798, -22.8262, -59.3281, -79.8570),
    ),
    ("3.5mm-plug-50", "short"): (
        (0.997498, 0.997034, 0.995582, 0.995231),
        (163.8173, 156.9168, 120.1772, 99.5410),
    ),
}


@pytest.mark.parametrize(("kit", "name"), PUBLISHED)
def test_a_shipped_standard_reflects_what_its_published_coefficients_give(
    kit: str, name: str
) -> None:
    magnitude, degrees = PUBLISHED[kit, name]
    expected = np.array(magnitude) * np.exp(1j * np.radians(degrees))
    found = load_kit(kit).standards[name].reflection(GHZ * 1e9)
    np.testing.assert_allclose(found, expected, rtol=0, atol=3e-6)  # the gate is 2e-5


@pytest.mark.parametrize(("kit", "name"), PUBLISHED)
def test_the_offset_line_agrees_with_an_independent_circuit_model(kit: str, name: str) -> None:
    """Source: scikit-rf 2.2.0, media.DefinedGammaZ0 lines and lumped ends [run]."""
    import skrf
    from skrf.media import DefinedGammaZ0

    standard = load_kit(kit).standards[name]
    assert isinstance(standard, CoefficientStandard)
    f = np.linspace(0.1e9, 6e9, 60)
    w, r = 2 * np.pi * f, np.sqrt(f / 1e9)
    loss = standard.offset_loss_gohm_per_s * 1e9
    al = loss * standard.delay_s * r / (2 * standard.offset_impedance_ohm)
    gamma = al + 1j * (w * standard.delay_s + al)  # over a line of 1 m
    zc = standard.offset_impedance_ohm + (1 - 1j) * loss * r / (2 * w)
    frequency = skrf.Frequency.from_f(f, unit="Hz")
    line = DefinedGammaZ0(frequency, gamma=gamma, z0=zc, z0_port=50)
    lumped = DefinedGammaZ0(frequency, gamma=0, z0=50)
    powers = np.stack([np.ones_like(f), f, f**2, f**3])
    if name == "open":
        c = (
            standard.c0_ff,
            standard.c1_af_per_ghz,
            standard.c2_af_per_ghz2,
            standard.c3_af_per_ghz3,
        )
        farad = np.array(c) * (1e-15, 1e-27, 1e-36, 1e-45) @ powers
        end = lumped.shunt_capacitor(farad) ** lumped.open()
    else:
        own = (
            standard.l0_ph,
            standard.l1_fh_per_ghz,
            standard.l2_fh_per_ghz2,
            standard.l3_fh_per_ghz3,
        )
        henry = np.array(own) * (1e-12, 1e-24, 1e-33, 1e-42) @ powers
        end = lumped.inductor(henry) ** lumped.short()
    expected = (line.line(1, unit="m") ** end).s[:, 0, 0]
    np.testing.assert_allclose(standard.reflection(f), expected, rtol=0, atol=1e-12)


def test_taking_an_offset_kit_as_ideal_shows_in_phase_and_hardly_in_size() -> None:
    """Phase off by 23, 86 and 116 degrees at 0.7, 2.6 and 3.5 GHz [run]; size by .001."""
    f = np.array([0.7e9, 2.6e9, 3.5e9])
    n_open = load_kit("n-plug-50").standards["open"].reflection(f)
    wrong = np.degrees(np.abs(np.angle(n_open)))
    np.testing.assert_allclose(wrong, [23, 85.4, 115.1], atol=0.5)
    assert np.abs(np.abs(n_open) - 1).max() < 0.001


def test_a_flush_open_is_a_small_capacitor() -> None:
    """A flush SMA socket's open has C0 = 13.67 fF.

    Source: scikit-rf's notebook on standards [read]; 1/(1 + j w C Z0) [derived].
    """
    y = 2j * np.pi * 2e9 * 13.67e-15 * 50
    found = CoefficientStandard(kind="open", c0_ff=13.67).reflection(np.array([2e9]))
    assert abs(found[0] - (1 - y) / (1 + y)) < 1e-15


def test_a_load_reflects_what_its_resistance_says() -> None:
    """49.8 ohm in 50: -0.2 / 99.8 [derived]."""
    found = CoefficientStandard(kind="load", resistance_ohm=49.8).reflection(np.array([0.0, 1e9]))
    np.testing.assert_allclose(found, -0.2 / 99.8, rtol=1e-13)


def test_the_reference_impedance_may_be_another() -> None:
    load = CoefficientStandard(kind="load", resistance_ohm=75.0)
    assert abs(load.reflection(np.array([1e9]), 75.0)[0]) < 1e-15
    data = DataStandard(
        "load", Reading(np.array([1e9, 2e9]), np.array([0.2 + 0j, 0.2 + 0j])), "a.s1p"
    )
    np.testing.assert_allclose(data.reflection(np.array([1.5e9]), 75.0), 0, atol=1e-15)


def test_an_offset_given_by_its_length_is_the_same_as_by_its_delay() -> None:
    f = np.linspace(0, 6e9, 7)
    by_length = CoefficientStandard(kind="short", offset_length_mm=14.0, velocity_factor=0.7)
    by_delay = CoefficientStandard(kind="short", offset_delay_ps=14.0 / 0.7 / 0.299792458)
    np.testing.assert_allclose(by_length.reflection(f), by_delay.reflection(f), atol=1e-14)
    # 20 mm of air there and back at 3.7474 GHz is half a wave: the short looks open [derived]
    turned = by_length.reflection(np.array([299792458 / 0.08]))
    assert abs(turned[0] - 1) < 1e-12


@given(
    kind=st.sampled_from(["open", "short", "load"]),
    delay=st.floats(0, 1000),
    loss=st.floats(0, 50),
    impedance=st.floats(45, 55),
)
def test_no_standard_made_of_passive_parts_reflects_more_than_it_gets(
    kind: str, delay: float, loss: float, impedance: float
) -> None:
    standard = CoefficientStandard(
        kind=kind,  # type: ignore[arg-type]
        offset_delay_ps=delay,
        offset_loss_gohm_per_s=loss,
        offset_impedance_ohm=impedance,
    )
    # 1 % of room: the published form of the line is an approximation for small loss
    assert np.abs(standard.reflection(np.linspace(1e8, 6e9, 50))).max() < 1.01


def test_ideal_standards_are_ideal_everywhere() -> None:
    f = np.array([0.0, 1e6, 5e9])
    values = [IdealStandard(kind=kind).reflection(f)[2] for kind in ("open", "short", "load")]
    assert values == [1, -1, 0]


def test_data_is_met_at_its_points_and_follows_a_delay_between_them() -> None:
    f = np.linspace(0, 6e9, 61)

    def offset_open(at: np.ndarray) -> np.ndarray:
        return 0.99 * np.exp(-2j * np.pi * at * 0.8e-9)  # 29 degrees a step

    standard = DataStandard("open", Reading(f, offset_open(f)), "open.s1p")
    np.testing.assert_allclose(standard.reflection(f), offset_open(f), atol=1e-13)
    between = np.linspace(0, 6e9, 1001)
    np.testing.assert_allclose(standard.reflection(between), offset_open(between), atol=1e-12)


def test_data_of_a_load_is_followed_through_zero() -> None:
    f = np.linspace(0, 6e9, 61)

    def load(at: np.ndarray) -> np.ndarray:
        return 0.01 * (at / 3e9 - 1) * np.exp(-2j * np.pi * at * 0.1e-9)  # passes zero at 3 GHz

    standard = DataStandard("load", Reading(f, load(f)), "load.s1p")
    between = np.linspace(0, 6e9, 1001)
    np.testing.assert_allclose(standard.reflection(between), load(between), atol=1e-7)


@pytest.mark.parametrize("asked", [0.9e9, 2.1e9])
def test_data_says_nothing_outside_its_range(asked: float) -> None:
    standard = DataStandard("short", Reading(np.array([1e9, 2e9]), np.array([-1, -1j])), "s.s1p")
    with pytest.raises(RangeError, match=f"from 1000 to 2000 MHz, and {asked / 1e6:.0f} MHz"):
        standard.reflection(np.array([asked]))
    assert abs(standard.reflection(np.array([1e9 - 0.4]))[0] + 1) < 1e-12  # rounding is no range


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([1.0, 30.0, 1.0], "reflects at most 1"),
        ([1.0, np.nan, 1.0], "is not a number"),
        ([1.0, -0.9 + 0.1j, 1.0], "too coarse"),
    ],
)
def test_data_that_cannot_be_a_standards_is_refused(values: list[complex], words: str) -> None:
    with pytest.raises(KitError, match=words):
        DataStandard("open", Reading(np.array([1e9, 2e9, 3e9]), np.array(values)), "open.s1p")
