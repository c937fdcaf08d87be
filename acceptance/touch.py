"""The touch test: does the reading change when a hand grips the feed cable?

A current on the outside of the cable's shield makes the cable part of the antenna; a hand on it
then moves dips and return loss, which it cannot where there is none [practice]. The change is held
against what comes back when the hand lets go: that is how well the bench repeats.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from acceptance.curve import Curve

TIMES = 3.0
"""So many times what repeats is no accident."""
LEAST_MHZ_SHARE = 0.001
LEAST_DB = 0.3
"""What matters to nobody: a tenth of a per cent, three tenths of a decibel."""
STRONG_SHARE, STRONG_DB = 0.006, 1.5

HELP = (
    "A choke helps: ferrite on the cable close to the feed, a quarter-wave sleeve, or a balun. "
    "Then touch again."
)
Current = Literal["none", "some", "strong"]


@dataclass(frozen=True, slots=True)
class Touch:
    """What a hand on the cable did."""

    current: Current
    """How much of it flows on the outside of the shield, judged by that."""
    shift_mhz: float
    """Of the dip that moved most; 0 where there is none."""
    shift_repeats_mhz: float
    """How far the same dip was from where it began, once the hand had let go."""
    change_db: float
    """Of the worst margin of the band that changed most."""
    change_repeats_db: float
    text: str


def touch(before: Curve, gripped: Curve, after: Curve) -> Touch:
    """Judge three looks at one antenna: hands off, a hand round the cable, hands off again."""
    shift, shift_back, share = _shift(before, gripped, after)
    change, change_back = _change(before, gripped, after)
    moved = abs(share) > LEAST_MHZ_SHARE and abs(shift) > TIMES * abs(shift_back)
    changed = abs(change) > LEAST_DB and abs(change) > TIMES * abs(change_back)
    current: Current = "none"
    if moved or changed:
        strong = abs(share) > STRONG_SHARE or abs(change) > STRONG_DB
        current = "strong" if strong else "some"
    said = (
        f"The dip moves by {shift:+.1f} MHz (it repeats within {abs(shift_back):.1f}), the worst "
        f"margin by {change:+.1f} dB (repeats within {abs(change_back):.1f})."
    ).replace("-", "−")
    text = {
        "none": f"Gripping the cable changes nothing to speak of. {said}",
        "some": f"The cable is a little part of the antenna. {said} {HELP}",
        "strong": f"The cable is part of the antenna: its shield carries current. {said} {HELP}",
    }[current]
    return Touch(current, shift, shift_back, change, change_back, text)


def _shift(before: Curve, gripped: Curve, after: Curve) -> tuple[float, float, float]:
    one, two, three = (
        {each.number: each.dip.frequency_hz for each in curve.dips if not each.dip.beyond}
        for curve in (before, gripped, after)
    )
    everywhere = set(one) & set(two) & set(three)
    if not everywhere:
        return 0.0, 0.0, 0.0
    number = max(everywhere, key=lambda n: abs(two[n] / one[n] - 1))
    share = two[number] / one[number] - 1
    return (two[number] - one[number]) / 1e6, (three[number] - one[number]) / 1e6, share


def _change(before: Curve, gripped: Curve, after: Curve) -> tuple[float, float]:
    one, two, three = (curve.margins for curve in (before, gripped, after))
    if not one:
        return 0.0, 0.0
    # beyond 10 dB to spare a decibel more or less is nobody's business
    capped = [np.minimum(list(each.values()), 10.0) for each in (one, two, three)]
    most = int(np.argmax(np.abs(capped[1] - capped[0])))
    return float(capped[1][most] - capped[0][most]), float(capped[2][most] - capped[0][most])
