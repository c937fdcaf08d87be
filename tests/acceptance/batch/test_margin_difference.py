"""How far apart two antennas are: what one calibration has wrong in both does not count."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from acceptance.batch.margin_difference import margin_difference
from acceptance.catalogue.record_summary import Judged
from acceptance.record.acceptance_record import Acceptance
from acceptance.record.examination import examine
from calibration.one_port_calibration import Calibration
from tests.acceptance import made
from tests.wording import missing_words

ONE = made.accepted("weir-3", (838e6, 820e6))
OTHER = made.accepted("weir-4", (841e6, 823e6))


def uplink(acceptance: Acceptance) -> Judged:
    target = acceptance.plan.targets[0]
    return Judged(target.name, target.link, target.low_hz, target.high_hz, target.limit)


def test_two_antennas_under_one_calibration_are_surer_apart_than_either_is_known() -> None:
    one, other = examine(ONE), examine(OTHER)
    found = margin_difference(uplink(ONE), [("bare", one), ("bare", other)])
    assert found is not None
    assert found.one_calibration
    margins = [each.conditions[0].verdict.bands[0].margin_db for each in (one, other)]
    assert found.difference_db == pytest.approx((margins[1] or 0) - (margins[0] or 0))
    again = examine(replace(OTHER, calibration=_of_tomorrow(OTHER)))
    apart = margin_difference(uplink(ONE), [("bare", one), ("bare", again)])
    assert apart is not None
    assert not apart.one_calibration
    assert found.uncertainty_db < 0.5 * apart.uncertainty_db
    assert not missing_words(found.words, "0.9", "0.4", "one calibration corrected both")
    assert not missing_words(apart.words, "not swept under one calibration", "no more than")


def test_a_wrong_load_moves_both_and_hardly_their_difference() -> None:
    """Both antennas seen through the same wrong load: the difference stays within what is told."""
    one, other = examine(ONE), examine(OTHER)
    found = margin_difference(uplink(ONE), [("bare", one), ("bare", other)])
    assert found is not None
    rng = np.random.default_rng(4)
    outside = 0
    for _ in range(200):
        load = 0.01 * np.exp(2j * np.pi * rng.uniform())
        moved = []
        for each in (one, other):
            true = each.conditions[0].corrected.reflection
            worst_hz = each.conditions[0].verdict.bands[0].worst_frequency_hz or 0.0
            at = int(np.argmin(np.abs(made.F - worst_hz)))
            moved.append(-20 * np.log10(np.abs((true[at] - load) / (1 - load * true[at]))))
            moved.append(-20 * np.log10(np.abs(true[at])))
        change = (moved[2] - moved[0]) - (moved[3] - moved[1])
        outside += abs(change) > found.uncertainty_db
    assert outside <= 10


def test_what_is_in_one_plan_only_is_not_compared() -> None:
    other = replace(uplink(ONE), low_hz=1e9, high_hz=1.1e9)
    assert margin_difference(other, [("bare", examine(ONE)), ("bare", examine(OTHER))]) is None
    pair = [("bare", examine(ONE)), ("a condition nobody swept", examine(OTHER))]
    assert margin_difference(uplink(ONE), pair) is None


def _of_tomorrow(acceptance: Acceptance) -> Calibration:
    calibration = acceptance.calibration
    assert calibration is not None
    return replace(calibration, taken_at=calibration.taken_at + timedelta(seconds=1))
