"""What a reading itself shows that may make it read better than the antenna is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from acceptance.limits.match import reflection_from_return_loss
from acceptance.plan.acceptance_plan import Plan
from acceptance.verdict.undeclared_cable import usual_length_m
from acquire.sweep import Reading, Sweep

FLAT_MATCH_DB = 12.0
"""A return loss better than this everywhere, over FLAT_MATCH_RATIO in frequency, is noted."""
FLAT_MATCH_RATIO = 1.5
LIKE_A_LOAD_DB = 20.0
"""And one better than this is a doubt: VSWR 1.22 over half an octave is no hand-built antenna's
[practice]."""


def flat_match(plan: Plan, readings: Sweep | Reading) -> Sequence[str]:
    """A note on a match that is flat, and not so good that it is a doubt; or none."""
    if not _is_flat(plan, readings, FLAT_MATCH_DB) or _is_flat(plan, readings, LIKE_A_LOAD_DB):
        return []
    return [_flat_words(FLAT_MATCH_DB)]


def reading_doubts(plan: Plan, readings: Sweep | Reading, cable_s: float) -> Sequence[str]:
    """The doubts, a sentence each.

    cable_s : delay of a cable that all of the reading is behind, one way, s; 0 where none shows.
    """
    doubts = []
    if cable_s > 0:
        doubts.append(
            f"All of the reading turns as behind {cable_s * 1e9:.1f} ns of cable (some "
            f"{usual_length_m(cable_s):.1f} m), which no antenna does by itself. An antenna reads "
            "better by twice what a cable before it loses: calibrate at its far end, or say what "
            "lies between."
        )
    if _is_flat(plan, readings, LIKE_A_LOAD_DB):
        doubts.append(_flat_words(LIKE_A_LOAD_DB))
    return doubts


def _flat_words(level_db: float) -> str:
    return (
        f"The return loss is better than {level_db:g} dB over a wide range. Match alone cannot "
        "tell a wideband antenna from a load or a lossy cable: see what is connected."
    )


def _is_flat(plan: Plan, readings: Sweep | Reading, level_db: float) -> bool:
    """True where all that was swept, or all that the plan wants, is matched so well over a range
    in which antennas seldom are."""
    f, known = readings.frequency_hz, np.isfinite(readings.reflection)
    wanted = np.any([(f >= each.low_hz) & (f <= each.high_hz) for each in plan.targets], axis=0)
    most = float(reflection_from_return_loss(level_db))
    return any(
        bool(f[part].size and f[part][-1] >= FLAT_MATCH_RATIO * f[part][0])
        and float(np.abs(readings.reflection[part]).max()) <= most
        for part in (known, known & wanted)
    )
