"""What is screwed on to the virtual bench: as published, and then a little off."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replay.virtual_bench.standards import (
    KITS,
    LOAD_RETURN_LOSS_DB,
    MISMATCH_LOAD,
    OPEN_CONNECTOR,
    hidden_load,
)
from tests.counts import examples

# Coefficients: scikit-rf's notebook on standards, citing AN 1287-11 (2009) [read]; the values
# were worked out from them with scikit-rf 2.2.0's `media` and by the closed form [run].
# GHz, then magnitude and degrees.
PUBLISHED = [
    ("n-plug-50", "open", 0.7, 0.999981, -22.9002),
    ("n-plug-50", "open", 1.0, 0.999955, -32.7381),
    ("n-plug-50", "open", 2.6, 0.999547, -85.3806),
    ("n-plug-50", "open", 3.5, 0.999129, -115.0766),
    ("n-plug-50", "short", 0.7, 0.998349, 156.7169),
    ("n-plug-50", "short", 1.0, 0.998056, 146.7638),
    ("n-plug-50", "short", 2.6, 0.997324, 93.7406),
    ("n-plug-50", "short", 3.5, 0.997306, 63.9434),
    ("3.5mm-plug-50", "open", 0.7, 0.999985, -15.9798),
    ("3.5mm-plug-50", "open", 1.0, 0.999963, -22.8262),
    ("3.5mm-plug-50", "open", 2.6, 0.999619, -59.3281),
    ("3.5mm-plug-50", "open", 3.5, 0.999233, -79.8570),
    ("3.5mm-plug-50", "short", 0.7, 0.997498, 163.8173),
    ("3.5mm-plug-50", "short", 1.0, 0.997034, 156.9168),
    ("3.5mm-plug-50", "short", 2.6, 0.995582, 120.1772),
    ("3.5mm-plug-50", "short", 3.5, 0.995231, 99.5410),
]


@pytest.mark.parametrize(("kit", "name", "ghz", "magnitude", "degrees"), PUBLISHED)
def test_a_standard_of_the_data_sheet_reflects_as_published(
    kit: str, name: str, ghz: float, magnitude: float, degrees: float
) -> None:
    reflection = KITS[kit][name].reflection(np.array([ghz * 1e9]))[0]
    assert abs(reflection - cmath.rect(magnitude, math.radians(degrees))) < 2e-5


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("name", ["open", "short"])
@pytest.mark.parametrize("seed", range(20))
def test_a_real_standard_is_near_its_data_sheet_but_not_on_it(
    kit: str, name: str, seed: int
) -> None:
    frequency_hz = np.linspace(0.1e9, 4e9, 40)
    stated = KITS[kit][name]
    real = stated.with_hidden_errors(np.random.default_rng(seed))
    off = np.abs(real.reflection(frequency_hz) - stated.reflection(frequency_hz))
    # Definition errors of such kits are of the order of a degree at these frequencies [practice].
    assert 1e-5 < off.max() < math.radians(2.0)


@given(seed=st.integers(0, 10_000), hz=st.floats(1e5, 6e9))
@examples(100)
def test_a_real_standard_never_reflects_more_than_it_is_sent(seed: int, hz: float) -> None:
    rng = np.random.default_rng(seed)
    at = np.array([hz])
    devices = [kit[name].with_hidden_errors(rng) for kit in KITS.values() for name in kit]
    for device in (*devices, hidden_load(rng), MISMATCH_LOAD, OPEN_CONNECTOR):
        assert abs(device.reflection(at)[0]) <= 1.0 + 1e-12


@pytest.mark.parametrize("seed", range(20))
def test_the_load_keeps_what_its_maker_states_and_no_more(seed: int) -> None:
    reflection = hidden_load(np.random.default_rng(seed)).reflection(np.linspace(1e6, 6e9, 50))
    return_loss_db = -20.0 * np.log10(np.abs(reflection))
    assert return_loss_db.min() >= LOAD_RETURN_LOSS_DB
    assert return_loss_db.max() < LOAD_RETURN_LOSS_DB + 10.0


def test_the_known_mismatch_has_a_vswr_of_one_and_a_half() -> None:
    magnitude = np.abs(MISMATCH_LOAD.reflection(np.array([1e8, 8e8, 3e9])))
    # |G| = (S - 1) / (S + 1): Pozar; ARRL Handbook [memory]
    assert (1.0 + magnitude) / (1.0 - magnitude) == pytest.approx([1.5] * 3, rel=1e-12)
