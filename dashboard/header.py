"""A snapshot as the page receives it: everything decided and worded here, nothing left to decide.

The page only draws. Numbers that a person reads are words already, so that page, terminal and
record cannot round differently; numbers to draw with stay numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import Any

import numpy as np

from acceptance.band_verdict import BandVerdict
from acceptance.decision import DECIDED, State, most_severe
from acceptance.limit import Limit
from acceptance.match import reflection_from_return_loss, vswr
from acceptance.plan import Target
from acceptance.verdict import MATCH_ONLY
from acquire.sweep import Plane
from calibration.session import SessionState
from dashboard.sentence import sentence
from dashboard.snapshot import WHAT_IT_IS, Snapshot
from replay.virtual_bench import ON_PORT, BenchState

WITHHELD = "withheld"
DEEPEST_DB = 60.0
"""A return loss beyond this is not written as a number: no unit at hand knows it."""

DIMENSIONS = {
    "arm_a_mm": ("Arm A", "the low dip", (0.5, 2.0)),
    "arm_b_mm": ("Arm B", "the high dip", (0.5, 2.0)),
    "feed_gap_mm": ("Feed gap", "how deep both are", (0.1, 0.5)),
    "height_mm": ("Height", "depth and width", (0.5, 2.0)),
}
"""Each dimension that can be bent: its name, what it moves, and the steps on offer, mm."""


def header(now: Snapshot, clock_s: float) -> dict[str, Any]:
    """Everything but the arrays, ready for JSON.

    clock_s : the bench's monotonic clock, for the age of the picture.
    """
    said = sentence(now)
    shown = now.shown
    return {
        "version": now.version,
        "sequence": now.sequence,
        "taken_at": None if shown is None else shown.taken_at.isoformat(),
        "age_s": None if now.seen_at_s is None else max(clock_s - now.seen_at_s, 0.0),
        "sweep_s": 1.0 if now.coverage is None else now.coverage.seconds,
        "plane": None if shown is None else str(shown.plane),
        "data": {
            "kind": None if shown is None else shown.source.kind,
            "words": "" if shown is None else WHAT_IT_IS[shown.source.kind],
        },
        "sentence": {"text": said.text, "aside": said.aside, "tone": said.tone, "mark": said.mark},
        "port": _port(now),
        "calibration": _calibration(now),
        "session": _session(now),
        "plan": {
            "name": None if now.plan is None else now.plan.name,
            "coverage": now.coverage_problem
            or ("" if now.coverage is None else now.coverage.words),
        },
        "strips": _strips(now),
        "overall": _overall(now),
        "trust": _trust(now),
        "notes": list(now.verdict.notes) if now.verdict is not None else [f"{MATCH_ONLY}."],
        "holds": len(now.holds),
        "hold": _hold(now),
        "grid": grid_id(now),
        "bench": None if now.bench is None else _bench(now.bench),
        "accept": _accept(now),
    }


def _port(now: Snapshot) -> dict[str, Any]:
    port = now.port
    where = port.address.partition("?")[0]  # a virtual unit's options are no news
    words = {
        "connecting": f"Connecting to {where}",
        "sweeping": f"Sweeping {where}",
        "lost": f"No unit at {where}",
        "stopped": f"Stopped {where}",
    }[port.phase]
    detail = port.message
    if port.unit:
        detail = f"{port.unit}, profile {port.profile}. {detail}".strip()
    if port.unproven:
        detail += " This profile has not been proven on hardware."
    return {"phase": port.phase, "words": words, "detail": detail}


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
    return {
        "state": state.phase,
        "words": words,
        "detail": state.message,
        "warnings": [] if held is None else list(held.warnings),
    }


def _session(now: Snapshot) -> dict[str, Any] | None:
    session = now.calibration.session
    if session is None:
        return None
    step, capture = session.step, session.capture
    return {
        "phase": session.phase,
        "message": session.message,
        "step": None
        if step is None
        else {
            "standard": step.standard,
            "spoken": _spoken(step.standard),
            "instruction": step.instruction,
            "cautions": list(step.cautions),
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


def _strips(now: Snapshot) -> list[dict[str, Any]]:
    """One strip a band, with its links in the plan's order."""
    if now.plan is None:
        return []
    bands: Sequence[BandVerdict | None] = (
        [None] * len(now.plan.targets) if now.verdict is None else now.verdict.bands
    )
    pairs = list(zip(now.plan.targets, bands, strict=True))
    strips = []
    for name, group in groupby(pairs, key=lambda pair: pair[0].name):
        links = list(group)
        judged = [band for _, band in links if band is not None]
        state = most_severe(band.state for band in judged) if judged else None
        strips.append(
            {
                "name": name,
                "note": links[0][0].note,
                "state": WITHHELD if state is None else str(state),
                "words": _state_words(state, judged),
                "links": [_link(target, band) for target, band in links],
            }
        )
    return strips


def _state_words(state: State | None, judged: Sequence[BandVerdict]) -> str:
    if state is None:
        return "mark withheld"
    return next((band.words for band in judged if band.state is state), str(state))


def _link(target: Target, band: BandVerdict | None) -> dict[str, Any]:
    return {
        "link": target.link,
        "low_mhz": target.low_hz / 1e6,
        "high_mhz": target.high_hz / 1e6,
        "limit": {
            "reflection": target.limit.reflection,
            "short": _short(target.limit),
            "words": target.limit.words,
        },
        "state": WITHHELD if band is None else str(band.state),
        "words": "mark withheld" if band is None else band.words,
        "worst": None if band is None else _worst(band),
        "margin": None if band is None else _margin(band),
        "margin_words": None if band is None else _margin_words(band),
        "average": None if band is None else _average(band),
        "trust": None if band is None else _trust_words(band),
        "reason": "" if band is None else band.reason,
    }


def _short(limit: Limit) -> str:
    return f"VSWR ≤ {limit.value:g}" if limit.metric == "vswr" else f"≥ {limit.value:g} dB"


def _worst(band: BandVerdict) -> dict[str, Any] | None:
    """The worst point, in the metric of its limit; beyond the floor, what is proven of it."""
    depth_db, at_hz = band.depth_db, band.worst_frequency_hz
    if depth_db is None or at_hz is None:
        return None
    reflection = float(reflection_from_return_loss(depth_db))
    beyond = "better than " if band.better_than_db is not None else ""
    if band.limit.metric == "vswr":
        ratio = float(vswr(reflection))
        value = f"{beyond}VSWR {ratio:.2f}" if ratio < 100 else "VSWR above 100"
    else:
        value = f"{beyond}{depth_db:.1f} dB"
        if depth_db >= DEEPEST_DB:
            value = f"better than {DEEPEST_DB:g} dB"
    digits = 1 if band.high_hz - band.low_hz < 10e6 else 0
    return {
        "mhz": at_hz / 1e6,
        "reflection": reflection,
        "words": f"{value} at {at_hz / 1e6:.{digits}f} MHz",
    }


def _margin(band: BandVerdict) -> str | None:
    """As "+1.6 dB" to spare, "−2.7 dB" short."""
    spare_db = band.spare_db
    if spare_db is None or not math.isfinite(spare_db):
        return None
    more = "" if band.margin_db is not None else ">"
    return f"{more}{'+' if spare_db >= 0 else '−'}{abs(spare_db):.1f} dB"


def _margin_words(band: BandVerdict) -> str | None:
    spare_db = band.spare_db
    if spare_db is None or not math.isfinite(spare_db):
        return None
    return f"{abs(spare_db):.1f} dB {'to spare' if spare_db >= 0 else 'short'}"


def _average(band: BandVerdict) -> str | None:
    average = band.average_return_loss_db
    if average is None and band.average_better_than_db is not None:
        return f"better than {band.average_better_than_db:.1f} dB"
    return None if average is None or not math.isfinite(average) else f"{average:.1f} dB"


def _trust_words(band: BandVerdict) -> str | None:
    """Where the worst point may lie, and what a pass risks."""
    if band.interval_db is None:
        return None
    low_db, high_db = band.interval_db
    upper = f"{high_db:.1f} dB" if math.isfinite(high_db) and high_db < DEEPEST_DB else "no limit"
    words = f"95 %: {low_db:.1f} dB to {upper}"
    if band.false_pass_risk is not None:
        risk = "below 0.1" if band.false_pass_risk < 0.001 else f"{100 * band.false_pass_risk:.1f}"
        words += f"; risk of a false pass {risk} %"
    return words


def floor_id(now: Snapshot) -> str | None:
    """Names the trust floor that is shown; the same name means the same curve."""
    return None if now.trust is None else f"f{hash(now.trust.floor.tobytes()) & 0xFFFFFFFFFFFF:x}"


def _trust(now: Snapshot) -> dict[str, Any] | None:
    """How far the trace can be trusted."""
    if now.trust is None:
        return None
    with np.errstate(divide="ignore"):
        floor_db = -20 * np.log10(now.trust.floor)
    low, high = f"{floor_db.min():.0f}", f"{floor_db.max():.0f}"
    return {
        "id": floor_id(now),
        "words": f"Trust floor {low if low == high else f'{low} to {high}'} dB",
        "detail": "A reading deeper than the trust floor is all uncertainty: it proves only that "
        "the match is better than so much, and gets no number of its own.",
    }


def _overall(now: Snapshot) -> dict[str, str]:
    if now.verdict is None:
        return {"state": WITHHELD, "words": "marks withheld"}
    return {"state": str(now.verdict.overall), "words": now.verdict.words}


def _hold(now: Snapshot) -> dict[str, Any] | None:
    """The newest hold; its trace has no id, and is not drawn, where it cannot be compared."""
    if not now.holds or now.shown is None:
        return None
    hold = now.holds[-1]
    comparable = hold.sweep.plane is now.shown.plane and np.array_equal(
        hold.sweep.frequency_hz, now.shown.frequency_hz
    )
    return {"id": f"h{hold.number}" if comparable else None, "sequence": hold.sweep.sequence}


def grid_id(now: Snapshot) -> str | None:
    """Names the frequencies that are shown; the same name means the same frequencies."""
    shown = now.shown
    if shown is None:
        return None
    # By content: what a unit answers may differ from what it was asked for.
    return f"g{hash(shown.frequency_hz.tobytes()) & 0xFFFFFFFFFFFF:x}"


def _bench(bench: BenchState) -> dict[str, Any]:
    return {
        "on_port": bench.on_port,
        "choices": list(ON_PORT),
        "steady": bench.steady,
        "antenna": bench.antenna_name,
        "dimensions": [
            {
                "name": name,
                "label": DIMENSIONS[name][0],
                "moves": DIMENSIONS[name][1],
                "steps": list(DIMENSIONS[name][2]),
                "mm": mm,
                "low": bench.bounds_mm[name][0],
                "high": bench.bounds_mm[name][1],
            }
            for name, mm in bench.dimensions_mm.items()
        ],
    }


def _accept(now: Snapshot) -> dict[str, Any]:
    why = not_acceptable(now)
    button = "Write the record"
    if now.verdict is not None:
        button += f": {now.verdict.words}"
    return {"ready": why == "", "why": why, "button": button}


def not_acceptable(now: Snapshot) -> str:
    """Why what is shown cannot be accepted now; empty if it can."""
    if not now.fresh:
        return "No sweeps come in, so there is nothing to accept. Connect the unit again."
    if now.plan is None:
        return "There is no plan to judge by. Choose the bands first."
    if now.calibration.session is not None:
        return "A calibration is in progress. Finish or leave it first."
    if now.verdict is None or now.corrected is None or now.corrected.plane is Plane.RAW:
        return f"Uncalibrated readings are not accepted. {now.calibration.message}".strip()
    if all(band.state not in DECIDED for band in now.verdict.bands):
        return "No band of the plan was measured. See the reasons in the table."
    return ""
