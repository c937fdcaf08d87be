"""Loss, wrong impedance, one bad place and shield current told apart, where the truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.cable.fault_causes import Finding, read_ripple, ripple_remarks
from acceptance.tuning.cable_ripple import cable_ripple
from acceptance.tuning.touch_test import Touch
from acquire.sweep import ComplexArray
from calibration.cable.distance_domain import Line, along
from calibration.cable.distance_to_fault import peaks
from calibration.plane.loss import LossLaw
from replay.virtual_bench.antenna import GOOD_SETTING
from replay.virtual_bench.pigtails import Pigtail
from tests.wording import missing_words

GRID = 5e6 * np.arange(1, 501)
LINE = Line(0.695)


def findings(
    reflection: ComplexArray, touch: Touch | None = None, line: Line = LINE
) -> list[Finding]:
    trace = along(GRID, reflection, line)
    return list(read_ripple(trace, peaks(trace), touch))


def cable(length_m: float, end: complex, **other: float) -> ComplexArray:
    """A piece of cable without joints."""
    pigtail = Pigtail("", length_m, near_h=0.0, far_f=0.0, **other)
    return pigtail.seen(np.full(GRID.size, end, dtype=complex), GRID)


def test_a_piece_of_75_ohm_is_told_with_both_its_ends() -> None:
    """1 m each of 50, 75, 50 ohm, open: steps of +/- 0.2, period v/2d, 104 MHz [derived]."""
    plain = Pigtail("", 1.0, loss_db_per_m=0.0, near_h=0, far_f=0)
    wrong = Pigtail("", 1.0, loss_db_per_m=0.0, line_ohm=75, near_h=0, far_f=0)
    end = plain.seen(np.full(GRID.size, 1 + 0j), GRID)
    found = findings(plain.seen(wrong.seen(end, GRID), GRID))
    piece = next(each for each in found if each.what == "wrong impedance")
    assert piece.distance_m == pytest.approx(1.0, abs=0.01)
    assert piece.text.startswith("From 1.00 to 2.00 m the line looks like about 7")
    assert "every 104 MHz" in piece.text
    assert not any(each.what == "loss" for each in found)


def test_a_dry_joint_is_one_place_and_goes_up() -> None:
    dry = Pigtail("", 2.0, loss_db_per_m=0.1, near_ohm=15.0, near_h=0, far_f=0)
    found = findings(dry.seen(np.full(GRID.size, 1 + 0j), GRID))
    place = next(each for each in found if each.what == "one place")
    assert place.text.startswith("The joint at the connector reflects 0.13")
    assert "a dry joint" in place.text
    assert "ripple every 52 MHz" in place.text


def test_what_reflects_most_at_the_connector_is_no_line_s_end() -> None:
    """It is the antenna, or a joint behind which all else is less: nobody can tell which."""
    joint = 0.27 + 0.05 * np.exp(-4j * np.pi * GRID * 1.5 / LINE.speed_m_per_s)
    (found,) = (each for each in findings(joint) if each.what == "one place")
    assert found.distance_m == pytest.approx(0, abs=0.01)
    assert "its joint reflects more than all behind it" in found.text
    assert not [each for each in findings(joint) if each.what == "nothing"]


def test_loss_that_was_not_stated_is_told_from_the_end() -> None:
    """An open that comes back at 0.794: 2 dB, so 1 dB one way [derived]."""
    found = findings(0.794 * np.exp(-4j * np.pi * GRID * 2.0 / LINE.speed_m_per_s))
    (loss,) = (each for each in found if each.what == "loss")
    assert "at 2.00 m comes back 2.0 dB less than all: 1.0 dB lost one way" in loss.text


def test_a_loss_stated_too_high_is_said() -> None:
    much = Line(0.695, LossLaw(0.05, 0.0))
    found = findings(cable(3.0, 1.0, loss_db_per_m=0.1), line=much)
    assert any("loses less than was stated" in each.text for each in found)


@pytest.mark.slow
def test_shield_current_is_known_by_touch_alone() -> None:
    quiet = findings(cable(1.0, 0.3))
    assert "grip the cable" in quiet[-1].text
    assert quiet[0].what == "nothing"
    moved = Touch("some", 3.0, 0.1, 0.5, 0.1, "The cable is a little part of the antenna.")
    told = findings(cable(1.0, 0.3), moved)
    assert [each.what for each in told] == ["outer-shield current"]
    unclear = Touch("unclear", 20.0, 8.0, 0.0, 0.0, "Unclear.")
    told = findings(cable(1.0, 0.3), unclear)
    assert [(each.what, each.text) for each in told[1:]] == [("outer-shield current", "Unclear.")]
    assert told[0].what == "nothing"
    still = Touch("none", 0.0, 0.0, 0.0, 0.0, "Nothing.")
    assert [each.what for each in findings(cable(1.0, 0.3), still)] == ["nothing"]


def test_a_sweep_s_own_ripple_names_its_cable() -> None:
    """3 m of velocity factor .695 behind a joint of 0.12, a load of 0.3 at its end, across 100 MHz:
    14.4 ns, a ripple every 34.7 MHz [derived]."""
    grid = np.linspace(800e6, 900e6, 81)
    delay_s = 3.0 / (0.695 * 299_792_458)
    seen = 0.12 + 0.3 * np.exp(-4j * np.pi * grid * delay_s)
    (said,) = ripple_remarks(grid, seen)
    assert not missing_words(said, "800 to 900 MHz", "ripples every 34.")
    assert "as 14.4 ns of cable do" in said
    assert "0.12 reflected at the one end and 0.30 coming back" in said
    assert "3.0 m at a velocity factor of 0.69" in said
    found = cable_ripple(grid, seen)
    assert found is not None
    assert found.delay_s == pytest.approx(delay_s, rel=0.02)
    assert ripple_remarks(grid, 0.2 + 0.0 * seen) == ()
    # two bands swept apart are read each by itself
    both = np.concatenate([grid, grid + 900e6])
    twice = 0.12 + 0.3 * np.exp(-4j * np.pi * both * delay_s)
    assert len(ripple_remarks(both, twice)) == 2


def test_an_antenna_s_dip_is_no_cable() -> None:
    grid = np.linspace(790e6, 870e6, 81)
    assert ripple_remarks(grid, GOOD_SETTING.reflection(grid)) == ()
