"""A hand on the cable tells whether the cable is part of the antenna."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.bands.load import load_bands
from acceptance.plan.plan_file import parse_plan
from acceptance.tuning.dip_tracking import Tracked
from acceptance.tuning.dips import Dip
from acceptance.tuning.shifted_curve import Curve
from acceptance.tuning.touch_test import Touch, touch

PLAN = parse_plan(
    'name = "x"\n[[band]]\nlte = 20\nreturn_loss_db = 10\n', "plan.toml", load_bands()
)
F = np.linspace(0.75e9, 0.9e9, 151)


def look(dip_mhz: float, size: float = 0.2) -> Curve:
    dip = Tracked(1, Dip(dip_mhz * 1e6, 1e4, 0.1, 8e8, 9e8))
    flat = np.full(F.size, size)
    return Curve(F, flat, np.zeros(F.size), PLAN.targets, (dip,))


def dips(*of_number: tuple[int, float], bottom: float = 0.1) -> Curve:
    found = [Tracked(number, Dip(mhz * 1e6, 1e4, bottom, 8e8, 9e8)) for number, mhz in of_number]
    return Curve(F, np.full(F.size, 0.2), np.zeros(F.size), PLAN.targets, tuple(found))


def test_what_matters_to_nobody_is_no_current() -> None:
    found = touch(look(820.0), look(820.3), look(820.2))
    assert found.current == "none"
    assert found.tells
    assert "changes nothing to speak of" in found.text


def test_what_does_not_come_back_shows_neither_current_nor_that_there_is_none() -> None:
    found = touch(look(820.0), look(840.0), look(828.0))
    assert found.current == "unclear"
    assert not found.tells
    assert found.text == (
        "Unclear: what changed did not come back when the hand let go. The dip at 820 MHz moves by "
        "+20.0 MHz (it repeats within 8.0); the worst margin changes by +0.0 dB (repeats within "
        "0.0). Tighten the connector, let the cable lie still, and do the touch test again."
    )
    still = touch(look(820.0), look(820.2), look(824.0))
    assert still.current == "unclear", "what drifts so far can hide as much"
    margin = touch(look(820.0, 0.2), look(820.0, 0.25), look(820.0, 0.23))
    assert margin.current == "unclear"


def test_a_dip_that_does_not_repeat_hides_no_other_that_does() -> None:
    found = touch(
        dips((1, 760.0), (2, 850.0)), dips((1, 790.0), (2, 854.0)), dips((1, 775.0), (2, 850.1))
    )
    assert found.current == "some"
    assert found.shift_mhz == pytest.approx(4.0)
    assert "The dip at 850 MHz moves by +4.0 MHz (it repeats within 0.1)" in found.text


def test_a_band_that_does_not_repeat_hides_no_other_that_does() -> None:
    two = parse_plan(
        'name = "x"\n[[band]]\nname = "a"\nlow_mhz = 760\nhigh_mhz = 780\nreturn_loss_db = 10\n'
        '[[band]]\nname = "b"\nlow_mhz = 860\nhigh_mhz = 880\nreturn_loss_db = 10\n',
        "plan.toml",
        load_bands(),
    )

    def sized(low: float, high: float) -> Curve:
        return Curve(F, np.where(F < 8.2e8, low, high), np.zeros(F.size), two.targets, ())

    found = touch(sized(0.2, 0.2), sized(0.28, 0.22), sized(0.26, 0.2))
    assert found.current == "some"
    assert found.change_db == pytest.approx(-0.83, abs=0.01)


def test_a_dip_that_vanishes_under_the_hand_is_a_strong_change_if_it_comes_back() -> None:
    found = touch(dips((1, 820.0)), dips(), dips((2, 820.4)))
    assert found.current == "strong"
    assert (
        "The dip at 820 MHz vanishes under the hand and comes back (within 0.4 MHz)" in found.text
    )
    assert touch(dips((1, 820.0)), dips(), dips()).current == "unclear"
    assert touch(dips((1, 820.0)), dips((1, 820.0)), dips()).current == "unclear"
    shallow = dips((1, 820.0), bottom=0.8)
    assert touch(shallow, dips(), shallow).current == "none", "such come and go with the noise"


def test_with_nothing_to_watch_nothing_is_told() -> None:
    nothing = Curve(F, np.full(F.size, 0.2), np.zeros(F.size), (), ())
    assert touch(nothing, nothing, nothing).text.startswith("Unclear: neither a dip nor a band")
    gone = dips((1, 820.0))
    uncovered = Curve(F[:5], np.full(5, 0.2), np.zeros(5), (), gone.dips)
    assert touch(gone, uncovered, gone).current == "none", "a band that was not swept is left out"


def test_no_other_outcome_is_read_of_a_record() -> None:
    with pytest.raises(ValueError, match="none, unclear, some, strong, and no other"):
        Touch("little", 0.0, 0.0, 0.0, 0.0, "")  # type: ignore[arg-type]


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
