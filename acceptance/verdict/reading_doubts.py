"""What a reading itself shows that may make it read better than the antenna is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

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
    """A note where all that was swept, or all that the plan wants, is a flat match, and not so
    good a one that it is a doubt; or none."""
    f, known = readings.frequency_hz, np.isfinite(readings.reflection)
    wanted = np.any([(f >= each.low_hz) & (f <= each.high_hz) for each in plan.targets], axis=0)
    flat = any(_is_flat(readings, part, FLAT_MATCH_DB) for part in (known, known & wanted))
    return [_flat_words(FLAT_MATCH_DB)] if flat and not _reads_like_a_load(readings) else []


def reading_doubts(readings: Sweep | Reading, cable_s: float) -> Sequence[str]:
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
    if _reads_like_a_load(readings):
        doubts.append(_flat_words(LIKE_A_LOAD_DB))
    return doubts


def _flat_words(level_db: float) -> str:
    return (
        f"The return loss is better than {level_db:g} dB over a wide range. Match alone cannot "
        "tell a wideband antenna from a load or a lossy cable: see what is connected."
    )


def _reads_like_a_load(readings: Sweep | Reading) -> bool:
    """True where all that was swept is matched as a load is. What the plan wants is not enough: an
    antenna of two bands may be as good in both, and reflects between them."""
    return _is_flat(readings, np.isfinite(readings.reflection), LIKE_A_LOAD_DB)


def _is_flat(readings: Sweep | Reading, part: NDArray[np.bool_], level_db: float) -> bool:
    """True where a part is matched so well over a range in which antennas seldom are."""
    f = readings.frequency_hz[part]
    most = float(reflection_from_return_loss(level_db))
    return bool(
        f.size
        and f[-1] >= FLAT_MATCH_RATIO * f[0]
        and float(np.abs(readings.reflection[part]).max()) <= most
    )
