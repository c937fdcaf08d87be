"""Advice without a recipe: which dip to move, and by how much whatever sets it should be longer."""

from __future__ import annotations

import numpy as np

from acceptance.tuning.advice import Advice
from acceptance.tuning.dip_reason import needs_it
from acceptance.tuning.dip_tracking import Tracked
from acceptance.tuning.shifted_curve import Curve

FURTHEST_SLIDE = 0.25
"""How far a curve is slid at most, as a part of its frequency."""
CANDIDATE_COUNT = 121
NEAR_DIP_SHARE = 0.04
"""A dip is out of reach where the best of it would still be so much short; told once it is near."""
LEAST_GAIN_DB = 0.05
"""A move that takes less away from what the bands are short of is not worth a bend."""


def by_scaling(curve: Curve) -> Advice | None:
    """Without a recipe: how much longer or shorter whatever sets a dip should be; of all dips the
    one whose move takes most away from what the bands are short of. None where no move helps."""
    slides = np.linspace(-FURTHEST_SLIDE, FURTHEST_SLIDE, 4 * CANDIDATE_COUNT)
    still = np.zeros(slides.size)
    best: tuple[float, Tracked, float] | None = None
    for each in curve.dips:
        served = curve.served_by(each)
        if not served:
            continue
        margins = [curve.after(target, slides, still) for target in served]
        short = np.sum([curve.short(margin) for margin in margins], axis=0)
        at = int(np.argmin(short + 1e-3 * np.abs(slides)))
        now = sum(float(curve.short(curve.after(t, still[:1], still[:1]))[0]) for t in served)
        gain, slide = now - float(short[at]), float(slides[at])
        never = np.min(margins, axis=0).max() < 0 and abs(slide) < NEAR_DIP_SHARE / 4
        if not never and gain > 0 and (best is None or gain > best[0]):
            best = gain, each, slide
    if best is None or best[0] < LEAST_GAIN_DB:
        return None
    _, tracked, slide = best
    verb = "Lengthen" if slide < 0 else "Shorten"
    return Advice(
        "bend",
        f"{verb} what sets the {tracked.dip.frequency_hz / 1e6:.0f} MHz dip by "
        f"{abs(100 * slide):.1f} %.",
        needs_it(curve, tracked.number, slide),
        "This is by scaling alone. A recipe would name the part, and learn from each bend.",
        target_dip=tracked.number,
        target_hz=float(tracked.dip.frequency_hz * np.exp(slide)),
        after=curve.moved({tracked.number: (slide, 0.0)}),
    )
