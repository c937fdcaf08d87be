"""A batch: yield, dips by number and charts, of records made of radiators whose sizes are known."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.batch.recipe_batch import Batch, batch
from acceptance.batch.yield_interval import Share
from acceptance.catalogue.record_summary import DipResult, RecordSummary
from acceptance.errors import RecordError
from acceptance.limits.decision import State
from dashboard.demo.example_batch import COUNT, CUT_SHORT, JIG_WEARS_FROM


@pytest.fixture(scope="module")
def whole(summaries: list[RecordSummary]) -> Batch:
    return batch(summaries)


def with_dips(summary: RecordSummary, *dips_mhz: float, beyond: str = "") -> RecordSummary:
    """A card of the same unit, with other dips."""
    (look,) = summary.conditions
    dips = tuple(DipResult(mhz * 1e6, 12.0, 30e6, "") for mhz in dips_mhz)
    if beyond:
        dips += (DipResult(2150e6, 8.0, 30e6, beyond),)
    return dataclasses.replace(summary, conditions=(dataclasses.replace(look, dips=dips),))


@pytest.mark.slow
def test_each_unit_counts_once_by_its_first_record_and_once_by_its_newest(
    summaries: list[RecordSummary], whole: Batch
) -> None:
    first: dict[str, State] = {}
    newest: dict[str, State] = {}
    for summary in summaries:
        first.setdefault(summary.entry.antenna, summary.entry.overall)
        newest[summary.entry.antenna] = summary.entry.overall
    assert whole.antennas == COUNT
    assert len(whole.built) == COUNT + 1
    assert whole.first == Share(list(first.values()).count(State.PASS), COUNT)
    assert whole.newest == Share(list(newest.values()).count(State.PASS), COUNT)
    assert whole.newest.passed == whole.first.passed + 1  # the gauge with the new arm


def test_each_band_has_its_own_yield_and_its_least_margin(
    summaries: list[RecordSummary], whole: Batch
) -> None:
    assert [band.judged.low_hz for band in whole.bands] == sorted(
        band.judged.low_hz for band in whole.bands
    )
    newest = {summary.entry.antenna: summary for summary in summaries}.values()
    for band in whole.bands:
        own = [
            (each.margin_or_bound_db, summary.entry.antenna, each.state)
            for summary in newest
            for each in summary.conditions[0].bands
            if each.judged == band.judged
        ]
        assert band.newest.passed == sum(state is State.PASS for _, _, state in own)
        assert (band.least_db, band.least_antenna) == min(own)[:2]
        assert sum(band.states.values()) == COUNT


def test_the_charts_are_of_the_dips_in_the_order_they_were_built(
    summaries: list[RecordSummary], whole: Batch
) -> None:
    low, high = whole.dips
    assert (low.name, low.unit) == ("dip 1", "MHz")
    for number, series in enumerate((low, high)):
        mhz = [summary.conditions[0].dips[number].frequency_hz / 1e6 for summary in summaries]
        assert list(series.chart.values) == mhz
        assert series.chart.mean == pytest.approx(np.mean(mhz))
        assert series.chart.sd == pytest.approx(np.std(mhz, ddof=1))
    assert whole.margin is not None
    assert list(whole.margin.chart.values) == [
        summary.entry.margin_or_bound_db for summary in summaries
    ]


def test_the_gauge_cut_short_and_the_worn_jig_are_found(whole: Batch) -> None:
    low, high = whole.dips
    assert low.charted[low.chart.outliers[0]].label == "ford-3"
    assert low.chart.outliers[0] == CUT_SHORT
    worn = [each for each in low.chart.runs if not each.upward]
    assert worn
    assert worn[-1].last == COUNT  # to the end of the batch
    assert JIG_WEARS_FROM - 1 <= worn[-1].first <= JIG_WEARS_FROM + 3
    assert high.chart.ordinary  # arm B came off another jig


@given(st.randoms(use_true_random=False))
def test_the_order_in_which_records_are_given_does_not_matter(
    summaries: list[RecordSummary], whole: Batch, random: object
) -> None:
    mixed = list(summaries)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    assert batch(mixed) == whole


def test_a_dip_missing_or_too_many_does_not_shift_the_names_of_the_others(
    summaries: list[RecordSummary],
) -> None:
    some = [with_dips(summary, 830 + n, 1780 - n) for n, summary in enumerate(summaries[:8])]
    some[2] = with_dips(summaries[2], 1779.0)
    some[4] = with_dips(summaries[4], 834.0, 1100.0, 1776.0)
    some[5] = with_dips(summaries[5], 835.0, 1775.0, beyond="above")
    some[6] = with_dips(summaries[6])
    found = batch(some)
    assert len(found.dips) == 2
    low, high = found.dips
    assert low.chart.values == (830, 831, 833, 834, 835, 837)
    assert low.missing == (summaries[2].entry.antenna, summaries[6].entry.antenna)
    assert high.chart.values == (1780, 1779, 1779, 1777, 1776, 1775, 1773)
    assert high.missing == (summaries[6].entry.antenna,)


def test_two_dips_near_one_place_are_told_apart_by_which_is_nearer(
    summaries: list[RecordSummary],
) -> None:
    some = [with_dips(summary, 830.0, 1780.0) for summary in summaries[:5]]
    some[3] = with_dips(summaries[3], 812.0, 828.0, 1790.0)
    assert batch(some).dips[0].chart.values == (830, 830, 830, 828, 830)


def test_a_batch_without_dips_has_yield_all_the_same(summaries: list[RecordSummary]) -> None:
    found = batch([with_dips(summary) for summary in summaries[:3]])
    assert found.dips == ()
    assert found.antennas == 3
    assert found.margin is not None


def test_only_the_newest_record_of_each_unit_if_wished(summaries: list[RecordSummary]) -> None:
    found = batch(summaries, newest_only=True)
    assert len(found.built) == found.antennas == COUNT
    assert found.first == found.newest


def test_a_margin_that_is_not_known_leaves_the_record_out_of_that_chart(
    summaries: list[RecordSummary],
) -> None:
    (look,) = summaries[0].conditions
    unknown = dataclasses.replace(look.bands[0], margin_or_bound_db=None, state=State.NOT_MEASURED)
    other = dataclasses.replace(
        summaries[0],
        conditions=(dataclasses.replace(look, bands=(unknown, *look.bands[1:])),),
    )
    found = batch([other, *summaries[1:5]])
    assert found.margin is not None
    assert len(found.margin.chart.values) == 4
    assert found.margin.missing == (summaries[0].entry.antenna,)


def test_a_condition_that_none_was_swept_in_is_refused(summaries: list[RecordSummary]) -> None:
    with pytest.raises(
        RecordError, match='None of the 25 records was swept in the condition "wet"'
    ):
        batch(summaries, "wet")
    with pytest.raises(RecordError, match="no record to look at"):
        batch([])
