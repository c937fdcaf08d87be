"""From a calibration and a corrected sweep to how far each point can be trusted."""

from __future__ import annotations

import numpy as np

from acquire.sweep import Sweep
from calibration.averaging import Averaged
from calibration.budget import Assumptions, Budget
from calibration.calibrated import Calibration
from calibration.contributions import with_noise
from calibration.interpolation import same_grid
from calibration.proven import proven_budget
from calibration.uncertainty import Interval, interval

SAME_AGE_S = 60.0
SAME_SWEPT = 100
"""A budget is worked out anew once the calibration is older, or more used, by so much."""


def noise_of_mean(calibration: Calibration, averaged: Averaged) -> float:
    """Noise of a corrected mean, rms, linear, the middle of its frequencies; 0 where not known.

    A raw scatter, over the size of the reflection tracking and the root of the number of sweeps.
    """
    if averaged.noise is None:
        return 0.0
    tracking = np.abs(calibration.terms.reflection_tracking)
    return float(np.median(averaged.noise) / np.median(tracking) / np.sqrt(averaged.sweeps))


class Trust:
    """Works out intervals, and keeps the budget as long as it is the same.

    Not safe to share between threads.
    """

    def __init__(self, assumptions: Assumptions) -> None:
        self.assumptions = assumptions
        self._for: Calibration | None = None
        self._age_s = 0.0
        self._swept = 0
        self._budget: Budget | None = None

    def budget(
        self,
        calibration: Calibration,
        corrected: Sweep,
        averaged: Averaged | None = None,
        *,
        swept: int = 0,
    ) -> Budget:
        """What can be wrong with a corrected sweep at its time, on its own grid.

        averaged : how it came about, if it is the mean of several.
        swept : how many sweeps were taken since the calibration, or since it was last checked.
        """
        at = corrected.taken_at
        age_s = max((at - calibration.taken_at).total_seconds(), 0.0)
        kept = self._budget
        if (
            kept is None
            or self._for is not calibration
            or abs(age_s - self._age_s) > SAME_AGE_S
            or abs(swept - self._swept) > SAME_SWEPT
            or not same_grid(corrected.frequency_hz, kept.frequency_hz)
        ):
            kept = proven_budget(
                calibration,
                self.assumptions,
                at,
                swept=swept,
                frequency_hz=corrected.frequency_hz,
            )
            self._for, self._age_s, self._swept, self._budget = calibration, age_s, swept, kept
        now = Budget(corrected.frequency_hz, kept.contributions)
        if averaged is None or averaged.noise is None:
            return now
        return with_noise(now, calibration, averaged.noise, averaged.sweeps)

    def interval(
        self,
        calibration: Calibration,
        corrected: Sweep,
        averaged: Averaged | None = None,
        *,
        swept: int = 0,
    ) -> Interval:
        """How far each point of a sweep that this calibration corrected can be trusted."""
        budget = self.budget(calibration, corrected, averaged, swept=swept)
        return interval(budget, corrected.reflection)
