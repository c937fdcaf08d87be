"""What is swept whole and what is watched closely are never taken for each other."""

from __future__ import annotations

from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import numpy as np

from acquire.coverage.spans import Span
from acquire.sweep import Plane, Source, Sweep, SweepRequest
from dashboard.bench.parts.recent_sweeps import RecentSweeps

WHOLE = (SweepRequest(0.68e9, 1.0e9, 300), SweepRequest(1.4e9, 2.2e9, 300))
WHOLE_S = 3.0
COVERAGE: Any = SimpleNamespace(passes=WHOLE, seconds=WHOLE_S)
PROFILE: Any = SimpleNamespace(
    analyzer_corrected=False,
    timing=SimpleNamespace(seconds_per_point=WHOLE_S / 600),
    limits=SimpleNamespace(points=1001),
)
LOW: tuple[Span, ...] = ((0.791e9, 0.821e9),)
HIGH: tuple[Span, ...] = ((1.805e9, 1.88e9),)


def swept(passes: tuple[SweepRequest, ...], number: int) -> Sweep:
    f = np.concatenate([each.grid_hz() for each in passes])
    when = datetime(2026, 5, 1, tzinfo=UTC)
    source = Source("virtual", "invented", "invented", "virtual:")
    return Sweep(f, np.full(f.size, 0.5j), Plane.RAW, when, number, source, passes)


def watching(spans: tuple[Span, ...]) -> RecentSweeps:
    recent = RecentSweeps(None)
    for number in (1, 2):
        recent.take(swept(WHOLE, number), number * WHOLE_S)
        recent.watch(COVERAGE, PROFILE, lambda: spans)
    assert recent.focus is not None
    return recent


def short(recent: RecentSweeps) -> tuple[SweepRequest, ...]:
    """The next short sweep that is asked for; whole ones come in between."""
    begun = (tuple(recent.next_passes(COVERAGE)) for _ in range(3))
    return next(passes for passes in begun if passes != WHOLE)


def test_a_short_sweep_of_what_is_no_longer_watched_is_not_taken_for_a_whole_one() -> None:
    """It was asked for, and comes after the hands have gone on to another band."""
    recent = watching(LOW)
    late = short(recent)
    recent.watch(COVERAGE, PROFILE, lambda: HIGH)
    now = short(recent)
    assert now != late
    assert not recent.take(swept(late, 3), 9.0)
    assert recent.averaged is not None
    assert recent.averaged.sweep.frequency_hz.size == 600
    assert not recent.take(swept(now, 4), 9.5)
    assert recent.averaged.sweep.sequence == 4


def test_nor_is_one_that_comes_after_all_is_swept_anew() -> None:
    recent = watching(LOW)
    late = short(recent)
    recent.sweep_anew()
    assert not recent.take(swept(late, 3), 9.0)
    assert recent.whole is not None
    assert recent.whole.sweep.request == WHOLE
