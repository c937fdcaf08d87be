"""Advice as a value and in words, and how right it turned out to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from acceptance.plan.acceptance_plan import Target
from acceptance.tuning.dip_tracking import Tracked
from acceptance.tuning.shifted_curve import Curve

Kind = Literal["bend", "try", "good", "cannot", "no dip"]


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next."""

    kind: Kind
    text: str
    """One or two short sentences."""
    aside: str = ""
    """Why, or what to expect; a smaller sentence."""
    dimension: str | None = None
    delta_mm: float | None = None
    """Positive: larger."""
    low_mm: float | None = None
    high_mm: float | None = None
    """Between these lies the step that is wanted, about 95 %."""
    target_dip: int | None = None
    target_hz: float | None = None
    """Which dip it is about, and where that dip is wanted."""
    expected: tuple[Expected, ...] = ()
    """Where the step is expected to take each dip."""


@dataclass(frozen=True, slots=True)
class Expected:
    """Where a step is expected to take a dip."""

    number: int
    frequency_hz: float
    low_hz: float
    high_hz: float
    """About 95 %."""


def how_right(expected: Sequence[Expected], dips: Sequence[Tracked]) -> str:
    """Say how right a prediction was, now that the dips are where they are."""
    parts = []
    now = {each.number: each.dip for each in dips}
    for each in expected:
        dip = now.get(each.number)
        if dip is None:
            continue
        inside = each.low_hz <= dip.frequency_hz <= each.high_hz
        off = (dip.frequency_hz - each.frequency_hz) / 1e6
        parts.append(
            f"dip expected at {each.frequency_hz / 1e6:.0f} MHz ({each.low_hz / 1e6:.0f} to "
            f"{each.high_hz / 1e6:.0f}), found at {dip.frequency_hz / 1e6:.0f}: "
            f"{'as expected' if inside else f'{abs(off):.0f} MHz off'}"
        )
    return "; ".join(parts)


def band_name(target: Target) -> str:
    name = target.name.replace("LTE ", "band ").replace("NR n", "band n")
    return name if target.link == "both" else f"{name} {target.link}"


def millimetres(value: float) -> str:
    """As a hand can do it: tenths below 10 mm, else whole ones."""
    return f"{abs(value):.1f}".removesuffix(".0") if abs(value) < 10 else f"{abs(value):.0f}"


def resistance_at(curve: Curve, number: int) -> str:
    """Whether the resistance is high or low; empty where nobody can tell."""
    ohm = curve.resistance_ohm.get(number)
    return "" if ohm is None else f" {resistance_words(ohm)}"


def resistance_words(ohm: float) -> str:
    """Whether the resistance at the feed is high or low, where the plane is the feed's."""
    if 40 <= ohm <= 62:
        return f"The resistance there, {ohm:.0f} ohm, is right."
    return f"The resistance there, {ohm:.0f} ohm, is too {'high' if ohm > 50 else 'low'}."
