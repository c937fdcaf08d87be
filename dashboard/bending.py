"""Which way to bend next, by the rule of thumb that people with pliers use.

A longer arm resonates lower. A group of bands served by one arm is worst at its lower edge when
the arm's dip lies too high: then the arm wants to be longer; worst at its upper edge, shorter.
Steps shrink when the direction turns. It is a rule for the demo's two-armed radiator, whose data
is invented.
"""

from __future__ import annotations

from acceptance.band_verdict import BandVerdict
from acceptance.bands import Span
from acceptance.verdict import Verdict

BORDER_HZ = 1.3e9
"""Between the bands that the long arm serves and those that the short arm serves."""
STEP_MM = {"arm_a_mm": 2.0, "arm_b_mm": 1.0}
FINEST_MM = 0.5


class Bender:
    """Someone who bends, looks, and remembers the last bend of each arm."""

    def __init__(self) -> None:
        self._step_mm = dict(STEP_MM)
        self._last: dict[str, float] = {}

    def next_bend(self, verdict: Verdict) -> tuple[str, float] | None:
        """Return which arm to bend and by how many mm, longer positive; None if all bands pass.

        Looks at the band that fails by most.
        """
        worst = worst_band(verdict)
        if worst is None or worst.worst_frequency_hz is None:
            return None
        is_low = worst.low_hz < BORDER_HZ
        arm = "arm_a_mm" if is_low else "arm_b_mm"
        low_hz, high_hz = hull([b for b in verdict.bands if (b.low_hz < BORDER_HZ) == is_low])
        way = 1.0 if worst.worst_frequency_hz < (low_hz + high_hz) / 2 else -1.0
        if self._last.get(arm, way) != way:
            self._step_mm[arm] = max(FINEST_MM, self._step_mm[arm] / 2)
        self._last[arm] = way
        return arm, way * self._step_mm[arm]


def worst_band(verdict: Verdict) -> BandVerdict | None:
    """Return the measured band that lies furthest beyond its limit; None if there is none."""
    failing = [
        (band.margin_db, at)
        for at, band in enumerate(verdict.bands)
        if band.state != "pass" and band.margin_db is not None
    ]
    return verdict.bands[min(failing)[1]] if failing else None


def hull(bands: list[BandVerdict]) -> Span:
    """Return the lowest and the highest frequency of several bands, Hz."""
    return min(band.low_hz for band in bands), max(band.high_hz for band in bands)
