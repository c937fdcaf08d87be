"""An acceptance needs a check as young as the plan says."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from acceptance.bands.load import load_bands
from acceptance.errors import PlanError
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import parse_plan
from acceptance.record.check_age import why_not_checked
from calibration.verification.device_comparison import Verification
from calibration.verification.drift import Drift, SpanDrift
from calibration.verification.verification_device import StatedDevice
from calibration.verification.verified_budget import EvidenceResults

NOW = datetime(2026, 5, 1, 15, 0, tzinfo=UTC)


def plan(line: str) -> Plan:
    text = f'name = "gauge"\n{line}\n[[band]]\nlte = 20\nreturn_loss_db = 10\n'
    return parse_plan(text, "plan.toml", load_bands())


def seen(hours: float, reflects: float, *, ok: bool = True) -> Verification:
    """A device of that size, so many hours ago."""
    f = np.linspace(790e6, 820e6, 11)
    read, off = np.full(f.size, complex(reflects)), np.full(f.size, 0.01 if ok else 0.1)
    allowed = np.full(f.size, 0.02)
    device = StatedDevice("mismatch", reflects, reflects)
    return Verification(device, NOW - timedelta(hours=hours), f, read, off, allowed, allowed)


def evidence(
    verified_h: float | None = None,
    drift_h: float | None = None,
    *,
    reflects: float = 0.5,
    standard: str = "open",
    ok: bool = True,
) -> EvidenceResults:
    """A known device that reflects so much, and a standard put back."""
    devices = () if verified_h is None else (seen(verified_h, reflects, ok=ok),)
    if drift_h is None:
        return EvidenceResults(devices, (), None)
    check = seen(drift_h, 0.0 if standard == "load" else 1.0, ok=ok)
    span = SpanDrift((790e6, 820e6), "carry on" if ok else "recalibrate", 0, 0, 0, 0, "")
    return EvidenceResults(devices, (Drift(standard, check.taken_at, 0.0, check, (span,)),), None)


def test_a_plan_that_asks_for_nothing_is_content() -> None:
    assert why_not_checked(plan(""), evidence(), NOW) == ""


@pytest.mark.parametrize(
    ("line", "found", "words"),
    [
        ("verified_within_hours = 8", evidence(), "and there is none. Measure one back"),
        ("verified_within_hours = 8", evidence(9.0), "the latest is 9.0 h old"),
        ("verified_within_hours = 8", evidence(7.9), ""),
        ("verified_within_hours = 8", evidence(1.0, ok=False), "a check contradicts it: mismatch"),
        ("verified_within_hours = 8", evidence(1.0, reflects=0.01), ""),
        ("verified_within_hours = 8", evidence(drift_h=0.1), "there is none"),
        ("drift_checked_within_hours = 2", evidence(drift_h=1.0), ""),
        ("drift_checked_within_hours = 2", evidence(1.0), ""),
        ("drift_checked_within_hours = 2", evidence(drift_h=0.5, ok=False), "The open, put back"),
        ("drift_checked_within_hours = 2", evidence(drift_h=1.0, standard="load"), "open or short"),
        ("drift_checked_within_hours = 2", evidence(1.0, reflects=0.01), "open or short"),
        ("drift_checked_within_hours = 0.5", evidence(1.0, 1.2), "the latest is 60 min old"),
    ],
)
def test_what_is_too_old_or_missing_is_said_with_what_to_do(
    line: str, found: EvidenceResults, words: str
) -> None:
    why = why_not_checked(plan(line), found, NOW)
    assert words in why
    assert bool(why) == bool(words)


@pytest.mark.parametrize(
    "line",
    ["sweeps = 1", "sweeps = 2.5", "verified_within_hours = 0", 'drift_checked_within_hours = "2"'],
)
def test_a_wish_that_makes_no_sense_is_one_sentence(line: str) -> None:
    with pytest.raises(PlanError, match=f"{line.split(maxsplit=1)[0]} is .*Write"):
        plan(line)


def test_a_check_dated_after_now_is_no_young_one() -> None:
    """The machine's clock was set back in between; by a minute it may be corrected."""
    wanted = plan("verified_within_hours = 12")
    assert why_not_checked(wanted, evidence(verified_h=-1 / 120), NOW) == ""
    why = why_not_checked(wanted, evidence(verified_h=-3.0), NOW)
    assert "clock was set back" in why
    drifting = plan("drift_checked_within_hours = 12")
    assert "set it right" in why_not_checked(drifting, evidence(drift_h=-3.0), NOW)
