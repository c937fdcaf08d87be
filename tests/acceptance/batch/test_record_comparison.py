"""Units lined up: every band of each, under the limit it was judged by, on scales that hold all."""

from __future__ import annotations

import dataclasses

import pytest

from acceptance.batch.record_comparison import MOST_COMPARED, compare_records
from acceptance.catalogue.record_summary import RecordSummary
from acceptance.errors import RecordError
from acceptance.limits.limit import Limit


def test_each_cell_is_that_unit_s_own_band(summaries: list[RecordSummary]) -> None:
    found = compare_records(summaries[:MOST_COMPARED])
    assert [each.letter for each in found.antennas] == list("ABCDEFGHIJKL")
    assert len(found.bands) == 5
    assert [row.judged.low_hz for row in found.bands] == sorted(
        row.judged.low_hz for row in found.bands
    )
    for row in found.bands:
        for antenna, result in zip(found.antennas, row.results, strict=True):
            (own,) = [each for each in antenna.result.bands if each.judged == row.judged]
            assert result is own


def test_the_ends_are_the_least_margin_and_the_largest(summaries: list[RecordSummary]) -> None:
    found = compare_records(summaries[:5])
    for row in found.bands:
        margins = [each.margin_or_bound_db or 0.0 for each in row.results if each is not None]
        assert row.ends == (margins.index(min(margins)), margins.index(max(margins)))
    assert all(row.ends is None for row in compare_records(summaries[:1]).bands)


def test_a_band_under_another_limit_is_another_row(summaries: list[RecordSummary]) -> None:
    (look,) = summaries[1].conditions
    first = look.bands[0]
    other_limit = dataclasses.replace(first.judged, limit=Limit.return_loss(14))
    tighter = dataclasses.replace(first, judged=other_limit)
    other = dataclasses.replace(
        summaries[1],
        conditions=(dataclasses.replace(look, bands=(tighter, *look.bands[1:])),),
    )
    found = compare_records([summaries[0], other])
    assert len(found.bands) == 6
    alone = [row for row in found.bands if None in row.results]
    assert {row.judged.title for row in alone} == {tighter.judged.title}
    assert all(row.ends is None for row in alone)


def test_the_scales_hold_every_band_and_dip_and_part_far_ones(
    summaries: list[RecordSummary],
) -> None:
    found = compare_records(summaries[:6])
    assert len(found.scales) == 2  # near 800 MHz and near 1.8 GHz
    wanted = [hz for row in found.bands for hz in (row.judged.low_hz, row.judged.high_hz)]
    wanted += [dip.frequency_hz for each in found.antennas for dip in each.result.dips]
    for hz in wanted:
        assert sum(low < hz < high for low, high in found.scales) == 1


def test_more_than_twelve_are_refused_and_none_too(summaries: list[RecordSummary]) -> None:
    with pytest.raises(RecordError, match="13 records cannot be held against each other"):
        compare_records(summaries[:13])
    with pytest.raises(RecordError, match="name 1 to 12 of them"):
        compare_records([])


def test_a_condition_that_was_not_swept_is_refused_with_those_that_were(
    summaries: list[RecordSummary],
) -> None:
    with pytest.raises(RecordError, match=r'no condition "wet"\. It has: finished\.'):
        compare_records(summaries[:2], "wet")
