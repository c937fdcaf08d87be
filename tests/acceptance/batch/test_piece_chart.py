"""The check piece: held against what is stated of it, against its first reading, and its chart."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from acceptance.batch.control_chart import LEAST_VALUES
from acceptance.batch.piece_chart import judged_piece, piece_series
from calibration.verification.check_piece import PieceReading
from tests.wording import missing_words

F = np.linspace(0.7e9, 2.7e9, 21)
DAY = datetime(2026, 5, 1, 7, 0, tzinfo=UTC)


def reading(
    decibels: float, day: int = 0, stated: float | None = None, width: float = 0.01
) -> PieceReading:
    size = 10 ** (-decibels / 20)
    return PieceReading(
        "two loads on a tee", DAY + timedelta(days=day), "made", "unit", tuple(F),
        (size,) * F.size, (width,) * F.size, stated,
    )  # fmt: skip


def days(decibels: list[float], stated: float | None = None) -> list[PieceReading]:
    found: list[PieceReading] = []
    for day, each in enumerate(decibels):
        found.append(judged_piece(reading(each, day, stated), found))
    return found


def test_25_ohm_read_the_power_that_they_reflect() -> None:
    assert reading(9.542).mean_db == pytest.approx(9.542)  # VSWR 2 is 9.542 dB [derived]


@pytest.mark.parametrize(("read", "holds"), [(9.5, True), (9.9, True), (10.3, False), (8.6, False)])
def test_a_piece_is_held_against_what_is_stated_of_it(read: float, holds: bool) -> None:
    """.01 of .333 are .26 dB; with .3 dB stated that is .4 dB together [derived]."""
    found = judged_piece(reading(read, stated=9.54), [])
    assert found.holds is holds
    if not holds:
        assert not missing_words(found.words, f"{read:.2f} dB", "are right", "calibrate anew")


def test_a_piece_of_which_nothing_is_stated_is_held_against_its_first_reading() -> None:
    first, good, bad = days([10.4, 10.5, 11.4])
    assert "the first reading" in first.words
    assert (first.holds, good.holds, bad.holds) == (True, True, False)


def test_its_chart_finds_a_change_that_both_readings_might_hide() -> None:
    random = np.random.default_rng(4)
    quiet = list(9.54 + 0.04 * random.standard_normal(LEAST_VALUES))
    found = days([*quiet, 9.55, 9.95], stated=9.54)
    assert all(each.holds for each in found[:-1])
    assert not found[-1].holds, "0.4 dB are within what is stated, and no ordinary day"
    assert not missing_words(found[-1].words, "by its chart", "are ordinary", "Tighten")
    assert days([9.54] * LEAST_VALUES + [9.63])[-1].holds, "joints by hand move it by so much"


def test_what_did_not_hold_is_no_measure_of_what_is_ordinary() -> None:
    found = days([9.54, 9.5, 14.0, 9.6, 9.5, 9.58, 9.56, 9.52, 9.49, 9.55, 9.9], stated=9.54)
    assert [each.holds for each in found].count(False) == 2
    series = piece_series(found)
    assert series is not None
    assert len(series.charted) == len(found), "all are shown"
    assert series.charted[0].label == "05-01"


def test_other_pieces_and_other_bands_are_no_measure() -> None:
    other = [replace(each, piece="pad") for each in days([3.0, 3.0, 3.0])]
    assert "the first reading" in judged_piece(reading(9.5, 3), other).words
    elsewhere = replace(reading(3.0), frequency_hz=tuple(F + 5e9))
    assert "the first reading" in judged_piece(reading(9.5, 1), [elsewhere]).words


@pytest.mark.parametrize(
    "broken",
    [
        {"holds": "perhaps"}, {"taken_at": "2026-05-01T07:00:00"}, {"reflection": []},
        {"half_width": [1, 2]}, {"piece": None}, {"reflection": [float("nan")] * 21},
        {"frequency_hz": "many"},
    ],
)  # fmt: skip
def test_what_was_kept_is_read_back_whole_or_not_at_all(broken: dict[str, object]) -> None:
    kept = reading(9.5, stated=9.54)
    assert PieceReading.from_json(kept.as_json()) == kept
    with pytest.raises(ValueError):  # noqa: PT011 - pydantic's, and our own
        PieceReading.from_json({**kept.as_json(), **broken})
