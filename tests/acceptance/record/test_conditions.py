"""What an enclosure, sealant or rain does to a unit, so that the next one is tuned for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from acceptance.errors import PlanError
from acceptance.plan.acceptance_plan import FINISHED
from acceptance.record.conditions import (
    KNOWN_CONDITIONS,
    ConditionComparison,
    DipShift,
    MarginChange,
    words_of,
)
from acceptance.record.examination import ExaminedCondition, examine
from acceptance.report.condition_changes import Changes
from acceptance.verdict.wording import margin
from calibration.uncertainty.budget import Budget
from calibration.uncertainty.covariance import of_minimum, uncertainty_of
from tests.acceptance.made import accepted, plan
from tests.wording import missing_words


def test_a_seal_that_pulls_the_dip_down_is_told_with_how_to_tune_for_it() -> None:
    """838 to 820 MHz: 18 MHz low, so 18 MHz high before sealing [derived]."""
    examined = examine(accepted(dips_hz=(838e6, 820e6)))
    (comparison,) = examined.condition_comparisons
    (dip,) = comparison.dips
    assert dip.shift_hz == pytest.approx(-18e6, abs=0.3e6)
    assert comparison.words.startswith(
        "Sealed against bare: the dip at 838 MHz lies 18.0 MHz lower"
    )
    assert not missing_words(comparison.words, "tune the next", "18 MHz high", "bare")
    worst = [each.margin_or_bound_db for each in examined.conditions[1].verdict.bands]
    before = [each.margin_or_bound_db for each in examined.conditions[0].verdict.bands]
    for change, one, other in zip(comparison.margins, before, worst, strict=True):
        assert one is not None
        assert other is not None
        assert change.change_db == pytest.approx(other - one)


def test_how_far_a_dip_moved_is_told_with_how_sure_that_is() -> None:
    """Both conditions are read under one calibration: surer than where either dip lies."""
    examined = examine(accepted(dips_hz=(838e6, 820e6)))
    (comparison,) = examined.condition_comparisons
    (dip,) = comparison.dips
    one, other = (
        of_minimum(known_budget(each), each.corrected.reflection, each.dips[0].frequency_hz, 10e6)
        for each in examined.conditions
    )
    apart_hz = float(np.hypot(uncertainty_of(one), uncertainty_of(other)))
    assert dip.uncertainty_hz is not None
    assert 0 < dip.uncertainty_hz < 0.9 * apart_hz
    changes = Changes.of(examined)
    assert changes is not None
    assert changes.rows[-1][1][1] == f"−18.0 ± {dip.uncertainty_hz / 1e6:.1f} MHz"
    for change in comparison.margins:
        assert change.uncertainty_db is not None
        assert 0 < change.uncertainty_db < 3


def known_budget(condition: ExaminedCondition) -> Budget:
    assert condition.interval.budget is not None
    return condition.interval.budget


def test_what_may_be_no_move_at_all_is_not_called_one() -> None:
    dip = DipShift(1, 838e6, 836e6, 20.0, 20.0, uncertainty_hz=3e6)
    change = MarginChange(plan().targets[0], 3.0, 2.0, uncertainty_db=1.5)
    unsure = ConditionComparison("bare", "sealed", (dip,), (change,))
    assert not missing_words(unsure.words, "nothing", "bare")
    surer = (replace(dip, uncertainty_hz=1e6),), (replace(change, uncertainty_db=0.5),)
    told = ConditionComparison("bare", "sealed", *surer).words
    assert not missing_words(told, "2.0 MHz lower", "1.0 dB worse")


def test_a_condition_that_changes_nothing_says_so() -> None:
    (comparison,) = examine(accepted(dips_hz=(838e6, 838e6))).condition_comparisons
    assert not missing_words(comparison.words, "sealed", "nothing", "bare")


def test_one_condition_has_nothing_to_be_held_against() -> None:
    one = plan('name = "x"\n[[band]]\nlte = 20\nreturn_loss_db = 8\n')
    assert one.conditions == one.judged == (FINISHED,)
    assert examine(accepted(dips_hz=(838e6,), wanted=one)).condition_comparisons == ()


def test_every_judged_condition_decides_and_the_worst_is_the_whole() -> None:
    text = 'conditions = ["bare", "sealed"]\njudged = ["bare", "sealed"]\n'
    wanted = plan(f'name = "x"\n{text}[[band]]\nlte = 20\nreturn_loss_db = 6\n')
    examined = examine(accepted(dips_hz=(827e6, 700e6), wanted=wanted))
    states = [str(each.verdict.overall) for each in examined.conditions]
    assert states == ["pass", "fail"]
    assert str(examined.overall) == "fail"


def test_a_condition_of_one_s_own_is_said_as_it_is_written() -> None:
    assert words_of("under-snow").label == "under snow"
    assert not missing_words(words_of("under-snow").instruction, "under snow")


def test_what_can_hurt_carries_its_caution() -> None:
    assert "power lines" in KNOWN_CONDITIONS["mast"].instruction
    assert "licensed" in KNOWN_CONDITIONS["mast"].instruction
    assert "away from the connector" in KNOWN_CONDITIONS["wet"].instruction


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ('conditions = ["Bare"]', "small letters, digits and dashes"),
        ("conditions = []", "one to twelve names"),
        ('conditions = ["a", "a"]', 'names "a" twice'),
        ('conditions = ["con"]', "which no folder may be called"),
        ('judged = ["wet"]', 'judged names "wet", which is none of the conditions'),
        ("warm_up_minutes = -1", "minutes from 0 to 600"),
        ("antennas = 0", "whole number from 1 to 16"),
    ],
)
def test_a_plan_s_wishes_for_an_acceptance_are_held_to_what_can_be(lines: str, words: str) -> None:
    with pytest.raises(PlanError, match=words):
        plan(f'name = "x"\n{lines}\n[[band]]\nlte = 20\nreturn_loss_db = 8\n')


def test_a_unit_of_two_antennas_is_told_that_isolation_was_not_measured() -> None:
    two = plan('name = "x"\nantennas = 2\n[[band]]\nlte = 20\nreturn_loss_db = 8\n')
    notes = examine(accepted(dips_hz=(838e6,), wanted=two)).conditions[0].verdict.notes
    assert any(note.startswith("Isolation was not measured") for note in notes)


def test_the_table_has_a_cell_for_each_band_and_dip_in_each_condition() -> None:
    examined = examine(accepted(dips_hz=(838e6, 820e6)))
    changes = Changes.of(examined)
    assert changes is not None
    assert changes.conditions == ("bare", "sealed")
    rows = dict(changes.rows)
    assert list(rows) == ["Margin, LTE 20 uplink", "Margin, LTE 20 downlink", "Dip at 838 MHz"]
    assert rows["Dip at 838 MHz"] == ("", "−18.0 ± 1.2 MHz")
    for examined_condition, cell in zip(
        examined.conditions, rows["Margin, LTE 20 uplink"], strict=True
    ):
        assert cell == margin(examined_condition.verdict.bands[0])
    assert changes.words == tuple(each.words for each in examined.condition_comparisons)


def test_there_is_no_table_of_one_condition() -> None:
    one = plan('name = "x"\n[[band]]\nlte = 20\nreturn_loss_db = 8\n')
    assert Changes.of(examine(accepted(dips_hz=(838e6,), wanted=one))) is None
