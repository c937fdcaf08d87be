"""Why a dip should move: where it is, where it should be, and the band that wants it there."""

from __future__ import annotations

import numpy as np

from acceptance.plan.acceptance_plan import Target
from acceptance.tuning.advice import band_name
from acceptance.tuning.shifted_curve import Curve


def needs_it(curve: Curve, number: int, shift: float) -> str:
    """Where a dip is, where it should be, and which band wants it there."""
    dip = next(each.dip for each in curve.dips if each.number == number)
    mhz, band = dip.frequency_hz / 1e6, helped(curve, number, shift)
    name = "" if band is None else band_name(band)
    if dip.beyond:
        whose = f" for {name}" if name else ""
        return f"The dip{whose} lies {dip.beyond} {mhz:.0f} MHz, outside what is swept."
    wanted = mhz * np.exp(shift)
    who = name or "what is wanted"
    return f"The dip is at {mhz:.0f} MHz; {who} needs it near {wanted:.0f} MHz."


def helped(curve: Curve, number: int, shift: float) -> Target | None:
    """The band that a slide of its dip helps most, of those that the dip comes nearer to.

    shift : d ln(frequency). None where it helps none.
    """
    tracked = next(each for each in curve.dips if each.number == number)
    now, then = tracked.dip.frequency_hz, tracked.dip.frequency_hz * float(np.exp(shift))
    still, moved = np.zeros(1), np.array([shift])

    def gain(target: Target) -> float:
        before, after = (curve.short(curve.after(target, s, still)) for s in (still, moved))
        return float(before[0] - after[0])

    nearer = [
        each
        for each in curve.served_by(tracked)
        if _away(each, then) < _away(each, now) and gain(each) > 0
    ]
    return max(nearer, key=gain, default=None)


def _away(target: Target, frequency_hz: float) -> float:
    """How far a frequency is from the middle of a band, in its logarithm."""
    return float(abs(np.log(frequency_hz / np.sqrt(target.low_hz * target.high_hz))))
