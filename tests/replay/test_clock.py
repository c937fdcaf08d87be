"""Clocks for rehearsals: one jumps, one hurries."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta

import pytest

from replay.clock import AcceleratedClock, FastClock

START = datetime(2026, 1, 31, 12, 0, tzinfo=UTC)


def test_waiting_on_the_accelerated_clock_jumps_exactly_so_far() -> None:
    clock = AcceleratedClock(START)
    assert clock.wait(threading.Event(), 3600.0) is False
    assert clock.monotonic() == 3600.0
    assert clock.now() == START + timedelta(hours=1)


def test_an_event_that_is_set_is_not_waited_for() -> None:
    event = threading.Event()
    event.set()
    clock = AcceleratedClock(START)
    assert clock.wait(event, 3600.0) is True
    assert clock.monotonic() == 0.0


def test_no_clock_runs_backwards() -> None:
    clock = AcceleratedClock(START)
    clock.advance(2.0)
    clock.wait(threading.Event(), -1.0)
    assert clock.monotonic() == 2.0
    with pytest.raises(ValueError, match="runs forwards"):
        FastClock(0.0)


def test_the_fast_clock_passes_a_simulated_hour_in_a_moment() -> None:
    clock = FastClock(1e6, START)
    assert clock.wait(threading.Event(), 3600.0) is False
    assert clock.monotonic() >= 3600.0
    assert clock.now() >= START + timedelta(hours=1)
    assert clock.now().tzinfo is UTC
