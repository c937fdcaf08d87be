"""What known devices prove of the residual errors, and what they do not."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from acquire.sweep import ComplexArray, Plane, Reading, Source, Sweep
from calibration.calibration_budget import budget_of
from calibration.errors import CalibrationError
from calibration.evidence import KnownDevice
from calibration.files.store import load_kit
from calibration.uncertainty.budget import Budget, Contribution
from calibration.uncertainty.interval import interval
from calibration.verification.device_comparison import Verification, verify
from calibration.verification.residual_bounds import bound_by, together_from
from calibration.verification.verification_device import (
    CertifiedDevice,
    EndedLine,
    OwnStandard,
    SmallLoad,
    StatedDevice,
)
from tests.calibration.random_benches import FREQUENCY_HZ, Faults, HiddenBench
from tests.counts import LONG, enough

BENCHES = 1000 if LONG else 200
ENOUGH = enough(BENCHES)
"""An exact 95 % interval holds at least so many in nearly all runs (binomial) [derived]."""
WHEN = datetime(2026, 5, 1, 10, 0, tzinfo=UTC)
SOURCE = Source("virtual", "hidden bench", "invented", "virtual:")
POINTS = FREQUENCY_HZ.size
NOTHING = np.zeros(POINTS, dtype=complex)
FULL_REFLECTION = np.ones(POINTS, dtype=complex)
LOAD_40, LOAD_26 = 10**-2.0, 10 ** (-26 / 20)


def bench_of(seed: int, load: float, kit: str = "3.5mm-plug-50", **faults: float) -> HiddenBench:
    return HiddenBench(load_kit(kit), Faults(load, **faults), np.random.default_rng(seed))


def measured(
    bench: HiddenBench, budget: Budget, device: KnownDevice, true: ComplexArray | None = None
) -> Verification:
    """The device read on the bench; true: what it really reflects."""
    really = device.reflection(FREQUENCY_HZ) if true is None else true
    sweep = Sweep(FREQUENCY_HZ, bench.read(really), Plane.CONNECTOR, WHEN, 1, SOURCE, ())
    return verify(bench.calibration, budget, device, sweep)


def drift_checks(
    bench: HiddenBench, budget: Budget, name: str, drifted: float = 1e-3
) -> Verification:
    """A standard on again: it reads what it read when captured, but for a little."""
    device = OwnStandard.of(bench.calibration, name)
    read = device.reflection(FREQUENCY_HZ) + drifted
    sweep = Sweep(FREQUENCY_HZ, read, Plane.CONNECTOR, WHEN, 1, SOURCE, ())
    return verify(bench.calibration, budget, device, sweep)


def certified(name: str, value: complex, expanded: float = 0.002) -> CertifiedDevice:
    return CertifiedDevice(name, Reading(FREQUENCY_HZ, np.full(POINTS, value)), expanded)


def size(budget: Budget, name: str, reflection: np.ndarray = NOTHING) -> np.ndarray:
    return sum(
        (each.size(reflection) for each in budget.contributions if each.name == name),
        start=np.zeros(POINTS),
    )


def names(budget: Budget) -> set[str]:
    return {each.name for each in budget.contributions}


def test_a_better_second_load_bounds_the_first() -> None:
    """A load of 40 dB that nobody stated is taken for 26 dB, until a 40 dB device says better."""
    bench = bench_of(1, LOAD_40)
    budget = budget_of(bench.calibration, bench.stated(None))
    seen = measured(bench, budget, SmallLoad("second load", 40.0))
    found = bound_by(budget, [seen])
    load = next(each for each in found.contributions if each.name == "the load's definition")
    assert load.origin == "measured"
    assert "second load" in load.words
    difference_bound = size(found, "the load's definition", seen.reflection)
    assert (difference_bound >= seen.difference + seen.stated - 1e-12).all()
    assert (difference_bound < LOAD_26).all()
    floors = [interval(each, NOTHING).floor.max() for each in (found, budget)]
    assert floors[0] < 0.7 * floors[1]
    assert names(found) == names(budget)


def test_everything_but_the_load_stays_as_it_was() -> None:
    bench = bench_of(1, LOAD_40)
    budget = budget_of(bench.calibration, bench.stated(None))
    found = bound_by(budget, [measured(bench, budget, SmallLoad("second load", 40.0))])
    for name in names(budget) - {"the load's definition"}:
        np.testing.assert_array_equal(
            size(found, name, FULL_REFLECTION), size(budget, name, FULL_REFLECTION)
        )


def test_a_second_load_of_unknown_quality_proves_nothing_more() -> None:
    """A good En alone lowers no budget: 26 dB against 26 dB stays 26 dB."""
    bench = bench_of(2, LOAD_40)
    budget = budget_of(bench.calibration, bench.stated(None))
    seen = measured(bench, budget, SmallLoad("second load", 26.0))
    assert seen.normalised.max() < 1
    assert bound_by(budget, [seen]) is budget


def test_what_was_stated_is_lowered_by_what_is_seen_to_be_less() -> None:
    bench = bench_of(3, LOAD_40)
    budget = budget_of(bench.calibration, bench.stated(26.0))
    seen = measured(bench, budget, SmallLoad("second load", 46.0))
    found = size(bound_by(budget, [seen]), "the load's definition", seen.reflection)
    assert (found >= seen.difference + seen.stated - 1e-12).all()
    assert (found < LOAD_26).all()


def test_a_load_worse_than_stated_raises_the_budget_to_what_was_seen() -> None:
    bench = bench_of(4, 0.12)
    budget = budget_of(bench.calibration, bench.stated(30.0))
    seen = measured(bench, budget, certified("certified load", 0.0))
    assert not seen.passed
    found = size(bound_by(budget, [seen]), "the load's definition")
    assert (found > 0.1).all()
    assert (found < 0.16).all()


def test_a_device_of_unknown_phase_judges_and_bounds_nothing() -> None:
    bench = bench_of(5, LOAD_40)
    budget = budget_of(bench.calibration, bench.stated(None))
    seen = measured(bench, budget, StatedDevice("mismatch", 0.19, 0.21), 0.2 * FULL_REFLECTION)
    assert bound_by(budget, [seen]) is budget


@pytest.mark.parametrize("name", ["open", "short", "load"])
def test_a_standard_put_back_bounds_drift_and_never_a_definition(name: str) -> None:
    bench = bench_of(6, LOAD_26)
    budget = budget_of(bench.calibration, bench.stated(None), age_s=30 * 3600)
    seen = drift_checks(bench, budget, name)
    found = bound_by(budget, [seen])
    for each in ("open", "short", "load"):
        definition = f"the {each}'s definition"
        np.testing.assert_array_equal(size(found, definition), size(budget, definition))
        np.testing.assert_array_equal(
            size(found, definition, FULL_REFLECTION), size(budget, definition, FULL_REFLECTION)
        )
    if name == "load":
        assert (size(found, "drift") < 0.6 * size(budget, "drift")).all()


def test_open_and_short_put_back_bound_the_drift_of_tracking_and_source_match() -> None:
    bench = bench_of(7, LOAD_26)
    budget = budget_of(bench.calibration, bench.stated(None), age_s=60 * 3600)
    seen = [drift_checks(bench, budget, name) for name in ("open", "short")]
    found = bound_by(budget, seen)
    assert "drift of tracking and source match" in names(found)
    assert (
        size(found, "drift of tracking and source match", FULL_REFLECTION)
        < size(budget, "drift", FULL_REFLECTION)
    ).all()
    np.testing.assert_array_equal(
        size(found, "the open's definition", FULL_REFLECTION),
        size(budget, "the open's definition", FULL_REFLECTION),
    )


def test_an_offset_short_and_open_bound_open_and_short_definitions_together() -> None:
    """An ideal kit may be 10 ps off; two devices known to 1 ps prove that it is not. Told by
    readings that a turned open moves: those across it are as sure without."""
    bench = bench_of(8, LOAD_40, "ideal", connection=2e-4, noise=1e-4)
    budget = budget_of(bench.calibration, bench.stated(None))
    seen = [
        measured(bench, budget, device)
        for device in (
            SmallLoad("second load", 46.0),
            EndedLine(name="offset short", kind="short", delay_ps=30.0, plane_ps=0.5,
                      match_return_loss_db=60.0, loss_tolerance_db=0.01),
            EndedLine(name="offset open", kind="open", delay_ps=30.0, plane_ps=0.5,
                      match_return_loss_db=60.0, loss_tolerance_db=0.01),
        )
    ]  # fmt: skip
    found = bound_by(budget, seen)
    together = next(e for e in found.contributions if e.name == "tracking and source match")
    assert together.origin == "measured"
    assert "offset short and offset open" in together.words
    top = FREQUENCY_HZ > 1.5e9
    assert (size(found, "the short's definition", FULL_REFLECTION)[top] == 0).all()
    for reflection in (0.5j * FULL_REFLECTION, np.exp(1j) * FULL_REFLECTION):
        before, after = interval(budget, reflection), interval(found, reflection)
        assert (after.upward[top] < before.upward[top]).all()


def test_one_offset_short_alone_sees_too_few_phases() -> None:
    """30 ps turn by 2 degrees in 5 % of 1 GHz [derived: 4 pi f tau]: nothing is replaced."""
    bench = bench_of(9, LOAD_40, "ideal")
    budget = budget_of(bench.calibration, bench.stated(None))
    short = EndedLine(name="offset short", kind="short", delay_ps=30.0, plane_ps=0.5)
    found = bound_by(budget, [measured(bench, budget, short)])
    assert "the short's definition" in names(found)
    np.testing.assert_array_equal(
        size(found, "the short's definition", FULL_REFLECTION),
        size(budget, "the short's definition", FULL_REFLECTION),
    )


def test_a_contradiction_at_one_phase_is_in_the_budget_all_the_same() -> None:
    bench = bench_of(10, LOAD_40)
    budget = budget_of(bench.calibration, bench.stated(40.0))
    short = EndedLine(name="offset short", kind="short", delay_ps=30.0, plane_ps=0.5)
    true = short.reflection(FREQUENCY_HZ) * np.exp(0.3j)
    seen = measured(bench, budget, short, true)
    assert not seen.passed
    found = bound_by(budget, [seen])
    assert (size(found, "tracking and source match", -FULL_REFLECTION) >= seen.difference).all()
    assert (size(found, "the short's definition", -FULL_REFLECTION) > 0).all()


@pytest.mark.parametrize("turn_deg", [90.0, 120.0, 150.0, 180.0])
def test_two_phases_bound_the_sum_of_two_phasors(turn_deg: float) -> None:
    """Against drawn phasors: never exceeded, and reached [derived: B / sin(psi / 4)]."""
    turn = np.radians(turn_deg)
    phase = np.array([[0.3], [0.3 + turn]])
    bound = together_from(np.array([1e9]), np.ones((2, 1)), phase)[0]
    assert bound == pytest.approx(1 / np.sin(turn / 4), rel=1e-9)
    rng = np.random.default_rng(11)
    a, b = (np.sqrt(rng.uniform(size=400_000)) * np.exp(2j * np.pi * rng.uniform(size=400_000))
            for _ in range(2))  # fmt: skip
    worst = np.maximum(*(np.abs(a + b * np.exp(1j * each[0])) for each in phase))
    ratio = (np.abs(a) + np.abs(b)) / worst
    assert ratio.max() <= bound * (1 + 1e-9)
    assert ratio.max() > 0.9 * bound


def test_a_device_behind_a_long_line_sees_its_own_phases() -> None:
    """15 ns turn by 360 degrees in 33 MHz [derived]: within 5 % of 1 GHz all phases are seen."""
    f = np.linspace(0.9e9, 1.1e9, 101)
    bound = together_from(f, np.full((1, 101), 0.01), (-4 * np.pi * f * 15e-9)[None])
    assert (bound >= np.sqrt(2) * 0.01 * (1 - 1e-12)).all()
    np.testing.assert_allclose(bound[10:-10], np.sqrt(2) * 0.01, rtol=1e-2)


@pytest.mark.slow
@pytest.mark.parametrize("true_db", [3.0, 8.0, 15.0, 25.0, 35.0])
def test_the_truth_stays_inside_on_verified_benches(true_db: float) -> None:
    """Nobody stated the load; a 36 dB second load, faults of its own, was measured back.

    Counted in benches, at one point each.
    """
    rng = np.random.default_rng(int(true_db))
    kit = load_kit("3.5mm-plug-50")
    device = SmallLoad("second load", 36.0)
    inside = narrower = 0
    at = POINTS // 2
    for _ in range(BENCHES):
        bench = HiddenBench(kit, Faults(10 ** (-38 / 20) * rng.uniform(0.2, 1)), rng)
        budget = budget_of(bench.calibration, bench.stated(None))
        its_own = 10 ** (-36 / 20) * np.exp(2j * np.pi * rng.uniform()) * FULL_REFLECTION
        difference_bound = bound_by(budget, [measured(bench, budget, device, its_own)])
        true = 10 ** (-true_db / 20) * np.exp(2j * np.pi * rng.uniform())
        found = interval(difference_bound, bench.read(true * FULL_REFLECTION))
        inside += bool(found.low[at] <= abs(true) <= found.high[at])
        narrower += bool(found.floor[at] < interval(budget, NOTHING).floor[at])
    assert inside >= ENOUGH
    assert narrower > 0.9 * BENCHES


@pytest.mark.parametrize("kind", ["load", "short"])
def test_where_nothing_was_measured_nothing_is_proven(kind: str) -> None:
    bench = bench_of(13, LOAD_40, "ideal")
    budget = budget_of(bench.calibration, bench.stated(None))
    device: KnownDevice = SmallLoad("second load", 46.0)
    if kind == "short":
        device = EndedLine(name="long short", kind="short", delay_ps=0.0)
    read = bench.read(device.reflection(FREQUENCY_HZ))
    read[3:5] = complex("nan")
    sweep = Sweep(FREQUENCY_HZ, read, Plane.CONNECTOR, WHEN, 1, SOURCE, ())
    found = bound_by(budget, [verify(bench.calibration, budget, device, sweep)])
    for name in ("the load's definition", "the short's definition"):
        kept = size(found, name, 0.5 * FULL_REFLECTION)[3:5]
        np.testing.assert_array_equal(kept, size(budget, name, 0.5 * FULL_REFLECTION)[3:5])


def test_a_verification_on_another_grid_is_refused() -> None:
    bench = bench_of(12, LOAD_40)
    budget = budget_of(bench.calibration, bench.stated(None))
    seen = measured(bench, budget, SmallLoad("second load", 40.0))
    other = Budget(
        FREQUENCY_HZ[1:],
        (Contribution("it", "assumed", "", True, np.zeros((3, POINTS - 1), dtype=complex)),),
    )
    with pytest.raises(CalibrationError, match="second load was measured at other frequencies"):
        bound_by(other, [seen])


def line_short(delay_ps: float) -> tuple[CertifiedDevice, ComplexArray]:
    """A short behind a line that a laboratory knows to 0.002."""
    true = -np.exp(-4j * np.pi * FREQUENCY_HZ * delay_ps * 1e-12)
    return CertifiedDevice("offset short", Reading(FREQUENCY_HZ, true), 0.002), true


def test_what_is_proven_of_a_plane_keeps_its_direction() -> None:
    """A ring in its place would make a shift of phase a shift of size."""
    bench = bench_of(11, LOAD_40, kit="ideal", offset_ps=0.5)
    budget = budget_of(bench.calibration, bench.stated(40.0))
    found = bound_by(budget, [measured(bench, budget, *line_short(60.0))])
    planes = [each for each in found.contributions if each.name.endswith("plane")]
    assert {each.name for each in planes} == {"the open's plane", "the short's plane"}
    assert all(each.direction_known for each in planes)
    assert {"measured"} == {each.origin for each in planes}
    assert all("offset short, measured back" in each.words for each in planes)
    for turn in (0.0, 1.0, 2.0):
        reading = np.full(POINTS, 0.7 * np.exp(1j * turn))
        share = interval(found, reading).upward / interval(budget, reading).upward
        if turn == 0:  # there a plane's error moves no size, and a ring would
            np.testing.assert_allclose(share, 1, atol=0.01)
        else:
            assert (share[FREQUENCY_HZ > 1.5e9] < 0.75).all()
            assert (share <= 1 + 1e-12).all()


def test_the_truth_stays_inside_what_a_known_direction_proves() -> None:
    rng = np.random.default_rng(12)
    inside = 0
    for seed in range(BENCHES):
        bench = bench_of(seed, LOAD_40, kit="ideal", offset_ps=rng.uniform(0.5, 8.0))
        budget = budget_of(bench.calibration, bench.stated(40.0))
        found = bound_by(budget, [measured(bench, budget, *line_short(60.0))])
        true = np.full(POINTS, 0.7 * np.exp(2j * np.pi * rng.uniform()))
        uncertainty = interval(found, bench.read(true))
        at = rng.integers(POINTS)
        inside += uncertainty.low[at] <= np.abs(true[at]) <= uncertainty.high[at]
    assert inside >= ENOUGH
