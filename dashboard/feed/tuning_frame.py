"""How the tuning stands, as the page receives it: what is held, what was done, the advice."""

from __future__ import annotations

import math
from typing import Any
from zlib import crc32

import numpy as np

from acceptance.tuning.advice import millimetres
from acceptance.verdict.wording import spoken
from dashboard.bench.parts.tuning import change_words
from dashboard.bench.snapshot import Hold, Snapshot
from dashboard.feed.sentence import band_words


def hold_header(now: Snapshot) -> dict[str, Any] | None:
    """The held trace that is compared with, and what differs from it; None where none is drawn."""
    hold = now.held
    if hold is None or now.shown is None:
        return None
    label = hold_label(hold, now)
    return {
        "id": label["id"],
        "number": hold.number,
        "name": label["name"],
        "words": _since(hold, now),
    }


def hold_label(hold: Hold, now: Snapshot) -> dict[str, Any]:
    """A held trace by its name; without an id, and not drawn, where it cannot be compared."""
    comparable = (
        now.shown is not None
        and hold.sweep.plane is now.shown.plane
        and np.array_equal(hold.sweep.frequency_hz, now.shown.frequency_hz)
    )
    return {
        "number": hold.number,
        "name": hold.name or f"hold {hold.number}",
        "id": f"h{hold.number}" if comparable and hold.shown else None,
        "shown": hold.shown,
        "why": "" if comparable else "swept otherwise, so it is not drawn",
    }


def _since(hold: Hold, now: Snapshot) -> str:
    """What differs from a hold: the dip that moved most, and the range that changed most."""
    changes = []
    dips = () if now.tuning is None else now.tuning.dips
    before = {each.number: each.dip.frequency_hz for each in hold.dips}
    moved = [
        (each.dip.frequency_hz - before[each.number]) / 1e6
        for each in dips
        if each.number in before
    ]
    if moved:
        changes.append(f"dip {max(moved, key=abs):+.1f} MHz".replace("-", "−"))
    bands = () if now.verdict is None else now.verdict.bands
    if len(bands) == len(hold.margins):
        gained = [
            (band.margin_or_bound_db - was, band_words(band))
            for band, was in zip(bands, hold.margins, strict=True)
            if band.margin_or_bound_db is not None and was is not None
        ]
        if gained:
            better, name = max(gained, key=lambda pair: abs(pair[0]))
            changes.append(f"{name} {abs(better):.1f} dB {'better' if better >= 0 else 'worse'}")
    return ", ".join(changes)


def history_id(now: Snapshot) -> str | None:
    """Names the margins' history; the same name means the same points."""
    if now.tuning is None or not len(now.tuning.history):
        return None
    return f"m{now.tuning.history[-1, 0]:.1f}"


def tuning_header(now: Snapshot, clock_s: float) -> dict[str, Any] | None:
    """How the tuning stands."""
    tuning = now.tuning
    if tuning is None:
        return None
    best = None
    if tuning.best is not None:
        since = f", before {', '.join(tuning.best.since[-3:])}" if tuning.best.since else ""
        words = spoken(tuning.best.worst_db)
        best = f"Best so far: {words}{since}" if since else f"This is the best so far: {words}"
    return {
        "advice": None if tuning.advice is None else tuning.advice.kind,
        "checked": tuning.checked,
        "best": best or "",
        "waiting": f"Waiting to see it: {tuning.waiting}." if tuning.waiting else "",
        "advised": _advised(now),
        "step": tuning.step,
        "after": after_id(now),
        "history": history_id(now),
        "marks": [
            {"ago_s": round(clock_s - each.at_s, 1), "words": each.words} for each in tuning.marks
        ],
        "dips": [
            {
                "number": each.number,
                "mhz": each.dip.frequency_hz / 1e6,
                "words": f"{each.dip.frequency_hz / 1e6:.1f} MHz, "
                f"{_depth(each.dip.return_loss_db)}, Q {each.dip.q:.0f}",
            }
            for each in tuning.dips
            if not each.dip.beyond
        ],
        "dimensions": [
            {"name": each.name, "label": each.label, "step": each.step_mm}
            for each in now.recipe.dimensions
        ],
    }


def after_id(now: Snapshot) -> str | None:
    """Names the curve expected after the advised step; None where there is none, or while a step is
    waited for."""
    tuning = now.tuning
    if tuning is None or tuning.advice is None or tuning.advice.after is None or tuning.waiting:
        return None
    return f"a{crc32(tuning.advice.after.tobytes()):08x}"


def _advised(now: Snapshot) -> dict[str, Any] | None:
    """The step that is advised, as it may be said to be done; None where there is none, or while
    another is waited for."""
    advice = None if now.tuning is None or now.tuning.waiting else now.tuning.advice
    if advice is None or advice.dimension is None or advice.delta_mm is None:
        return None
    mm = math.copysign(float(millimetres(advice.delta_mm)), advice.delta_mm)
    words = change_words(now.recipe.find(advice.dimension), mm)
    return {"dimension": advice.dimension, "mm": mm, "words": words}


def _depth(decibels: float) -> str:
    """A dip's depth; never a number that no analyzer at hand knows."""
    return f"{decibels:.1f} dB deep" if decibels < 30 else "deep"
