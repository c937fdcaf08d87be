"""A short or an open that was loose while calibrating: seen once it is made anew, or covered.

With three standards and nothing else a loose short cannot be told from another analyzer: what it
adds to source match, i w L / 50, an honest one may have. Made anew, twice, it shows.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from scipy.stats import binom

from calibration.error_terms.one_port import correct
from calibration.errors import CalibrationError
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.interval import interval
from calibration.verification.repeatability import connection_advice
from calibration.verification.verified_budget import evidence_results, verified_budget
from tests.counts import LONG
from tests.independent_bench.bench import Benches, Faults, any_phase, random_boxes
from tests.independent_bench.one_port import Real, inductor
from tests.independent_bench.program import AGE, TAKEN_AT, calibration_of, remade

SPANS = {850: (0.79e9, 0.96e9), 1800: (1.71e9, 1.88e9), 2600: (2.5e9, 2.69e9), 3400: (3.3e9, 3.5e9)}
BENCHES = 100 if LONG else 12
HONEST = 1000 if LONG else 120
FAULTS = Faults(46.0, connection=0.003)
KNOWN = Assumptions(load_db=46.0)
SIZE = 10 ** (-9.7 / 20)


def grid(megahertz: int) -> Real:
    return np.linspace(*SPANS[megahertz], 12)


def benches_of(f: Real, many: int, seed: Sequence[int]) -> Benches:
    rng = np.random.default_rng(list(seed))
    return Benches.calibrated(FAULTS, f, random_boxes(rng, many, f), rng, many)


def doubted(calibration: Calibration) -> bool:
    return bool(evidence_results(calibration, KNOWN).contradictions)


@pytest.mark.slow
@pytest.mark.parametrize("megahertz", SPANS)
@pytest.mark.parametrize("name", ["short", "open"])
@pytest.mark.parametrize("nanohenry", [0.3, 1.0, 3.0])
def test_a_standard_that_was_loose_shows_or_is_covered_once_it_is_made_anew(
    name: str, nanohenry: float, megahertz: int
) -> None:
    """Refused, warned of, doubted once it is made anew, or inside the interval: 95 of 100."""
    f = grid(megahertz)
    benches = benches_of(f, BENCHES, (megahertz, int(10 * nanohenry)))
    benches.raw[name] = benches.made(name, inductor(f, nanohenry * 1e-9))
    raw = benches.raw_of(SIZE * any_phase(benches.rng, BENCHES) * np.ones(f.size))
    missed = 0
    for number in range(BENCHES):
        try:
            calibration = calibration_of(benches, number)
        except CalibrationError:
            continue
        after = remade(calibration, benches, name, number)
        if calibration.warnings or doubted(after):
            continue
        budget = verified_budget(after, KNOWN, TAKEN_AT + AGE)
        said = interval(budget, correct(after.terms, raw[number]))
        missed += bool(np.mean(said.high >= SIZE) < 0.95)
    assert missed <= binom.ppf(0.99, BENCHES, 0.05)


@pytest.mark.slow
@pytest.mark.parametrize("megahertz", [850, 2600])
def test_an_honest_standard_made_anew_is_not_doubted(megahertz: int) -> None:
    """At most 5 in 1,000, of connectors three times as bad as is assumed of good ones."""
    benches = benches_of(grid(megahertz), HONEST, (megahertz,))
    found = [
        doubted(remade(calibration_of(benches, number), benches, "short", number))
        for number in range(HONEST)
    ]
    assert sum(found) <= binom.ppf(0.99, HONEST, 0.005)


def test_behind_a_good_load_the_connector_is_asked_for_until_it_was_measured() -> None:
    benches = benches_of(grid(850), 1, (1,))
    calibration = calibration_of(benches, 0)
    assert "verify --remake short" in "".join(connection_advice(calibration, KNOWN))
    assert not connection_advice(calibration, Assumptions(load_db=36.0))
    assert not connection_advice(calibration, Assumptions())
    assert not connection_advice(calibration, Assumptions(load_db=46.0, connection=0.001))
    assert not connection_advice(remade(calibration, benches, "short", 0), KNOWN)


@pytest.mark.parametrize(("load_db", "at_1_ghz"), [(36.0, 0.001), (36.1, 0.003), (46.0, 0.003)])
def test_behind_a_good_load_three_times_as_much_is_assumed(load_db: float, at_1_ghz: float) -> None:
    f = grid(850)
    calibration = calibration_of(benches_of(f, 1, (1,)), 0)
    budget = verified_budget(calibration, Assumptions(load_db=load_db), TAKEN_AT + AGE)
    (antenna,) = (e for e in budget.contributions if e.name == "connecting the antenna")
    none = np.zeros(f.size, dtype=np.complex128)
    np.testing.assert_allclose(antenna.size(none), at_1_ghz * f / 1e9 / np.sqrt(2))
