"""Units lined up: every band of each, under the limit it was judged by, on scales that hold all."""

from __future__ import annotations

import dataclasses

import pytest

from acceptance.batch.side_by_side import MOST, line_up
from acceptance.catalogue.entry import Card
from acceptance.errors import RecordError
from acceptance.limits.limit import Limit


def test_each_cell_is_that_unit_s_own_band(cards: list[Card]) -> None:
    found = line_up(cards[:MOST])
    assert [each.letter for each in found.units] == list("ABCDEFGHIJKL")
    assert len(found.bands) == 5
    assert [row.judged.low_hz for row in found.bands] == sorted(
        row.judged.low_hz for row in found.bands
    )
    for row in found.bands:
        for unit, result in zip(found.units, row.results, strict=True):
            (own,) = [each for each in unit.result.bands if each.judged == row.judged]
            assert result is own


def test_the_ends_are_the_least_margin_and_the_largest(cards: list[Card]) -> None:
    found = line_up(cards[:5])
    for row in found.bands:
        margins = [each.spare_db or 0.0 for each in row.results if each is not None]
        assert row.ends == (margins.index(min(margins)), margins.index(max(margins)))
    assert all(row.ends is None for row in line_up(cards[:1]).bands)


def test_a_band_under_another_limit_is_another_row(cards: list[Card]) -> None:
    (look,) = cards[1].conditions
    first = look.bands[0]
    other_limit = dataclasses.replace(first.judged, limit=Limit.return_loss(14))
    tighter = dataclasses.replace(first, judged=other_limit)
    other = dataclasses.replace(
        cards[1],
        conditions=(dataclasses.replace(look, bands=(tighter, *look.bands[1:])),),
    )
    found = line_up([cards[0], other])
    assert len(found.bands) == 6
    alone = [row for row in found.bands if None in row.results]
    assert {row.judged.title for row in alone} == {tighter.judged.title}
    assert all(row.ends is None for row in alone)


def test_the_scales_hold_every_band_and_dip_and_part_far_ones(cards: list[Card]) -> None:
    found = line_up(cards[:6])
    assert len(found.scales) == 2  # near 800 MHz and near 1.8 GHz
    wanted = [hz for row in found.bands for hz in (row.judged.low_hz, row.judged.high_hz)]
    wanted += [dip.frequency_hz for each in found.units for dip in each.result.dips]
    for hz in wanted:
        assert sum(low < hz < high for low, high in found.scales) == 1


def test_more_than_twelve_are_refused_and_none_too(cards: list[Card]) -> None:
    with pytest.raises(RecordError, match="13 records cannot be held against each other"):
        line_up(cards[:13])
    with pytest.raises(RecordError, match="name 1 to 12 of them"):
        line_up([])


def test_a_condition_that_was_not_swept_is_refused_with_those_that_were(
    cards: list[Card],
) -> None:
    with pytest.raises(RecordError, match=r'no condition "wet"\. It has: finished\.'):
        line_up(cards[:2], "wet")
