"""From a calibration and a corrected sweep to how far each point can be trusted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from acquire.sweep import ComplexArray, Sweep
from calibration.calibration_budget import with_noise
from calibration.capture.averaging import Averaged
from calibration.error_terms.interpolation import same_grid
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.uncertainty.interval import Interval, interval
from calibration.verification.verified_budget import verified_budget

SAME_AGE_S = 60.0
SAME_SWEPT = 100
"""A budget is worked out anew once the calibration is older, or more used, by so much."""


def noise_in(budget: Budget, reflection: ComplexArray) -> float:
    """Complex noise of a reading, rms of a point, linear; 0 where its budget tells none.

    budget : the reading's, at the plane where it holds. reflection : it, shape (points,).
    The middle of its frequencies: a point that nobody knows does not count.
    """
    own = [each.size(reflection) for each in budget.contributions if each.part == "reading noise"]
    known = own[0][np.isfinite(own[0])] if own else np.empty(0)
    return float(np.sqrt(2) * np.median(known)) if known.size else 0.0


class ReadingBudget:
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
        age_s = (at - calibration.taken_at).total_seconds()
        kept = self._budget
        if (
            kept is None
            or self._for is not calibration
            or abs(age_s - self._age_s) > SAME_AGE_S
            or abs(swept - self._swept) > SAME_SWEPT
            or not same_grid(corrected.frequency_hz, kept.frequency_hz)
        ):
            kept = verified_budget(
                calibration,
                self.assumptions,
                at,
                swept=swept,
                frequency_hz=corrected.frequency_hz,
            )
            self._for, self._age_s, self._swept, self._budget = calibration, age_s, swept, kept
        now = replace(kept, frequency_hz=corrected.frequency_hz)
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
