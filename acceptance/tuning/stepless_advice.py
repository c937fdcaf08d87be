"""What to do where no step of any size helps: it is not the antenna, or not its sizes."""

from __future__ import annotations

import numpy as np

from acceptance.tuning.advice import Advice, band_name, capital
from acceptance.tuning.dip_tracking import Tracked
from acceptance.tuning.dips import Ripple
from acceptance.tuning.scaling_advice import CANDIDATE_COUNT, FURTHEST_SLIDE, NEAR_DIP_SHARE
from acceptance.tuning.shifted_curve import Curve
from acceptance.verdict.undeclared_cable import usual_length_m

TOO_SHALLOW_DB = 0.7
LARGEST_UNCERTAINTY_SHARE = 0.5
"""Where the uncertainty takes so much of what a limit allows, it is the reading that is short."""


def nothing_in_sight() -> Advice:
    return Advice(
        "no dip",
        "Check that the antenna is connected.",
        "No dip is in sight.",
        "If it is connected, its dip lies outside what is swept: widen the plan.",
    )


def through_ripple(ripple: Ripple) -> Advice:
    """Minima in even steps are a cable's, and hide whatever the antenna does."""
    return Advice(
        "cable",
        "Check the cable and its joints.",
        f"The trace ripples every {ripple.spacing_hz / 1e6:.0f} MHz, {ripple.count} times, as "
        f"{usual_length_m(ripple.delay_s):.1f} m of cable with a bad joint or of the wrong "
        "impedance does.",
        "No dip of an antenna can be told apart from it.",
    )


def too_uncertain(curve: Curve) -> Advice | None:
    """Say so where the bands that are short read within their limit, and doubt takes most of it."""
    short = [curve.targets[n] for n, margin in curve.margins.items() if margin < 0]
    worst = max(short, key=lambda each: curve.uncertainty_at(each) / each.limit.reflection)
    share = curve.uncertainty_at(worst) / worst.limit.reflection
    if share < LARGEST_UNCERTAINTY_SHARE or not all(curve.reads_within(each) for each in short):
        return None
    return Advice(
        "cannot",
        "Stop bending; calibrate with a better load.",
        f"{capital(band_name(worst))} reads within its limit; what is in doubt is the reading.",
        f"Its uncertainty, {curve.uncertainty_at(worst):.2f} of |reflection|, takes "
        f"{100 * share:.0f} % of what the limit allows. A check against a known device helps too.",
    )


def too_shallow(curve: Curve, tracked: Tracked) -> Advice | None:
    """Say so where a dip, as wide as it is, cannot serve its bands wherever and however deep.

    Told only once it is near: from afar the curve beside a dip is not yet that dip's own.
    """
    if tracked.dip.beyond:
        return None
    served = curve.served_by(tracked)
    slides = np.linspace(-FURTHEST_SLIDE, FURTHEST_SLIDE, 2 * CANDIDATE_COUNT)
    depths = -tracked.dip.reflection * np.linspace(0.0, 1.0, 6)
    shift, depth = np.tile(slides, depths.size), np.repeat(depths, slides.size)
    together = np.min([curve.after(each, shift, depth) for each in served], axis=0)
    at = int(np.argmax(together))
    best, where = float(together[at]), float(shift[at])
    if best > -TOO_SHALLOW_DB or abs(where) > NEAR_DIP_SHARE:
        return None
    names = " and ".join(dict.fromkeys(band_name(each) for each in served))
    both = "both " if len({each.name for each in served}) == 2 else ""
    return Advice(
        "cannot",
        "Make the dip wider: more height, or a wider strip.",
        f"The dip at {tracked.dip.frequency_hz / 1e6:.0f} MHz cannot reach {both}{names}.",
        f"As wide as it is, {-best:.1f} dB would be missing at best.",
    )
