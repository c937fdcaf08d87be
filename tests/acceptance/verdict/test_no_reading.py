"""What is no reading of an antenna gets no verdict, and says why."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from acceptance.limits.decision import State
from acceptance.plan.load import load_plan
from acceptance.verdict.plan_verdict import Verdict, judge
from acquire.sweep import ComplexArray, Plane, Reading, Source
from acquire.touchstone.reader import parse_touchstone
from acquire.touchstone.stated_plane import stated_plane
from tests.wording import missing_words

FILE = Source("file", "a.s1p", "", "a.s1p")
GRID = np.linspace(820e6, 880e6, 61)
MEASURED = os.environ.get("BANDWRIGHT_MEASURED", "")


@pytest.fixture
def plan_file(tmp_path: Path) -> Path:
    """LTE 20, 10 dB."""
    path = tmp_path / "plan.toml"
    path.write_text('name = "x"\n[[band]]\nname = "b"\nlow_mhz = 830\nhigh_mhz = 860\nvswr = 2\n')
    return path


def judged(reflection: ComplexArray, plan_file: Path, source: Source = FILE) -> Verdict:
    return judge(load_plan(plan_file), Reading(GRID, reflection), Plane.CONNECTOR, source)


@pytest.mark.parametrize(
    ("size", "state"), [(0.0, State.NOT_MEASURED), (9e-5, State.NOT_MEASURED), (2e-4, State.PASS)]
)
def test_what_is_deeper_than_80_db_across_a_band_is_no_reading(
    size: float, state: State, plan_file: Path
) -> None:
    """80 dB is 1e-4 [derived]."""
    assert judged(np.full(61, size + 0j), plan_file).overall is state


def test_a_deep_point_alone_is_a_deep_point_and_an_exact_zero_never_is(plan_file: Path) -> None:
    reading = 0.01 * np.exp(-1j * GRID / 3e8)
    reading[25] = 5e-5
    assert judged(reading, plan_file).overall is not State.NOT_MEASURED
    reading = 0.01 * np.exp(-1j * GRID / 3e8)
    reading[25] = 0
    found = judged(reading, plan_file)
    assert found.overall is State.NOT_MEASURED
    assert not missing_words(found.bands[0].reason, "nothing", "845 MHz", "measure it again")
    reading = 0.2 * np.exp(-1j * GRID / 3e8)  # so large that a zero looks like too coarse a grid
    reading[25] = 0
    assert not missing_words(judged(reading, plan_file).bands[0].reason, "nothing", "845 MHz")
    reading = 0.01 * np.exp(-1j * GRID / 3e8)
    reading[0] = 0  # outside of the band
    reading[25] = 0.01
    assert judged(reading, plan_file).overall is State.PASS


def test_a_point_that_fails_is_not_undone_by_zeros_beside_it(plan_file: Path) -> None:
    reading = np.full(61, 0.6 + 0j)
    reading[25] = 0
    assert judged(reading, plan_file).overall is State.FAIL


@pytest.mark.skipif(
    not MEASURED,
    reason="BANDWRIGHT_MEASURED is not set: published in ZiadHatab/srm-calibration",
)
def test_the_raw_readings_of_a_real_instrument_are_taken_as_raw_and_not_judged(
    tmp_path: Path,
) -> None:
    """Raw readings of a mismatch: its file calls itself raw by its name alone."""
    plan = tmp_path / "plan.toml"
    plan.write_text('name = "x"\n[[band]]\nname = "b"\nlow_mhz = 700\nhigh_mhz = 960\nvswr = 2\n')
    path = Path(MEASURED) / "coax_mismatch_offset_short" / "raw_mismatch.s2p"
    content = path.read_bytes()
    stated = stated_plane(content, path.name)
    assert stated.plane is Plane.RAW
    reading = parse_touchstone(content, path.name).reading
    found = judge(load_plan(plan), reading, stated.plane, FILE)
    assert found.overall is State.NOT_MEASURED
    assert not missing_words(found.bands[0].reason, "raw", "Calibrate")
    assert found.bands[0].worst_return_loss_db is None
