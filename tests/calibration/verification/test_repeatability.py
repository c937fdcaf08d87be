"""The connector's repeatability, from a standard taken off and put on again."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from calibration.calibration_budget import budget_of, few_sweeps
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import embed
from calibration.errors import CalibrationError
from calibration.files.store import load_kit
from calibration.uncertainty.budget import Assumptions
from calibration.verification.repeatability import repeatability
from tests.calibration.random_benches import FREQUENCY_HZ, Faults, HiddenBench

KIT = load_kit("3.5mm-plug-50")
AT = FREQUENCY_HZ.size // 2


def bench_of(seed: int, connection: float = 2e-3, noise: float = 1e-5) -> HiddenBench:
    faults = Faults(0.03, connection=connection, noise=noise)
    return HiddenBench(KIT, faults, np.random.default_rng(seed))


def takes_of(bench: HiddenBench, count: int, name: str = "load") -> list[StandardReading]:
    """Takes of one standard, each with a making of its own."""
    true = KIT.standards[name].reflection(FREQUENCY_HZ)
    return [
        StandardReading(
            name, FREQUENCY_HZ, embed(bench.calibration.terms, bench.read(true)), 8, None
        )
        for _ in range(count)
    ]


def test_the_scatter_seen_is_that_of_the_makings() -> None:
    """Many takes: rms of one making as drawn, 2e-3 a GHz; 400 takes tell it to 5 %."""
    bench = bench_of(1)
    found = repeatability(bench.calibration, takes_of(bench, 400))
    np.testing.assert_allclose(found.scatter, 2e-3 * FREQUENCY_HZ / 1e9, rtol=0.08)
    np.testing.assert_allclose(found.rms, found.scatter, rtol=0.01)


def test_a_scatter_worked_out_by_hand() -> None:
    """.01, .03, .05: mean .03, s^2 = (.02^2 + .02^2) / 2, s = .02; t(2) = 4.303 [table]."""
    bench = bench_of(2)
    terms = bench.calibration.terms
    takes = [
        StandardReading("load", FREQUENCY_HZ, embed(terms, np.full(FREQUENCY_HZ.size, g)), 8, None)
        for g in (0.01, 0.03, 0.05)
    ]
    found = repeatability(bench.calibration, takes)
    np.testing.assert_allclose(found.scatter, 0.02, rtol=1e-9)
    np.testing.assert_allclose(found.rms, 0.02 * 4.303 / 1.96, rtol=1e-6)
    assert "3 makings of the load" in found.words


@pytest.mark.slow
@pytest.mark.parametrize("count", [3, 5, 10])
def test_the_widened_figure_covers_the_next_making_with_95_percent(count: int) -> None:
    """Difference of two further makings, by Student's t: 366 of 400 or more [binomial]."""
    inside = 0
    for seed in range(400):
        bench = bench_of(seed)
        found = repeatability(bench.calibration, takes_of(bench, count))
        true = KIT.standards["load"].reflection(FREQUENCY_HZ)
        more = [bench.read(true)[AT].real for _ in range(2)]
        reach = 1.96 * found.rms[AT]  # one component is rms/sqrt(2), a difference sqrt(2) more
        inside += abs(more[1] - more[0]) <= reach
    assert inside >= 366


def test_few_takes_count_for_more() -> None:
    assert few_sweeps(3) > few_sweeps(5) > few_sweeps(10) > 1


@pytest.mark.parametrize("name", ["open", "short", "load"])
def test_any_standard_will_do(name: str) -> None:
    bench = bench_of(3)
    found = repeatability(bench.calibration, takes_of(bench, 200, name))
    np.testing.assert_allclose(found.scatter, 2e-3 * FREQUENCY_HZ / 1e9, rtol=0.12)


def test_the_budget_takes_it_and_says_that_it_was_measured() -> None:
    bench = bench_of(4)
    found = repeatability(bench.calibration, takes_of(bench, 5))
    budget = budget_of(bench.calibration, Assumptions(), connection_rms=found.rms)
    (antenna,) = (e for e in budget.contributions if e.name == "connecting the antenna")
    assert antenna.origin == "measured"
    nothing = np.zeros(FREQUENCY_HZ.size, dtype=complex)
    np.testing.assert_allclose(antenna.size(nothing), found.rms / np.sqrt(2))


def test_what_says_nothing_of_a_connector_is_refused() -> None:
    bench = bench_of(5)
    takes = takes_of(bench, 4)
    with pytest.raises(CalibrationError, match="2 makings say too little"):
        repeatability(bench.calibration, takes[:2])
    with pytest.raises(CalibrationError, match="of a load and of a short"):
        repeatability(bench.calibration, [*takes, *takes_of(bench, 1, "short")])
    wrong = [dataclasses.replace(takes_of(bench, 1, "open")[0], name="load")]
    with pytest.raises(CalibrationError, match="Making 5 of the load differs"):
        repeatability(bench.calibration, [*takes, *wrong])
    short = dataclasses.replace(
        takes[0], frequency_hz=FREQUENCY_HZ[1:], reflection=takes[0].reflection[1:]
    )
    with pytest.raises(CalibrationError, match="other frequencies"):
        repeatability(bench.calibration, [*takes, short])
    broken = dataclasses.replace(takes[0], reflection=takes[0].reflection * complex("nan"))
    with pytest.raises(CalibrationError, match="not measured"):
        repeatability(bench.calibration, [*takes, broken])
