"""One word an antenna: YES and NO are proven, all else is ASK."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
import pytest

from acceptance.limits.decision import State
from acceptance.record.acceptance_record import Condition
from acceptance.record.examination import Examined, examine
from acceptance.record.layouts import STATION
from acceptance.report.yes_no_ask import answer_of, word_faults
from acquire.sweep import ComplexArray
from calibration.error_terms.one_port import embed
from tests.acceptance import made

PLAN = """
name = "river gauge"
check_after = false
sweeps = 2
[[band]]
lte = 20
return_loss_db = LIMIT
"""


def examined(reflection: ComplexArray, limit_db: float = 8.0) -> Examined:
    """What comes of an antenna that reflects so."""
    plan = made.plan(PLAN.replace("LIMIT", f"{limit_db:g}"))
    raw = tuple(
        replace(each, reflection=embed(made.TERMS, reflection) + 0 * each.reflection)
        for each in made.sweeps(830e6)
    )
    acceptance = made.begun()
    return examine(replace(acceptance, plan=plan, conditions=(Condition("finished", raw, 1),)))


def test_a_pass_that_is_proven_is_yes() -> None:
    found = answer_of(examined(made.resonance(830e6, q=2.0), 6.0))
    assert (found.word, found.why.count(".")) == ("YES", 1)
    assert "LTE 20" in found.detail


def test_a_fail_that_is_proven_is_no_and_names_the_band() -> None:
    found = answer_of(examined(made.resonance(830e6, q=12.0), 14.0))
    assert found.word == "NO"
    assert "LTE 20" in found.why


def test_between_the_two_the_helper_asks() -> None:
    reflection = made.resonance(830e6, q=2.0)
    passes_db, fails_db = 2.0, 30.0
    for _ in range(20):  # halve what lies between a limit that passes and one that fails
        limit_db = (passes_db + fails_db) / 2
        found = examined(reflection, limit_db)
        word = answer_of(found).word
        if found.overall is State.PASS:
            assert word == "YES"
            passes_db = limit_db
        elif found.overall is State.FAIL:
            assert word == "NO"
            fails_db = limit_db
        else:
            assert found.overall in (State.CONDITIONAL_PASS, State.CONDITIONAL_FAIL)
            assert word == "ASK"
            return
    pytest.fail("no limit lies between")


@pytest.mark.parametrize(
    ("size", "words"), [(0.99, "Nothing seems to be connected"), (0.01, "looks like the load")]
)
def test_what_is_no_antenna_is_asked_about_and_never_thrown_away(size: float, words: str) -> None:
    request = made.REQUEST
    f = request.grid_hz()
    reflection = size * np.exp(-2j * np.pi * f * 0.1e-9)
    wide = examined(reflection)
    condition = wide.conditions[0]
    stretched = replace(condition.corrected, frequency_hz=np.linspace(700e6, 900e6, f.size))
    seen = replace(wide, conditions=(replace(condition, corrected=stretched),))
    found = answer_of(seen)
    assert found.word == "ASK"
    assert words in found.why


@pytest.mark.parametrize(
    ("word", "role", "faults"),
    [
        ("YES", "serial", []),
        ("ASK", "serial", []),
        ("NO", "serial", ["The station's word is NO, and the sweeps prove YES"]),
        ("NO", "known good", []),
    ],
)
def test_a_word_that_the_sweeps_do_not_prove_is_found(
    word: str, role: str, faults: list[str]
) -> None:
    found = examined(made.resonance(830e6, q=2.0), 6.0)
    plan_sum = hashlib.sha256(found.acceptance.plan.text.encode()).hexdigest()
    noted = {"role": role, "word": word, "sums": {"plan": plan_sum}}
    acceptance = replace(found.acceptance, carried={STATION: noted})
    listed = word_faults(replace(found, acceptance=acceptance))
    assert [text for text in faults if not any(text in each for each in listed)] == []
    assert len(listed) == len(faults)


def test_a_plan_that_the_station_was_not_locked_to_is_found() -> None:
    found = examined(made.resonance(830e6, q=2.0), 6.0)
    noted = {"role": "serial", "word": "YES", "sums": {"plan": "0" * 64}}
    acceptance = replace(found.acceptance, carried={STATION: noted})
    (fault,) = word_faults(replace(found, acceptance=acceptance))
    assert "locked to another plan" in fault
