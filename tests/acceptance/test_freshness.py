"""An acceptance needs a check as young as the plan says."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast

import pytest

from acceptance.errors import PlanError
from acceptance.freshness import why_not_checked
from acceptance.plan import Plan
from acceptance.plan_table import parse_plan
from acceptance.store import load_bands
from calibration.proven import Proven

NOW = datetime(2026, 5, 1, 15, 0, tzinfo=UTC)


def plan(line: str) -> Plan:
    text = f'name = "gauge"\n{line}\n[[band]]\nlte = 20\nreturn_loss_db = 10\n'
    return parse_plan(text, "plan.toml", load_bands())


def evidence(
    verified_h: float | None = None, drift_h: float | None = None, *, ok: bool = True
) -> Proven:
    def at(hours: float) -> datetime:
        return NOW - timedelta(hours=hours)

    devices: Any = (
        () if verified_h is None else (SimpleNamespace(taken_at=at(verified_h), passed=ok),)
    )
    advice = "carry on" if ok else "recalibrate"
    drifts: Any = () if drift_h is None else (SimpleNamespace(taken_at=at(drift_h), advice=advice),)
    return Proven(cast(Any, devices), cast(Any, drifts), None)


def test_a_plan_that_asks_for_nothing_is_content() -> None:
    assert why_not_checked(plan(""), evidence(), NOW) == ""


@pytest.mark.parametrize(
    ("line", "found", "words"),
    [
        ("verified_within_hours = 8", evidence(), "and there is none. Measure one back"),
        ("verified_within_hours = 8", evidence(9.0), "the latest is 9.0 h old"),
        ("verified_within_hours = 8", evidence(7.9), ""),
        ("verified_within_hours = 8", evidence(1.0, ok=False), "there is none"),
        ("verified_within_hours = 8", evidence(drift_h=0.1), "there is none"),
        ("drift_checked_within_hours = 2", evidence(drift_h=1.0), ""),
        ("drift_checked_within_hours = 2", evidence(1.0), ""),
        ("drift_checked_within_hours = 2", evidence(drift_h=0.5, ok=False), "there is none"),
        ("drift_checked_within_hours = 0.5", evidence(1.0, 1.2), "the latest is 60 min old"),
    ],
)
def test_what_is_too_old_or_missing_is_said_with_what_to_do(
    line: str, found: Proven, words: str
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
