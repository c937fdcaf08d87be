"""What the last calibrations say of a new one, and what takes a doubt away."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from calibration.capture.standard_capture import StandardReading
from calibration.errors import CalibrationError
from calibration.evidence import DeviceCheck, Doubt, DriftCheck
from calibration.files.calibration_file import calibration_text, parse_calibration
from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.past_calibrations import compared_with_past, once_only, settled
from calibration.verification.verification_device import SmallLoad
from tests.calibration.verification.rough_bench import RoughBench, in_series
from tests.calibration.verification.test_term_change import FAULTS, moved_db
from tests.counts import LONG, QUICK
from tests.wording import missing_words

KIT = load_kit("3.5mm-plug-50")
BENCHES, SERIES = 200 if LONG else 5 if QUICK else 20, 5
"""In `make long` 1,000 recalibrations."""
LOOSE = {"load": in_series(3, 0.8e-9)}


def bench(seed: int = 1) -> RoughBench:
    return RoughBench(KIT, np.random.default_rng(seed))


def test_a_first_calibration_has_nothing_to_be_held_against_and_that_is_shown() -> None:
    found = compared_with_past(bench().calibration(), [])
    assert not found.known
    assert found.doubts == ()
    assert not missing_words(found.words, "no earlier calibration", "kept")


def test_a_loose_load_is_named_with_what_would_do_the_same() -> None:
    here = bench()
    past = [here.calibration() for _ in range(3)]
    found = compared_with_past(here.calibration(LOOSE), past)
    assert found.known
    assert found.against is past[-1]
    (doubt,) = found.doubts
    assert (doubt.cause, doubt.standard, doubt.settled_by) == ("load", "load", "device")
    assert not missing_words(doubt.words, "2026-05-04", "nH", "in series", "now", "second load")
    doubted = here.calibration(LOOSE).with_doubts(found.doubts)
    assert doubted.warnings[-1] == doubt.words
    assert doubt.words not in doubted.with_doubts(()).warnings


def test_a_load_that_was_loose_the_last_time_is_settled_by_connecting_it_anew() -> None:
    here = bench()
    past = [here.calibration(LOOSE)]
    found = compared_with_past(here.calibration(), past)
    (doubt,) = found.doubts
    assert doubt.settled_by == "remake"
    assert not missing_words(doubt.words, "then", "loose")


@pytest.mark.parametrize("joints", [(0.0, 0.003), (0.003, 0.01)])
def test_of_honest_recalibrations_in_series_hardly_any_is_doubted(
    joints: tuple[float, float],
) -> None:
    """At most 5 in 1,000, each held against all that was made of its bench before it."""
    doubted = 0
    for seed in range(BENCHES):
        here = bench(9000 + seed)
        past = [here.calibration(joints=joints)]
        for _ in range(SERIES):
            now = here.calibration(joints=joints)
            found = compared_with_past(now, past)
            doubted += bool(found.doubts)
            past.append(now.with_doubts(found.doubts))
    assert doubted <= BENCHES * SERIES * 5 // 1000


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_found_and_named_against_a_history_too(fault: str) -> None:
    """95 of 100 of those that move a reading of 10 dB by more than 1 dB, or refused outright."""
    found: Counter[str] = Counter()
    for seed in range(BENCHES):
        here = bench(7000 + seed)
        past = [here.calibration() for _ in range(3)]
        name, seen = FAULTS[fault](np.random.default_rng(seed))
        before = here.rng.bit_generator.state
        right = here.calibration()
        here.rng.bit_generator.state = before  # the same day, but for the fault
        try:
            wrong = replace(here.calibration({name: seen}), taken_at=right.taken_at)
        except CalibrationError:
            continue
        if moved_db(right, wrong) > 1:
            doubts = compared_with_past(wrong, past).doubts
            found["named" if [each.cause for each in doubts] == [name] else "missed"] += 1
    assert found["named"] >= 0.95 * found.total()


def test_those_in_doubt_of_another_cable_and_of_another_analyzer_do_not_count() -> None:
    here = bench()
    one = here.calibration()
    other = Doubt("load", "It may be wrong.")
    past = [
        one.with_doubts([other]),
        replace(one, cable="blue"),
        replace(one, source=replace(one.source, analyzer="mill-lane-7")),
        replace(one, taken_at=one.taken_at + timedelta(days=9)),
    ]
    assert compared_with_past(here.calibration(), past).compared == ()


def test_what_creeps_a_little_every_day_is_found_in_the_end() -> None:
    """Each day's 1 ohm more is less than joints made anew change."""
    here = bench(2)
    past: list[Calibration] = []
    doubted = []
    for day in range(9):
        creeping = here.calibration({"load": in_series(1.2 * day, 0)}, joints=(0.0, 0.002))
        doubted.append(bool(compared_with_past(creeping, past).doubts))
        past.append(creeping)
    assert not doubted[1]
    assert any(doubted)


def test_another_cable_of_the_same_name_is_not_taken_for_a_bad_standard() -> None:
    here = bench()
    past = [here.calibration()]
    found = compared_with_past(here.calibration(cable=(0.7, 3e-9)), past)
    assert not found.known, "its load is anybody's guess"
    (doubt,) = found.doubts
    assert doubt.cause in ("path", "several")
    assert not missing_words(doubt.words, "cable")


def test_a_second_load_that_agrees_settles_a_doubt_of_the_load() -> None:
    here = bench()
    now = here.calibration().with_doubts([once_only("load")])
    assert settled(now, Assumptions()) is now
    raw = now.readings["load"]
    device = DeviceCheck(SmallLoad("second load", 20.0), raw, now.taken_at + timedelta(hours=1))
    with_it = now.with_evidence(device)
    assert settled(with_it, Assumptions()).doubts == ()
    assert with_it.warnings


def test_the_load_made_anew_settles_that_it_was_connected_once() -> None:
    here = bench()
    now = here.calibration().with_doubts([once_only("load")])
    raw = now.readings["load"]
    at = now.taken_at + timedelta(minutes=5)
    same = now.with_evidence(DriftCheck("load", raw, at))
    assert settled(same, Assumptions()).warnings == ()
    loose = StandardReading("load", raw.frequency_hz, raw.reflection + 0.1, raw.sweeps, raw.noise)
    other = now.with_evidence(DriftCheck("load", loose, at))
    assert settled(other, Assumptions()).doubts == now.doubts


def test_doubts_and_the_cable_travel_with_the_file() -> None:
    here = bench()
    now = replace(here.calibration(), cable="blue, 1 m").with_doubts([once_only("load")])
    again = parse_calibration(calibration_text(now).encode(), "again.json")
    assert again.doubts == now.doubts
    assert again.warnings == now.warnings
    assert again.cable == "blue, 1 m"
