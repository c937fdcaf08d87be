"""Advice as a value and in words, and how right it turned out to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from acceptance.plan.acceptance_plan import Target
from acceptance.tuning.dip_tracking import Tracked
from acceptance.tuning.shifted_curve import Curve
from acquire.sweep import FloatArray

Kind = Literal["bend", "try", "good", "cannot", "no dip", "cable"]


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next."""

    kind: Kind
    action: str
    """What the hands should do: one short sentence."""
    reason: str = ""
    """Why: what was found, and what is wanted."""
    aside: str = ""
    """How sure that is, and what else to expect."""
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
    after: FloatArray | None = field(default=None, compare=False, repr=False)
    """The curve expected after the step: shape (points, 2), frequency in Hz and |G|."""

    @property
    def text(self) -> str:
        """What to do and why, in one breath, as a terminal says it."""
        return f"{self.action} {self.reason}".strip()


@dataclass(frozen=True, slots=True)
class Expected:
    """Where a step is expected to take a dip."""

    number: int
    frequency_hz: float
    low_hz: float
    high_hz: float
    """About 95 %."""


def how_right(expected: Sequence[Expected], dips: Sequence[Tracked]) -> str:
    """Say how right a prediction was, now that the dips are where they are: "predicted 854 MHz, got
    856 MHz"; where that is a surprise, with the range that was predicted."""
    parts = []
    now = {each.number: each.dip for each in dips}
    for each in expected:
        dip = now.get(each.number)
        if dip is None:
            continue
        surprise = not each.low_hz <= dip.frequency_hz <= each.high_hz
        interval = f" ({each.low_hz / 1e6:.0f} to {each.high_hz / 1e6:.0f})" if surprise else ""
        parts.append(
            f"predicted {each.frequency_hz / 1e6:.0f} MHz{interval}, "
            f"got {dip.frequency_hz / 1e6:.0f} MHz"
        )
    return "; ".join(parts)


def band_name(target: Target) -> str:
    name = target.name.replace("LTE ", "band ").replace("NR n", "band n")
    return name if target.link == "both" else f"{name} {target.link}"


def capital(words: str) -> str:
    """The words as a sentence begins."""
    return words[:1].upper() + words[1:]


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
