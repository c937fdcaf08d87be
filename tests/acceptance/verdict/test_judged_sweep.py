"""The one way from raw sweeps to a verdict: its parts agree, and nothing is lost on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from acceptance.errors import VerdictError
from acceptance.limits.decision import State
from acceptance.verdict.judged_sweep import corrected_file, judged_sweep
from acquire.sweep import Plane, Reading
from calibration.capture.averaging import average
from calibration.files.store import load_plane
from calibration.plane.reference_plane import CONNECTOR
from calibration.uncertainty.budget import Assumptions
from calibration.verification.reading_budget import ReadingBudget
from tests.acceptance.made import SOURCE, F, calibration, plan, resonance, sweeps

PLANE = load_plane("delay_ps=500 loss_db=0.5 loss_at_mhz=838 joints_db=40")


def test_what_is_judged_holds_where_it_was_moved_to() -> None:
    averaged = average(sweeps(838e6))
    assert averaged is not None
    near, far = (
        judged_sweep(
            averaged, calibration(), ReadingBudget(Assumptions()), plane=plane, plan=plan()
        )
        for plane in (CONNECTOR, PLANE)
    )
    assert (near.reading.plane, far.reading.plane) == (Plane.CONNECTOR, Plane.ANTENNA)
    assert (near.decided.plane, far.decided.plane) == (Plane.CONNECTOR, Plane.ANTENNA)
    assert near.de_embedding is None
    assert far.de_embedding is far.decided.de_embedding is not None
    lifted = np.median(np.abs(far.reading.reflection) / np.abs(near.reading.reflection))
    assert lifted == pytest.approx(10 ** (2 * 0.5 / 20), abs=0.01)
    assert far.noise > near.noise > 0


def test_what_a_calibration_warns_of_is_in_the_notes() -> None:
    doubted = replace(calibration(), warnings=("The load was loose.",))
    verdict = judged_sweep(
        sweeps(838e6), doubted, ReadingBudget(Assumptions()), plan=plan()
    ).decided
    assert "The load was loose." in verdict.notes


def test_what_would_come_back_before_it_was_sent_is_not_measured_and_said() -> None:
    terms, (sweep,) = calibration().terms, sweeps(838e6, 1)
    early = 0.2 * np.exp(2j * np.pi * F * 8 / np.ptp(F))
    raw = terms.directivity + terms.reflection_tracking * early / (1 - terms.source_match * early)
    verdict = judged_sweep(
        (replace(sweep, reflection=raw),), calibration(), ReadingBudget(Assumptions()), plan=plan()
    ).decided
    assert verdict.overall is State.NOT_MEASURED
    assert any("before it was sent" in note for note in verdict.notes)


def test_of_sweeps_that_move_the_last_is_shown_and_the_worst_decides() -> None:
    good, bad = sweeps(838e6, 1)[0], sweeps(700e6, 1)[0]
    found = judged_sweep((bad, good), calibration(), ReadingBudget(Assumptions()), plan=plan())
    alone = judged_sweep((good,), calibration(), ReadingBudget(Assumptions()), plan=plan())
    assert np.array_equal(found.reading.reflection, alone.reading.reflection)
    assert found.decided.overall == "fail" != alone.decided.overall


def test_without_a_plan_there_is_no_verdict() -> None:
    file = corrected_file(Reading(F, resonance(838e6)), Assumptions(), Plane.CONNECTOR, SOURCE)
    found = file.judged(CONNECTOR, None)
    assert found.verdict is None
    assert np.isfinite(found.interval.high).all()
    with pytest.raises(VerdictError, match="no plan to judge"):
        _ = found.decided
