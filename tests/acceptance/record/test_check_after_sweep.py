"""A standard put back after the sweep decides whether what was swept counts."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from acceptance.errors import RecordError
from acceptance.limits.decision import State
from acceptance.record.acceptance_record import Acceptance, Condition, as_json
from acceptance.record.check_after_sweep import ChecksAfterSweep, StandardCheck
from acceptance.record.checksums import CHECKSUMS, differences, format_checksums
from acceptance.record.examination import examine
from acceptance.record.plan_requirements import sign_off, unmet
from acceptance.record.recheck import Recheck, recheck
from acceptance.record.record_folder import parse_record
from acceptance.version import software
from acquire.sweep import Plane, Sweep
from calibration.error_terms.one_port import embed
from calibration.files.store import load_kit
from tests.acceptance.made import (
    BEGUN,
    PLAN_TEXT,
    REQUEST,
    SOURCE,
    TERMS,
    F,
    begun,
    plan,
    record,
    resonance,
    sweeps,
)
from tests.wording import missing_words

ONE = PLAN_TEXT.replace('["bare", "sealed"]', '["finished"]')
SWEPT_AT = sweeps(838e6)[-1].taken_at
SHORT = load_kit("3.5mm-plug-50").standards["short"].reflection(F)


def put_back(minutes: float, tracking: float = 1.0) -> StandardCheck:
    """The short, so long after the sweep, by an analyzer whose tracking is so many times its."""
    times = [SWEPT_AT + timedelta(minutes=minutes, seconds=n) for n in range(2)]
    random = np.random.default_rng(3)

    def raw() -> Sweep:
        noise = random.standard_normal((2, F.size)) * 1e-5
        read = embed(TERMS, SHORT * tracking) + noise[0] + 1j * noise[1]
        at: datetime = times.pop(0)
        return Sweep(F, read, Plane.RAW, at, 20 - len(times), SOURCE, (REQUEST,))

    return StandardCheck((raw(), raw()), 14)


def swept(text: str = ONE) -> Acceptance:
    wanted = plan(text)
    made = replace(begun(wanted=wanted), after_sweep=ChecksAfterSweep())
    for at, name in enumerate(wanted.conditions):
        raw = tuple(
            replace(each, taken_at=each.taken_at + timedelta(hours=at)) for each in sweeps(838e6)
        )
        made = made.with_condition(Condition(name, raw, 12))
    return made


def checked_again(acceptance: Acceptance) -> Recheck:
    files = dict(record(sign_off(acceptance, BEGUN + timedelta(hours=3))).files)
    return recheck(parse_record(files, "weir-3"), differences(files), software())


def test_what_was_swept_and_not_checked_is_not_signed_off() -> None:
    (why,) = unmet(swept())
    assert not missing_words(why, "No standard was put back", "Put the short (or the open) back")
    with pytest.raises(RecordError, match="No standard was put back"):
        sign_off(swept(), BEGUN + timedelta(hours=1))
    assert unmet(swept().with_check(put_back(2))) == ()


def test_a_standard_that_reads_as_it_did_is_told_by_the_record() -> None:
    found = checked_again(swept().with_check(put_back(2)))
    assert found.holds, found.lines
    assert found.examined is not None
    (check,) = found.examined.checks
    assert check.holds
    assert check.standard == "short"
    (one,) = found.examined.conditions
    assert one.verdict.overall is State.PASS
    assert check.words in one.verdict.notes
    kept = json.loads(record(found.record.acceptance).files["verdict.json"])["checks_after_sweep"]
    assert kept["rule"] == "each"
    assert kept["checks"][0]["change"] < kept["checks"][0]["allowed"]


def test_a_check_that_fails_leaves_nothing_measured_and_is_worked_out_again() -> None:
    found = checked_again(swept().with_check(put_back(2, tracking=0.92)))
    assert found.holds, "it is as it was written, and was signed off"
    assert found.examined is not None
    (one,) = found.examined.conditions
    assert one.verdict.overall is State.NOT_MEASURED
    assert all(each.state is State.NOT_MEASURED for each in one.verdict.bands)
    assert not missing_words(
        one.verdict.bands[0].reason, "reads otherwise", "calibrate anew", "sweep the antenna again"
    )


def test_the_first_check_after_a_sweep_decides_not_a_later_one() -> None:
    twice = swept().with_check(put_back(2, tracking=0.92)).with_check(put_back(4))
    assert examine(twice).overall is State.NOT_MEASURED
    again = tuple(
        replace(each, taken_at=each.taken_at + timedelta(minutes=6)) for each in sweeps(838e6)
    )
    anew = twice.with_condition(Condition("finished", again, 30))
    assert unmet(anew), "what was swept anew is checked anew"
    assert examine(anew.with_check(put_back(8))).overall is State.PASS


def test_each_condition_is_decided_by_the_check_after_it() -> None:
    two = swept(PLAN_TEXT.replace("sweeps", 'judged = ["bare", "sealed"]\nsweeps'))
    between = two.with_check(put_back(2))
    (why,) = unmet(between)
    assert "sealed" in why
    assert "bare" not in why
    bad = examine(between.with_check(put_back(62, tracking=1.08)))
    assert [each.verdict.overall for each in bad.conditions] == [State.PASS, State.NOT_MEASURED]


@pytest.mark.parametrize(("key", "words"), [("false", "waives"), ('"batch"', "whole batch")])
def test_a_plan_may_waive_it_and_the_record_says_so(key: str, words: str) -> None:
    made = swept(f"check_after = {key}\n{ONE}")
    assert unmet(made) == ()
    found = checked_again(made)
    assert found.holds, found.lines
    assert found.examined is not None
    notes = found.examined.conditions[0].verdict.notes
    assert any(words in note for note in notes), notes


def test_a_record_of_before_there_were_checks_is_asked_for_none() -> None:
    made = replace(swept(), after_sweep=None)
    assert unmet(made) == ()
    assert checked_again(made).holds
    assert "checks_after_sweep" not in json.loads(
        record(sign_off(made, BEGUN + timedelta(hours=1))).files["verdict.json"]
    )


def test_a_check_s_readings_that_were_exchanged_are_found() -> None:
    signed = sign_off(swept().with_check(put_back(2, tracking=0.92)), BEGUN + timedelta(hours=1))
    good = sign_off(swept().with_check(put_back(2)), BEGUN + timedelta(hours=1))
    files = dict(record(signed).files)
    name = "put.back-01/raw-01.s1p"
    for each in (name, name.replace("01.s1p", "02.s1p")):
        files[each] = record(good).files[each]
    files[CHECKSUMS] = format_checksums(files)
    found = recheck(parse_record(files, "weir-3"), differences(files), software())
    assert not found.holds
    assert found.difference


def test_a_check_of_another_kind_than_a_record_holds_is_refused_in_a_sentence() -> None:
    files = dict(record(sign_off(swept().with_check(put_back(2)), BEGUN)).files)
    head = json.loads(files["record.json"])
    odd: tuple[object, ...] = ({"checks": 3, "batch_check": None}, [], {"checks": [{}]}, "yes")
    for broken in odd:
        files["record.json"] = as_json({**head, "checks_after_sweep": broken})
        with pytest.raises(RecordError, match="cannot be read"):
            parse_record(files, "weir-3")


def test_a_condition_that_reads_like_an_antenna_is_no_check() -> None:
    raw = embed(TERMS, resonance(838e6))
    at = SWEPT_AT + timedelta(minutes=1)
    antenna = tuple(Sweep(F, raw, Plane.RAW, at, n, SOURCE, (REQUEST,)) for n in range(2))
    with pytest.raises(Exception, match=r"on\. Put the short|tracking"):
        examine(swept().with_check(StandardCheck(antenna)))
