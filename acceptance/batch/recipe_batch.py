"""A batch: antennas built by one recipe, and what their records tell together.

Each record is one look at what the recipe and the hands came to, in the order of time. The dips of
one record are told apart from each other by where most records have theirs, so that one that is
missing or too many in one antenna does not shift the names of the others.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from acceptance.batch.charted_series import Charted, ChartedSeries
from acceptance.batch.control_chart import control_chart
from acceptance.batch.yield_interval import Share, share
from acceptance.catalogue.record_summary import (
    BandResult,
    ConditionResult,
    DipResult,
    Judged,
    RecordSummary,
)
from acceptance.errors import RecordError
from acceptance.limits.decision import State

_Pairing = tuple[int, float, tuple[tuple[int, int], ...]]
"""How many pairs, minus how far apart they are together, and which: place and dip."""

DIP_MATCH_SHARE = 0.1
"""How far an antenna's dip may lie from where most have it, as a part of its frequency."""


@dataclass(frozen=True, slots=True)
class Built:
    """One record of the batch."""

    antenna: str
    folder: str
    at: datetime
    overall: State
    sizes_mm: Mapping[str, float]
    result: ConditionResult
    """The condition looked at."""
    again: bool
    """True where the antenna has an earlier record in the batch."""
    newest: bool
    """True where it is the antenna's last record in the batch."""


@dataclass(frozen=True, slots=True)
class BandYield:
    """How one band and link came out."""

    judged: Judged
    first: Share
    """Of the antennas' first records."""
    newest: Share
    """Of their newest records."""
    states: Mapping[State, int]
    """How many of the newest records came out how."""
    least_db: float | None
    """The least margin of the newest records, dB."""
    least_antenna: str


@dataclass(frozen=True, slots=True)
class Batch:
    """What the records of one recipe tell together."""

    built: tuple[Built, ...]
    """In the order of time."""
    antennas: int
    """How many antennas they are of."""
    first: Share
    """Antennas that passed the first time."""
    newest: Share
    """Antennas that pass by their newest record."""
    bands: tuple[BandYield, ...]
    """By frequency."""
    dips: tuple[ChartedSeries, ...]
    """Where each dip lies, MHz, from the lowest on."""
    margin: ChartedSeries | None
    """The least margin of each record, dB; None where none is known."""
    places: tuple[Mapping[int, DipResult], ...]
    """The dips of each record by number, counted from 1, in the order of `built`."""


def batch(
    summaries: Sequence[RecordSummary], condition: str = "", *, newest_only: bool = False
) -> Batch:
    """Put the records of one recipe together.

    condition : which condition of each to look at; the last one that decides without. Records that
    were not swept in it are left out. newest_only : leave out all but each antenna's newest record.
    Raises RecordError where nothing is left.
    """
    built = _in_order(summaries, condition)
    if newest_only:
        built = tuple(each for each in built if each.newest)
    if not built:
        raise RecordError(
            f'None of the {len(summaries)} records was swept in the condition "{condition}". Name '
            "another one."
            if condition and summaries
            else "There is no record to look at. Name a recipe that records have."
        )
    first = [each for each in built if newest_only or not each.again]
    newest = [each for each in built if each.newest]
    places = _places([each.result.dips for each in built])
    margins = [_least_db(each.result) for each in built]
    return Batch(
        built,
        len(newest),
        share(each.overall for each in first),
        share(each.overall for each in newest),
        _bands(first, newest),
        tuple(
            _series(
                f"dip {number}",
                "MHz",
                built,
                [_mhz(dips.get(number)) for dips in places],
            )
            for number in sorted({number for dips in places for number in dips})
        ),
        _series("margin", "dB", built, margins) if any(m is not None for m in margins) else None,
        places,
    )


def _in_order(summaries: Sequence[RecordSummary], condition: str) -> tuple[Built, ...]:
    swept = [(summary, result) for summary in summaries if (result := summary.condition(condition))]
    swept.sort(key=lambda pair: (pair[0].entry.at, pair[0].entry.folder))
    left = Counter(summary.entry.antenna for summary, _ in swept)
    seen: set[str] = set()
    built = []
    for summary, result in swept:
        antenna = summary.entry.antenna
        left[antenna] -= 1
        built.append(
            Built(
                antenna,
                summary.entry.folder,
                summary.entry.at,
                result.overall if condition else summary.entry.overall,
                summary.sizes_mm,
                result,
                antenna in seen,
                left[antenna] == 0,
            )
        )
        seen.add(antenna)
    return tuple(built)


def _bands(first: Sequence[Built], newest: Sequence[Built]) -> tuple[BandYield, ...]:
    judged = dict.fromkeys(band.judged for each in (*newest, *first) for band in each.result.bands)
    found = []
    for one in judged:
        now, then = _of(newest, one), _of(first, one)
        margins = [
            (band.margin_or_bound_db, each.antenna)
            for each, band in now
            if band.margin_or_bound_db is not None
        ]
        least_db, least_antenna = min(margins, default=(None, ""))
        found.append(
            BandYield(
                one,
                share(band.state for _, band in then),
                share(band.state for _, band in now),
                Counter(band.state for _, band in now),
                least_db,
                least_antenna,
            )
        )
    return tuple(sorted(found, key=lambda each: (each.judged.low_hz, each.judged.title)))


def _of(built: Sequence[Built], judged: Judged) -> list[tuple[Built, BandResult]]:
    return [(each, band) for each in built for band in each.result.bands if band.judged == judged]


def _series(
    name: str, unit: str, built: Sequence[Built], values: Sequence[float | None]
) -> ChartedSeries:
    there = [(each, value) for each, value in zip(built, values, strict=True) if value is not None]
    missing = [each.antenna for each, value in zip(built, values, strict=True) if value is None]
    return ChartedSeries(
        name,
        unit,
        tuple(Charted(each.antenna, each.at, each.folder) for each, _ in there),
        control_chart([value for _, value in there]),
        tuple(dict.fromkeys(missing)),
    )


def _mhz(dip: DipResult | None) -> float | None:
    return None if dip is None else dip.frequency_hz / 1e6


def _least_db(result: ConditionResult) -> float | None:
    """Least margin of a condition's bands; None where that of one is not known."""
    margins = [
        each.margin_or_bound_db for each in result.bands if each.margin_or_bound_db is not None
    ]
    return min(margins) if margins and len(margins) == len(result.bands) else None


def _places(of_records: Sequence[Sequence[DipResult]]) -> tuple[dict[int, DipResult], ...]:
    """Number the dips of each record, counted from 1, by where most records have theirs."""
    seen = [[dip for dip in dips if not dip.beyond] for dips in of_records]
    counts = Counter(len(dips) for dips in seen if dips)
    if not counts:
        return tuple({} for _ in seen)
    usual = max(counts, key=lambda count: (counts[count], count))
    typical = [dips for dips in seen if len(dips) == usual]
    where = [median(dips[n].frequency_hz for dips in typical) for n in range(usual)]
    return tuple(_paired(dips, where) for dips in seen)


def _paired(dips: Sequence[DipResult], where: Sequence[float]) -> dict[int, DipResult]:
    """Give dips to places so that they stay in order, as many as can be, and as near as can be."""
    best: dict[tuple[int, int], _Pairing] = {}
    for n in range(len(dips) + 1):
        for m in range(len(where) + 1):
            # the best pairing of the first n dips with the first m places
            choices = [best[before] for before in ((n - 1, m), (n, m - 1)) if before in best]
            if n and m:
                away = abs(math.log(dips[n - 1].frequency_hz / where[m - 1]))
                if away <= DIP_MATCH_SHARE:
                    count, distance, pairs = best[n - 1, m - 1]
                    choices.append((count + 1, distance - away, (*pairs, (m, n - 1))))
            best[n, m] = max(choices, key=lambda each: each[:2], default=(0, 0.0, ()))
    return {m: dips[n] for m, n in best[len(dips), len(where)][2]}
