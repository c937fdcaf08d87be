"""A snapshot as the page receives it: everything decided and worded here, nothing left to decide.

The page only draws. Numbers that a person reads are words already, so that page, terminal and
record cannot round differently; numbers to draw with stay numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from acceptance.tuning.unserved_dips import unserved_dips
from acceptance.verdict.plan_verdict import MATCH_ONLY
from calibration.capture.guided_captures import SessionState
from calibration.uncertainty.budget import Contribution
from dashboard.bench.snapshot import Snapshot
from dashboard.feed.accept_frame import accept_header
from dashboard.feed.demo_frame import bench_header
from dashboard.feed.first_run import guide
from dashboard.feed.port_frame import port_header
from dashboard.feed.sentence import sentence
from dashboard.feed.strip_frame import NOT_JUDGED, WITHHELD, strips
from dashboard.feed.tuning_frame import hold_header, hold_label, tuning_header
from dashboard.feed.what_is_on import NO_ANTENNA, what_is_on
from dashboard.source_words import WHAT_IT_IS


def header(now: Snapshot, clock_s: float) -> dict[str, Any]:
    """Everything but the arrays, ready for JSON.

    clock_s : the bench's monotonic clock, for the age of the picture.
    """
    headline = sentence(now)
    shown = now.shown
    return {
        "version": now.version,
        "sequence": now.sequence,
        "taken_at": None if shown is None else shown.taken_at.isoformat(),
        "age_s": None if now.seen_at_s is None else max(clock_s - now.seen_at_s, 0.0),
        "sweep_s": 1.0 if now.coverage is None else now.coverage.seconds,
        "plane": None if shown is None else str(shown.plane),
        "at_plane": asdict(now.plane),
        "data": {
            "kind": None if shown is None else shown.source.kind,
            "words": "" if shown is None else WHAT_IT_IS[shown.source.kind],
        },
        "sentence": {
            "text": headline.text,
            "aside": headline.aside,
            "tone": headline.tone,
            "mark": headline.mark,
            "way": headline.way,
            "next_step": headline.next_step,
        },
        "port": port_header(now),
        "guide": guide(now, headline),
        "calibration": _calibration(now),
        "session": _session(now),
        "plan": {
            "name": None if now.plan is None else now.plan.name,
            "coverage": "" if now.coverage_problem or now.coverage is None else now.coverage.words,
            "wanted": now.plan is None or now.coverage_problem != "",
        },
        "strips": strips(now, clock_s),
        "overall": _overall(now),
        "trust": _trust(now),
        "averaged": _averaged(now),
        "trouble": now.port.trouble,
        "notes": _notes(now, clock_s),
        "tuning": tuning_header(now, clock_s),
        "touch": {
            "phase": now.touch.phase,
            "message": now.touch.message,
            "result": "" if now.touch.result is None else now.touch.result.text,
        },
        "holds": [
            hold_label(each, now) for each in sorted(now.holds, key=lambda each: each.number)
        ],
        "hold": hold_header(now),
        "grid": grid_id(now),
        "bench": None if now.bench is None else bench_header(now.bench),
        "accept": accept_header(now),
        "station": None if now.station is None else asdict(now.station),
    }


def _calibration(now: Snapshot) -> dict[str, Any]:
    state = now.calibration
    held = state.calibration
    words = {
        "none": "Not calibrated",
        "running": "Calibrating",
        "held": "Calibrated",
        "misfit": "Calibration does not fit",
    }[state.phase]
    if held is not None and state.phase == "held":
        words += f" {held.taken_at.astimezone():%H:%M}"
        words += ", in doubt" if held.warnings else ""
    return {
        "state": state.phase,
        "words": words,
        "detail": " ".join(filter(None, (state.message, "" if held else state.pace))),
        "kit": state.kit,
        "kit_words": state.kit_words,
        "warnings": [] if held is None else list(held.warnings),
        "standards": [] if held is None else list(held.readings),
        "outcome": None
        if state.outcome is None
        else {"agrees": state.outcome.agrees, "words": list(state.outcome.words)},
    }


def _session(now: Snapshot) -> dict[str, Any] | None:
    session = now.calibration.session
    if session is None:
        return None
    step, capture = session.step, session.capture
    return {
        "phase": session.phase,
        "checking": now.calibration.checking,
        "message": session.message,
        "step": None
        if step is None
        else {
            "standard": step.standard,
            "spoken": _spoken(step.standard),
            "instruction": step.instruction,
            "cautions": [*step.cautions, *filter(None, [now.calibration.pace])],
            "optional": step.optional,
        },
        "standards": _standards(session),
        "capture": None
        if capture is None
        else {
            "phase": capture.phase,
            "sweeps": capture.sweeps,
            "wanted": capture.wanted,
            "steadiness": capture.steadiness,
            "movement": capture.movement,
            "message": capture.message,
        },
    }


def _standards(session: SessionState) -> list[dict[str, Any]]:
    """Every standard of the kit, in the kit's order as far as it can be told."""
    now = None if session.step is None else session.step.standard
    if session.step is not None and session.step.optional:  # a standard that was taken before
        now = session.remaining[0]
    names = [*session.taken, *(name for name in session.remaining if name not in session.taken)]
    return [
        {
            "name": name,
            "spoken": _spoken(name),
            "number": number,
            "state": "now" if name == now else "taken" if name in session.taken else "waiting",
        }
        for number, name in enumerate(names, 1)
    ]


def _spoken(standard: str) -> str:
    return standard.replace("-", " ")


def floor_id(now: Snapshot) -> str | None:
    """Names the trust floor that is shown; the same name means the same curve."""
    return (
        None
        if now.uncertainty is None
        else f"f{hash(now.uncertainty.floor.tobytes()) & 0xFFFFFFFFFFFF:x}"
    )


def _trust(now: Snapshot) -> dict[str, Any] | None:
    """How far the trace can be trusted."""
    if now.uncertainty is None:
        return None
    with np.errstate(divide="ignore"):
        floor_db = -20 * np.log10(now.uncertainty.floor)
    low, high = f"{floor_db.min():.0f}", f"{floor_db.max():.0f}"
    words = f"Trust floor {low if low == high else f'{low} to {high}'} dB"
    load = next((each for each in _parts(now) if each.cause == "the load"), None)
    if load is not None and load.origin == "assumed":
        words += ": nothing is stated of your load, so 26 dB is assumed"
    return {
        "id": floor_id(now),
        "words": words,
        "detail": "A reading deeper than the trust floor is all uncertainty: it proves only that "
        "the match is better than so much, and gets no number of its own.",
        "load": "" if load is None else f"The load: {load.words}.",
    }


def _parts(now: Snapshot) -> Sequence[Contribution]:
    return () if now.budget is None else now.budget.contributions


def _averaged(now: Snapshot) -> dict[str, Any]:
    """How many sweeps the trace is the mean of, and what was left out of them."""
    averaged = now.averaged
    if averaged is None:
        return {"words": "", "burst": ""}
    words = f"Mean of {averaged.sweeps} sweeps" if averaged.steady else "One sweep: it moves"
    return {"words": words, "burst": "" if now.burst is None else now.burst.words}


def _overall(now: Snapshot) -> dict[str, str]:
    if now.verdict is None:
        return {"state": WITHHELD, "words": NOT_JUDGED}
    if what_is_on(now) is not None:
        return {"state": WITHHELD, "words": NO_ANTENNA}
    return {"state": str(now.verdict.overall), "words": now.verdict.words}


def _notes(now: Snapshot, clock_s: float) -> list[str]:
    notes = [f"{MATCH_ONLY}."] if now.verdict is None else list(now.verdict.notes)
    if now.verdict is not None and now.tuning is not None:
        notes += unserved_dips(now.verdict.bands, [each.dip for each in now.tuning.dips])
    notes += now.recipe.warnings
    if now.watched is not None and now.whole_at_s is not None:
        age = max(clock_s - now.whole_at_s, 0.0)
        notes.append(
            f"Strips of different moments: one part is watched closely, the rest is {age:.0f} s "
            "old. An acceptance waits for whole sweeps."
        )
    return notes


def grid_id(now: Snapshot) -> str | None:
    """Names the frequencies that are shown; the same name means the same frequencies."""
    shown = now.shown
    if shown is None:
        return None
    # By content: what an analyzer answers may differ from what it was asked for.
    return f"g{hash(shown.frequency_hz.tobytes()) & 0xFFFFFFFFFFFF:x}"
