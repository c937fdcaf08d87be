"""Four standards and more: each against what is stated of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from calibration.calibration_budget import budget_of
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import embed, solve
from calibration.errors import StandardError
from calibration.files.calibration_file import calibration_text, parse_calibration
from calibration.files.store import load_kit
from calibration.standards.agreement import (
    Disagreement,
    disagreement,
    loads_words,
)
from calibration.standards.definition import definition_of
from calibration.standards.kit import Kit
from calibration.standards.standard import CoefficientStandard, IdealStandard, Standard
from calibration.uncertainty.budget import Assumptions
from tests.calibration.verification.rough_bench import RoughBench, in_series
from tests.counts import LONG, QUICK
from tests.wording import missing_words

BENCHES = 1000 if LONG else 20 if QUICK else 100
SECOND_LOAD: Standard = CoefficientStandard(kind="load")
OFFSET_SHORT: Standard = CoefficientStandard(kind="short", offset_delay_ps=90.0)
PAD: Standard = CoefficientStandard(kind="load", resistance_ohm=100.0)


def kit_with(**more: Standard) -> Kit:
    """The kit with further standards, its load stated at 26 dB."""
    kit = load_kit("3.5mm-plug-50")
    return replace(kit, standards={**kit.standards, **more}, load_return_loss_db=26.0)


KITS: Mapping[str, Kit] = {
    "a second load": kit_with(second=SECOND_LOAD),
    "an offset short": kit_with(offset=OFFSET_SHORT),
    "both": kit_with(second=SECOND_LOAD, offset=OFFSET_SHORT),
}


@pytest.mark.slow
@pytest.mark.parametrize("which", KITS)
def test_honest_standards_are_hardly_ever_refused(which: str) -> None:
    """Loads anywhere within their 26 dB, joints of 0.003 to 0.01: at most 5 of 1,000."""
    refused = 0
    for seed in range(BENCHES):
        here = RoughBench(KITS[which], np.random.default_rng(seed))
        try:
            here.calibration()
        except StandardError:
            refused += 1
    assert refused <= BENCHES * 5 // 1000


def found_in(which: str, faults: Mapping[str, tuple[float, float]]) -> Counter[str]:
    """Who is named, bench by bench; empty where nobody is."""
    found: Counter[str] = Counter()
    for seed in range(BENCHES):
        here = RoughBench(KITS[which], np.random.default_rng(seed))
        here.load = 0.2 * here.load
        seen = {name: in_series(*fault) for name, fault in faults.items()}
        try:
            here.calibration(seen)
        except StandardError as error:
            named = next(iter(faults)) in str(error)  # if not alone
            found[error.standard if named else ""] += 1
        else:
            found[""] += 1
    return found


def test_a_75_ohm_load_is_found_beside_another_load() -> None:
    """By two loads alone nobody can say which of them it is."""
    found = found_in("a second load", {"load": (25.0, 0.0)})
    assert found["load"] + found["second"] >= 0.95 * BENCHES


def test_a_75_ohm_load_is_named_by_an_offset_short_and_another_load() -> None:
    found = found_in("both", {"load": (25.0, 0.0)})
    assert found["load"] >= 0.95 * BENCHES


@pytest.mark.parametrize("which", ["an offset short", "both"])
def test_a_loose_short_is_found_and_named_beside_those_it_may_be_taken_for(which: str) -> None:
    """Two lengths of short alone do not say which of them hangs loose."""
    found = found_in(which, {"short": (3.0, 0.8e-9)})
    assert found[""] <= 0.05 * BENCHES


def test_what_is_found_says_how_far_off_and_by_whom_else_it_might_be() -> None:
    kit = KITS["a second load"]
    f = np.linspace(0.7e9, 2.7e9, 41)
    found = _disagreement(kit, {"load": 0.2}, f)
    assert found is not None
    assert {found.culprit, found.others[0]} == {"load", "second"}
    assert not missing_words(found.words, "do not agree", "stated", "could be the one as well")
    assert found.size == pytest.approx(0.2, abs=0.05)


@pytest.mark.parametrize("apart", [0.02, 0.05, 0.09])
def test_two_loads_within_what_is_stated_of_both_agree_whatever_their_phases(apart: float) -> None:
    """Of 26 dB each they may differ by 0.1, not by its root of squares alone, 0.07."""
    f = np.linspace(0.7e9, 2.7e9, 41)
    for phase in np.exp(2j * np.pi * np.arange(8) / 8):
        shifts = {"load": apart / 2 * phase, "second": -apart / 2 * phase}
        assert _disagreement(KITS["a second load"], shifts, f) is None


def _disagreement(
    kit: Kit, shifts: Mapping[str, complex], f: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> Disagreement | None:
    readings, terms = _read(kit, shifts, f)
    return disagreement(kit, readings, terms, Assumptions())


def _read(kit, shifts, f):  # type: ignore[no-untyped-def]
    true = solve(
        f, np.array([1.0, -0.7, 0.05])[:, None] + 0 * f, np.array([[1], [-1], [0]]) + 0 * f
    )
    actual = {name: each.reflection(f) for name, each in kit.standards.items()}
    raw = {name: embed(true, each + shifts.get(name, 0.0)) for name, each in actual.items()}
    readings = {name: StandardReading(name, f, each, 8, None) for name, each in raw.items()}
    return readings, solve(f, list(raw.values()), list(actual.values()))


def test_the_bounds_are_those_of_the_budget() -> None:
    """Each definition's size in the budget is this error, times what it does to a reading."""
    here = RoughBench(KITS["both"], np.random.default_rng(2))
    made = here.calibration()
    budget = budget_of(made, Assumptions())
    for name, standard in made.kit.standards.items():
        stated = 26.0 if name == "load" else None
        error = definition_of(standard, here.f, Assumptions(), stated).bound
        (part,) = [each for each in budget.contributions if each.name == f"the {name}'s definition"]
        ratio = np.abs(part.coefficients) / error
        assert np.ptp(ratio / ratio.max(axis=1, keepdims=True), axis=1).max() < 1
        own = part.size(standard.reflection(here.f)) / error
        assert (own < 1.01).all(), "met at most as far as it is off"


def test_loads_tell_their_spread_and_a_length_what_no_load_can() -> None:
    f = np.linspace(1.5e9, 2.7e9, 41)
    kit = KITS["both"]
    readings, terms = _read(kit, {"load": 0.03, "second": 0.03}, f)
    words = loads_words(kit, readings, terms, Assumptions())
    assert not missing_words(words, "2 loads", "in common", "without it", "0.03", "MHz")
    three = kit_with()
    readings, terms = _read(three, {}, f)
    assert loads_words(three, readings, terms, Assumptions()) == ""


def test_what_was_accepted_once_loads_with_a_warning() -> None:
    """A file from before this was held against what is stated of each standard."""
    kit = KITS["a second load"]
    made = RoughBench(kit, np.random.default_rng(3)).calibration()
    off = made.readings["second"]
    shifted = replace(off, reflection=off.reflection + 0.15)
    old = replace(made, readings={**made.readings, "second": shifted})
    again = parse_calibration(calibration_text(old).encode(), "old.json")
    assert any("do not agree" in each for each in again.warnings)


def test_an_ideal_open_may_lie_further_off_than_a_modelled_one() -> None:
    f = np.array([1e9])
    ideal = definition_of(IdealStandard(kind="open"), f, Assumptions()).bound
    assert ideal > definition_of(CoefficientStandard(kind="open"), f, Assumptions()).bound
