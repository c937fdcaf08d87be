"""Antennas lined up over one another: the same bands, the same scale of frequency."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acceptance.catalogue.record_summary import BandResult, ConditionResult, Judged, RecordSummary
from acceptance.errors import RecordError

MOST_COMPARED = 12
RECORD_LETTERS = "ABCDEFGHIJKL"
SCALE_GAP_FACTOR = 1.25
"""Bands and dips further apart than by this factor get a scale of their own."""
SCALE_MARGIN = 0.02
"""How much of its frequency a scale shows beyond what lies on it."""


@dataclass(frozen=True, slots=True)
class ComparedRecord:
    """One record in the line-up."""

    letter: str
    """What it is called in tables and pictures."""
    summary: RecordSummary
    result: ConditionResult
    """The condition that is held against those of the others."""


@dataclass(frozen=True, slots=True)
class BandRow:
    """One band and link under one limit, of every antenna."""

    judged: Judged
    results: tuple[BandResult | None, ...]
    """In the order of the antennas; None where an antenna's plan has no such band and limit."""

    @property
    def ends(self) -> tuple[int, int] | None:
        """Numbers of the antenna with the least margin and of that with the largest; None where
        fewer than two are known."""
        known = [
            (each.margin_or_bound_db, number)
            for number, each in enumerate(self.results)
            if each is not None and each.margin_or_bound_db is not None
        ]
        return (min(known)[1], max(known)[1]) if len(known) > 1 else None


@dataclass(frozen=True, slots=True)
class RecordComparison:
    """Up to twelve antennas over one another."""

    antennas: tuple[ComparedRecord, ...]
    bands: tuple[BandRow, ...]
    """By frequency."""
    scales: tuple[tuple[float, float], ...]
    """Stretches of frequency, Hz, that together hold every band and dip."""


def compare_records(summaries: Sequence[RecordSummary], condition: str = "") -> RecordComparison:
    """Line antennas up in the order given.

    condition : which condition of each; the last one that decides without. Raises RecordError for
    more than MOST antennas, for none, and where one was not swept in that condition.
    """
    if not 1 <= len(summaries) <= MOST_COMPARED:
        raise RecordError(
            f"{len(summaries)} records cannot be held against each other: "
            f"name 1 to {MOST_COMPARED} of them."
        )
    antennas = []
    for letter, summary in zip(RECORD_LETTERS, summaries, strict=False):
        result = summary.condition(condition)
        if result is None:
            swept = ", ".join(each.name for each in summary.conditions)
            which = f'"{condition}"' if condition else "that decides"
            raise RecordError(
                f"The record {summary.entry.folder} has no condition {which}. It has: {swept}."
            )
        antennas.append(ComparedRecord(letter, summary, result))
    bands = _rows([each.result.bands for each in antennas])
    found = [(each.judged.low_hz, each.judged.high_hz) for each in bands]
    found += [(dip.frequency_hz, dip.frequency_hz) for each in antennas for dip in each.result.dips]
    return RecordComparison(tuple(antennas), bands, _scales(found))


def _rows(of_units: Sequence[Sequence[BandResult]]) -> tuple[BandRow, ...]:
    judged = dict.fromkeys(each.judged for bands in of_units for each in bands)
    rows = [
        BandRow(one, tuple(next((b for b in bands if b.judged == one), None) for bands in of_units))
        for one in judged
    ]
    return tuple(
        sorted(rows, key=lambda row: (row.judged.low_hz, row.judged.high_hz, row.judged.title))
    )


def _scales(found: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Stretches that hold everything found, parted where there is nothing for long."""
    scales: list[tuple[float, float]] = []
    for low, high in sorted(found):
        if scales and low <= scales[-1][1] * SCALE_GAP_FACTOR:
            scales[-1] = (scales[-1][0], max(scales[-1][1], high))
        else:
            scales.append((low, high))
    return tuple((low * (1 - SCALE_MARGIN), high * (1 + SCALE_MARGIN)) for low, high in scales)
