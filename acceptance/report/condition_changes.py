"""What each condition of one antenna changes, as a table: a row a band, a row a dip."""

from __future__ import annotations

from dataclasses import dataclass

from acceptance.record.conditions import DipShift
from acceptance.record.examination import Examined
from acceptance.verdict.wording import band_title, margin


@dataclass(frozen=True, slots=True)
class Changes:
    """Conditions side by side, in words."""

    conditions: tuple[str, ...]
    """Their labels, in the order swept; two or more."""
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    """Each band's margin, each dip's place: a name, and a cell for each condition; empty where it
    is not known or the dip was not found again."""
    words: tuple[str, ...]
    """What each condition after the first one does, and how to tune for it."""

    @classmethod
    def of(cls, examined: Examined) -> Changes | None:
        """Of an acceptance; None while there is nothing to compare."""
        conditions = examined.conditions
        if len(conditions) < 2:
            return None
        margins = [
            (f"Margin, {band_title(bands[0])}", tuple(margin(each) for each in bands))
            for bands in zip(*(result.verdict.bands for result in conditions), strict=True)
        ]
        return cls(
            tuple(each.condition.label for each in conditions),
            (*margins, *_dips(examined)),
            tuple(each.words for each in examined.condition_comparisons),
        )


def _dips(examined: Examined) -> list[tuple[str, tuple[str, ...]]]:
    """Where each dip of the first condition lies in the others."""
    first: dict[int, float] = {}
    found: list[dict[int, DipShift]] = []
    for comparison in examined.condition_comparisons:
        first |= {each.number: each.before_hz for each in comparison.dips}
        found.append({each.number: each for each in comparison.dips})
    return [
        (
            f"Dip at {hz / 1e6:.0f} MHz",
            ("", *(_moved(each.get(number)) for each in found)),
        )
        for number, hz in sorted(first.items())
    ]


def _moved(shift: DipShift | None) -> str:
    if shift is None:
        return ""
    mhz, unsure_hz = shift.shift_hz / 1e6, shift.uncertainty_hz
    give_or_take = "" if unsure_hz is None else f" ± {unsure_hz / 1e6:.1f}"
    return f"{'+' if mhz >= 0 else '−'}{abs(mhz):.1f}{give_or_take} MHz"
