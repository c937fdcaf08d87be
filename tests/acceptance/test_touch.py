"""A hand on the cable tells whether the cable is part of the antenna."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.curve import Curve
from acceptance.dips import Dip
from acceptance.plan_table import parse_plan
from acceptance.store import load_bands
from acceptance.touch import touch
from acceptance.tracking import Tracked

PLAN = parse_plan(
    'name = "x"\n[[band]]\nlte = 20\nreturn_loss_db = 10\n', "plan.toml", load_bands()
)
F = np.linspace(0.75e9, 0.9e9, 151)


def look(dip_mhz: float, size: float = 0.2) -> Curve:
    dip = Tracked(1, Dip(dip_mhz * 1e6, 1e4, 0.1, 8e8, 9e8))
    flat = np.full(F.size, size)
    return Curve(F, flat, np.zeros(F.size), PLAN.targets, (dip,))


def test_nothing_that_does_not_come_back_is_called_current() -> None:
    found = touch(look(820.0), look(820.3), look(820.2))
    assert found.current == "none"
    assert "changes nothing to speak of" in found.text
    drifted = touch(look(820.0), look(824.0), look(823.0))
    assert drifted.current == "none", "it did not come back, so it was no hand"


def test_a_dip_that_moves_with_the_hand_is_called_current_and_what_helps_is_said() -> None:
    found = touch(look(820.0), look(822.0), look(820.1))
    assert found.current == "some"
    assert found.shift_mhz == pytest.approx(2.0)
    assert "+2.0 MHz (it repeats within 0.1)" in found.text
    assert "ferrite on the cable" in found.text
    assert touch(look(820.0), look(812.0), look(820.1)).current == "strong"


def test_a_margin_that_moves_with_the_hand_counts_without_any_dip() -> None:
    """|G| .2 to .25: 1.94 dB [derived]."""
    found = touch(look(820.0, 0.2), look(820.0, 0.25), look(820.0, 0.2))
    assert found.change_db == pytest.approx(-1.94, abs=0.01)
    assert found.current == "strong"
    without = Curve(F, np.full(F.size, 0.2), np.zeros(F.size), PLAN.targets, ())
    assert touch(without, without, without).current == "none"
    nothing = Curve(F, np.full(F.size, 0.2), np.zeros(F.size), (), ())
    assert touch(nothing, nothing, nothing).change_db == 0
