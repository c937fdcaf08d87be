"""How many sweeps of each standard are averaged, and what is said of that and of the kit."""

from __future__ import annotations

import re

from calibration.standards.kit import Kit

SWEEPS_A_STANDARD = 8
SLOW_SWEEP_S = 2.0
"""Where one sweep takes longer, fewer a standard must do: a standard is on for half a minute as it
is, and what a hand and a cable do in that time is no longer averaged away [practice]."""
SLOW_SWEEPS_A_STANDARD = 4
"""The fewest that show a drift; the average is noisier by the root of two, which is counted."""
SURE = re.compile(r" \[(read|memory|run|derived|practice)\]")
"""How sure a kit's source is of itself, for contributors."""


def sweeps_a_standard(sweep_s: float) -> int:
    """How many sweeps of each standard are averaged, where one takes so many seconds."""
    return SLOW_SWEEPS_A_STANDARD if sweep_s > SLOW_SWEEP_S else SWEEPS_A_STANDARD


def sweeps_words(sweep_s: float) -> str:
    """Why fewer sweeps a standard are averaged; empty where they are not."""
    if sweep_s <= SLOW_SWEEP_S:
        return ""
    return (
        f"A sweep takes {sweep_s:.1f} s, so {SLOW_SWEEPS_A_STANDARD} of each standard are averaged "
        f"instead of {SWEEPS_A_STANDARD}."
    )


def kit_words(kit: Kit) -> str:
    """Where what is known of a kit comes from, and so what it costs."""
    return SURE.sub("", " ".join(kit.source.split()))
