"""The bench's port shows what is on it, when it was put there, and through which pigtail."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from acquire.sweep import ComplexArray
from replay.clock import AcceleratedClock
from replay.errors import BenchError
from replay.virtual_bench.antenna import DELIVERED
from replay.virtual_bench.simulated_bench import (
    BENDING_S,
    ON_PORT,
    SCREWING_S,
    TRANSMITS_S,
    VirtualBench,
)

GRID_HZ = np.linspace(700e6, 2700e6, 41)
SETTLED_S = max(SCREWING_S, BENDING_S) + 0.01


def seen_now(bench: VirtualBench, clock: AcceleratedClock) -> ComplexArray:
    return bench.port_reflection(GRID_HZ, np.full(GRID_HZ.shape, clock.monotonic()))


@pytest.fixture
def clock() -> AcceleratedClock:
    return AcceleratedClock()


@pytest.fixture
def bench(clock: AcceleratedClock) -> VirtualBench:
    return VirtualBench(clock, seed=3)


def test_the_port_sees_the_device_through_the_pigtail_alone(
    bench: VirtualBench, clock: AcceleratedClock
) -> None:
    ratios = []
    for name in ("open", "short", "mismatch"):
        bench.screw_on(name)
        clock.advance(SETTLED_S)
        ratios.append(seen_now(bench, clock) / bench.true_reflection(GRID_HZ))
    # one line before them all, but for what a connector differs from one making to the next
    assert np.abs(ratios[0] - ratios[1]).max() < 0.01
    assert np.abs(ratios[0] - ratios[2]).max() < 0.03
    assert (np.abs(ratios[0]) < 1.0).all()


@pytest.mark.parametrize("name", ON_PORT)
def test_nothing_on_the_port_reflects_more_than_it_is_sent(
    bench: VirtualBench, clock: AcceleratedClock, name: str
) -> None:
    bench.screw_on(name)
    for _ in range(100):
        assert (np.abs(seen_now(bench, clock)) <= 1.0).all()
        clock.advance(0.021)


def test_readings_wander_while_something_is_being_screwed_on_and_then_stand_still(
    bench: VirtualBench, clock: AcceleratedClock
) -> None:
    bench.screw_on("load")
    assert not bench.state().steady
    wandering = []
    for _ in range(10):
        wandering.append(seen_now(bench, clock))
        clock.advance(SETTLED_S / 10.0)
    assert np.abs(np.diff(wandering, axis=0)).max() > 0.2
    assert bench.state().steady
    still = seen_now(bench, clock)
    clock.advance(3600.0)
    assert np.array_equal(seen_now(bench, clock), still)


def test_each_making_of_the_connector_differs_a_little_from_the_last(
    bench: VirtualBench, clock: AcceleratedClock
) -> None:
    made = []
    for _ in range(8):
        bench.screw_on("load")
        clock.advance(SETTLED_S)
        made.append(seen_now(bench, clock))
    spread = np.std(made, axis=0)
    # about -60 dB at 1 GHz [practice]
    assert 1e-4 < spread.mean() < 5e-3


def test_the_same_seed_makes_the_same_bench(clock: AcceleratedClock) -> None:
    first, again, other = (VirtualBench(clock, seed=seed) for seed in (5, 5, 6))
    for bench in (first, again, other):
        bench.screw_on("load")
    clock.advance(0.7)
    assert np.array_equal(seen_now(first, clock), seen_now(again, clock))
    clock.advance(SETTLED_S)
    assert np.array_equal(seen_now(first, clock), seen_now(again, clock))
    assert np.abs(seen_now(first, clock) - seen_now(other, clock)).max() > 1e-3


def test_a_sweep_half_done_when_the_hand_moves_sees_both(
    bench: VirtualBench, clock: AcceleratedClock
) -> None:
    bench.screw_on("open")
    clock.advance(10.0)
    changed_s = clock.monotonic()
    bench.screw_on("short")
    clock.advance(10.0)
    half = GRID_HZ.size // 2
    at_s = np.where(np.arange(GRID_HZ.size) < half, changed_s - 1.0, changed_s + SETTLED_S)
    seen = bench.port_reflection(GRID_HZ, at_s)
    before = bench.port_reflection(GRID_HZ, np.full(GRID_HZ.shape, changed_s - 1.0))
    after = seen_now(bench, clock)
    assert np.array_equal(seen[:half], before[:half])
    assert np.array_equal(seen[half:], after[half:])


def test_bending_what_is_on_the_port_shows_there_and_keeps_the_connector(
    bench: VirtualBench, clock: AcceleratedClock
) -> None:
    bench.screw_on("antenna")
    clock.advance(SETTLED_S)
    before = seen_now(bench, clock)
    bench.bend("arm_a", 2.0)
    clock.advance(SETTLED_S)
    assert np.abs(seen_now(bench, clock) - before).max() > 0.05
    bench.bend("arm_a", -2.0)
    clock.advance(SETTLED_S)
    assert np.array_equal(seen_now(bench, clock), before)


def test_bending_an_antenna_that_lies_beside_the_port_leaves_the_port_alone(
    bench: VirtualBench, clock: AcceleratedClock
) -> None:
    bench.screw_on("load")
    clock.advance(SETTLED_S)
    before = seen_now(bench, clock)
    assert bench.bend("arm_b", 1.0).dimensions_mm["arm_b"] == 40.0
    assert bench.state().steady
    assert np.array_equal(seen_now(bench, clock), before)


def test_another_antenna_comes_as_it_was_delivered(bench: VirtualBench) -> None:
    bench.bend("arm_a", 1.0)
    state = bench.fetch("mill-lane-7")
    assert state.antenna_name == "mill-lane-7"
    assert bench.antenna == DELIVERED["mill-lane-7"]
    assert bench.fetch("weir-3").dimensions_mm == DELIVERED["weir-3"].dimensions_mm


def test_what_is_not_on_the_bench_is_refused_in_a_sentence(bench: VirtualBench) -> None:
    with pytest.raises(BenchError, match=r"no 'sliding load' on the bench: screw on one of"):
        bench.screw_on("sliding load")
    with pytest.raises(BenchError, match=r"no antenna 'hilltop-1' on the bench: take one of"):
        bench.fetch("hilltop-1")
    with pytest.raises(BenchError, match=r"no kit 'waveguide': choose one of"):
        VirtualBench(kit="waveguide")


def test_a_refused_bend_changes_nothing(bench: VirtualBench) -> None:
    bench.screw_on("antenna")
    before = bench.state()
    with pytest.raises(BenchError):
        bench.bend("height", 50.0)
    assert bench.state() == before


def test_bending_from_one_thread_while_another_reads_loses_no_bend(
    bench: VirtualBench, clock: AcceleratedClock
) -> None:
    bench.screw_on("antenna")
    broken: list[bool] = []
    done = threading.Event()

    def read() -> None:
        while not done.is_set():
            broken.append(bool((np.abs(seen_now(bench, clock)) > 1.0).any()))

    def bend() -> None:
        for _ in range(100):
            bench.bend("arm_a", 0.1)
            bench.bend("arm_a", -0.05)

    reader, benders = threading.Thread(target=read), [threading.Thread(target=bend) for _ in "ab"]
    for thread in (reader, *benders):
        thread.start()
    for thread in benders:
        thread.join()
    done.set()
    reader.join()
    assert bench.antenna.arm_a_mm == pytest.approx(80.5 + 2 * 100 * 0.05)
    assert not any(broken)


def test_a_transmitter_nearby_is_heard_for_a_moment_at_some_points_and_then_no_more() -> None:
    clock = AcceleratedClock()
    bench = VirtualBench(clock, on_port="load")
    f = np.linspace(0.8e9, 0.9e9, 2001)
    quiet = bench.port_reflection(f, np.full(f.size, clock.monotonic()))
    bench.transmit_nearby()
    at_s = clock.monotonic() + np.linspace(0, 1.2, f.size)
    off = np.abs(bench.port_reflection(f, at_s) - quiet)
    assert off[at_s >= at_s[0] + TRANSMITS_S].max() == 0
    assert 0.01 < np.mean(off[at_s < at_s[0] + TRANSMITS_S] > 0.1) < 0.05
