"""What the uncertainty costs is worked out, and so is what would help."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.calibration_budget import budget_of
from calibration.error_terms.one_port import ErrorTerms
from calibration.files.store import load_kit
from calibration.uncertainty.budget import Assumptions, Budget, Contribution
from calibration.uncertainty.ranking import advice, assumed_words, rank_sensitivities
from calibration.uncertainty.sensitivity import lagrange
from tests.calibration.random_benches import Faults, HiddenBench
from tests.wording import missing_words

F = np.linspace(0.7e9, 2.7e9, 21)
ONE = np.ones(F.size)
PERFECT = ErrorTerms(F, 0j * ONE, 0j * ONE, (1 + 0j) * ONE)
WEIGHTS = lagrange(PERFECT, {"open": ONE + 0j, "short": -ONE + 0j, "load": 0j * ONE})
SPAN = (0.7e9, 2.7e9)
TEN_DB = 10 ** (-10 / 20)


def budget(load: float, short: float) -> Budget:
    """A load and a short that are off by so much, and nothing else."""
    parts = [
        Contribution(f"the {name}'s definition", "assumed", "", True, size * WEIGHTS[name], cause)
        for name, size, cause in (("load", load, "the load"), ("short", short, "open and short"))
    ]
    return Budget(F, tuple(parts))


def test_a_better_load_lifts_the_floor_by_what_it_is_better() -> None:
    """A load alone sets the floor at its own return loss [derived: L_load(0) = 1]."""
    (found,) = rank_sensitivities(budget(10 ** (-26 / 20), 1e-6), [(SPAN, TEN_DB)])
    assert found.dominating == "the load"
    assert found.shares[0][1] == pytest.approx(1, abs=1e-6)
    assert found.floor_db == pytest.approx(26, abs=0.05)
    assert found.cures[0].floor_db == pytest.approx(36, abs=0.05)
    sentence = advice([found])
    assert not missing_words(
        sentence, "36 dB load", "26.0 to 36.0 dB", "the load still counts most"
    )


def test_what_dominates_once_that_is_cured_is_said() -> None:
    (found,) = rank_sensitivities(budget(10 ** (-26 / 20), 0.1), [(SPAN, 0.5)])
    assert found.dominating == "the load"
    assert not missing_words(found.cures[0].sentence, "open and short", "count most")


def test_a_cure_of_what_hardly_counts_is_not_offered() -> None:
    (found,) = rank_sensitivities(budget(10 ** (-26 / 20), 1e-4), [(SPAN, TEN_DB)])
    assert [cure.cause for cure in found.cures] == ["the load"]


def test_shares_add_up_to_one_on_a_whole_bench() -> None:
    bench = HiddenBench(load_kit("3.5mm-plug-50"), Faults(0.03), np.random.default_rng(1))
    whole = budget_of(bench.calibration, Assumptions(), age_s=3600 * 20)
    found = rank_sensitivities(
        whole, [((0.7e9, 1.0e9), TEN_DB), ((2e9, 2.7e9), TEN_DB), ((5e9, 6e9), TEN_DB)]
    )
    assert len(found) == 2, "what was not calibrated costs nothing"
    for each in found:
        assert sum(share for _, share in each.shares) == pytest.approx(1)
        assert {cause for cause, _ in each.shares} == {
            "the load",
            "open and short",
            "the connector",
            "noise",
            "drift",
            "the cable",
        }
        low_db, high_db = each.interval_db
        assert low_db < 10 < high_db
    sentence = assumed_words(whole)
    assert "the load: 26 dB assumed, phase unknown" in sentence
    assert "drift: 0.002 an hour assumed, 20.0 h since calibrating" in sentence


def test_where_nothing_of_it_was_calibrated_that_is_said() -> None:
    assert not missing_words(advice([]), "nothing", "was calibrated")
    assert assumed_words(Budget(F, ())) == ""
