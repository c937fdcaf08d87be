"""Figures in files that a person writes: what was probably meant by one that fits its unit badly.

A length of 0.009 mm is hardly meant; 9 mm given in metres is. Nothing is refused for it, since
somebody may mean it, and nothing is corrected: it is said, with what was probably meant.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Usual:
    """What a figure of one unit usually is on a bench for cellular antennas [practice]."""

    unit: str
    least: float
    most: float
    others: tuple[tuple[str, float], ...]
    """Units that people write by mistake, and how many of ours each is; the likelier first."""


_METRES = (("m", 1e3),)
_SECONDS = (("ns", 1e3), ("s", 1e12))
_HERTZ = (("GHz", 1e3), ("Hz", 1e-6), ("kHz", 1e-3))

USUAL = {
    "length_mm": Usual("mm", 1, 200_000, _METRES),
    "offset_length_mm": Usual("mm", 0.05, 300, _METRES),
    "length_tolerance_mm": Usual("mm", 0.05, 1000, _METRES),
    "step_mm": Usual("mm", 0.01, 100, _METRES),
    "size_mm": Usual("mm", 0.1, 10_000, _METRES),
    "delay_ps": Usual("ps", 1, 1e6, _SECONDS),
    "delay_tolerance_ps": Usual("ps", 0.02, 1000, _SECONDS),
    "offset_delay_ps": Usual("ps", 0.2, 1000, _SECONDS),
    "offset_ps": Usual("ps", 0.02, 1000, _SECONDS),
    "ideal_offset_ps": Usual("ps", 0.02, 1000, _SECONDS),
    "modelled_offset_ps": Usual("ps", 0.02, 1000, _SECONDS),
    "low_mhz": Usual("MHz", 20, 100_000, _HERTZ),
    "high_mhz": Usual("MHz", 20, 100_000, _HERTZ),
    "loss_at_mhz": Usual("MHz", 1, 100_000, _HERTZ),
    "c0_ff": Usual("fF", 0.2, 1000, (("pF", 1e3), ("F", 1e15))),
    "l0_ph": Usual("pH", 0.02, 1000, (("nH", 1e3), ("H", 1e12))),
}
"""By the field's name as it is written."""


def doubtful_figure(field: str, value: float, called: str = "") -> str:
    """What was probably meant by a figure; empty where it may well be meant as it stands.

    field : a name of `USUAL`; of any other nothing is said. called : what to call it where that is
    another word. Nought is none, and may always be meant; a sign says nothing here.
    """
    usual = USUAL.get(field)
    size = abs(value)
    if usual is None or size == 0 or usual.least <= size <= usual.most:
        return ""
    found = [
        f"Did you mean {value * each:.6g} {usual.unit}, given in {unit}?"
        for unit, each in usual.others
        if usual.least <= size * each <= usual.most
    ]
    asked = found[0] if found else f"Look at it again, in {usual.unit}."
    usually = f"{usual.least:g} to {usual.most:g} {usual.unit}"
    return f"{called or field} = {value:g} is hardly meant ({usually} is usual). {asked}"


def doubtful_figures(figures: Mapping[str, object], where: str = "") -> tuple[str, ...]:
    """The same of a table as it was read, a sentence each. where : stands before each of them."""
    found = (
        doubtful_figure(field, float(value))
        for field, value in figures.items()
        if isinstance(value, int | float) and not isinstance(value, bool)
    )
    return tuple(f"{where}: {each}" if where else each for each in found if each)
