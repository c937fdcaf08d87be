"""The rule of thumb bends the right way and gets both demo antennas there."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.decision import State
from acceptance.plan import parse_plan
from acceptance.store import load_bands
from acceptance.verdict import Verdict, judge
from acquire.sweep import Plane, Reading, Source
from dashboard import scenario
from dashboard.bending import Bender
from replay.antenna import DELIVERED, GOOD_SETTING, BentStrip

GRID_HZ = np.concatenate([np.arange(785e6, 876e6, 0.5e6), np.arange(1700e6, 1891e6, 2e6)])


def verdict_on(strip: BentStrip) -> Verdict:
    plan = parse_plan(scenario.PLAN, "plan", load_bands())
    reading = Reading(GRID_HZ, strip.reflection(GRID_HZ))
    return judge(plan, reading, Plane.CONNECTOR, Source("file", "strip", "", "strip"))


def test_a_dip_that_lies_too_high_wants_a_longer_arm_and_too_low_a_shorter_one() -> None:
    """f = c / 4l: a longer arm resonates lower [derived]."""
    for arm in ("arm_a_mm", "arm_b_mm"):
        for delta_mm in (-4.0, 4.0):
            bend = Bender().next_bend(verdict_on(GOOD_SETTING.bent(arm, delta_mm)))
            assert bend is not None
            assert bend[0] == arm
            assert np.sign(bend[1]) == -np.sign(delta_mm)


@pytest.mark.parametrize("name", DELIVERED)
def test_a_few_bends_make_a_delivered_antenna_pass(name: str) -> None:
    strip, bender = DELIVERED[name], Bender()
    for _ in range(12):
        bend = bender.next_bend(verdict_on(strip))
        if bend is None:
            break
        strip = strip.bent(*bend)
    assert verdict_on(strip).overall is State.PASS


def test_nothing_is_bent_once_everything_passes() -> None:
    assert Bender().next_bend(verdict_on(GOOD_SETTING)) is None
