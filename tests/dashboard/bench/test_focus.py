"""A slow unit watches one band closely, and no strip grows too old."""

from __future__ import annotations

from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from acquire.sweep import Plane, Source, Sweep, SweepRequest
from calibration.capture.averaging import Averaged
from dashboard.bench.focus import OLDEST_S, Attention, together

WHOLE = (SweepRequest(0.68e9, 1.0e9, 300), SweepRequest(1.4e9, 2.2e9, 300))
BAND = [(0.791e9, 0.821e9), (0.832e9, 0.862e9)]


def unit(seconds_per_point: float) -> Any:
    return SimpleNamespace(
        timing=SimpleNamespace(seconds_per_point=seconds_per_point),
        limits=SimpleNamespace(points=1001),
    )


def watching(whole_s: float, spans: Any = BAND) -> Attention:
    attention = Attention()
    attention.watch(WHOLE, whole_s, spans, unit(whole_s / 600))
    return attention


@pytest.mark.parametrize("whole_s", [1.2, 2.0, 4.0, 8.0, 20.0])
def test_the_watched_band_is_updated_four_times_as_often_and_no_strip_grows_too_old(
    whole_s: float,
) -> None:
    """Counted over ten minutes of sweeps as long as they are said to be [derived]."""
    attention = watching(whole_s)
    now, updates, last_whole, oldest = 0.0, 0, 0.0, 0.0
    while now < 600:
        passes = attention.next_passes()
        short = passes != WHOLE
        now += (passes[0].points if short else 600) * whole_s / 600
        updates += 1
        if not short:
            oldest, last_whole = max(oldest, now - last_whole), now
    assert oldest <= max(OLDEST_S, 2 * whole_s) + 1e-9
    assert updates >= 4 * 600 / whole_s


def test_a_quick_unit_and_one_that_watches_nothing_sweep_the_whole_every_time() -> None:
    for attention in (watching(0.5), watching(3.0, [])):
        assert attention.focus is None
        assert {attention.next_passes() for _ in range(20)} == {WHOLE}


def test_what_was_never_swept_whole_is_not_watched() -> None:
    assert watching(3.0, [(1.1e9, 1.2e9)]).focus is None
    at_the_edge = watching(3.0, [(0.69e9, 0.72e9)]).focus
    assert at_the_edge is not None
    assert at_the_edge.span == (0.69e9, 0.72e9)


def test_the_short_sweep_covers_its_bands_and_is_denser_where_time_allows() -> None:
    focus = watching(3.0).focus
    assert focus is not None
    assert focus.span[0] < BAND[0][0] < BAND[1][1] < focus.span[1]
    assert focus.request.points <= 600 / 8
    attention = Attention()
    coarse = (SweepRequest(0.68e9, 1.0e9, 60), SweepRequest(1.4e9, 2.2e9, 540))
    attention.watch(coarse, 3.0, [(0.791e9, 0.821e9)], unit(3.0 / 600))
    assert attention.focus is not None
    assert attention.focus.request.step_hz < coarse[0].step_hz


def averaged(request: SweepRequest, value: complex, number: int) -> Averaged:
    f = request.grid_hz()
    when = datetime(2026, 5, 1, tzinfo=UTC)
    source = Source("virtual", "invented", "invented", "virtual:")
    sweep = Sweep(f, np.full(f.size, value), Plane.RAW, when, number, source, (request,))
    return Averaged(sweep, (sweep,), np.full(f.size, 0.001 * number), (), None)


def test_a_whole_reading_takes_the_newer_short_one_in() -> None:
    whole, short = averaged(WHOLE[0], 0.5, 3), averaged(SweepRequest(0.79e9, 0.86e9, 99), 0.2, 4)
    joined = together(whole, short)
    f, g = joined.sweep.frequency_hz, joined.sweep.reflection
    inside = (f >= 0.79e9) & (f <= 0.86e9)
    assert np.unique(g[inside]).tolist() == [0.2]
    assert np.unique(g[~inside]).tolist() == [0.5]
    assert np.count_nonzero(inside) == 99
    assert joined.sweep.sequence == 4
    assert joined.noise is not None
    assert joined.noise.shape == f.shape


def test_a_short_one_from_before_is_left_aside() -> None:
    whole, short = averaged(WHOLE[0], 0.5, 5), averaged(SweepRequest(0.79e9, 0.86e9, 99), 0.2, 4)
    assert together(whole, short) is whole
    assert together(whole, None) is whole
