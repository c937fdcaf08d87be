"""From a calibration and a corrected sweep to how far each point can be trusted."""

from __future__ import annotations

from datetime import datetime

from acquire.sweep import Sweep
from calibration.budget import Assumptions, Budget
from calibration.calibrated import Calibration
from calibration.contributions import budget_of
from calibration.interpolation import same_grid
from calibration.uncertainty import Interval, interval

SAME_AGE_S = 60.0
"""A budget is worked out anew once the calibration is older by so much."""


class Trust:
    """Works out intervals, and keeps the budget as long as it is the same.

    Not safe to share between threads.
    """

    def __init__(self, assumptions: Assumptions) -> None:
        self.assumptions = assumptions
        self._for: Calibration | None = None
        self._age_s = 0.0
        self._budget: Budget | None = None

    def budget(self, calibration: Calibration, corrected: Sweep, at: datetime) -> Budget:
        """What can be wrong with a corrected sweep at that time, on the sweep's own grid."""
        age_s = max((at - calibration.taken_at).total_seconds(), 0.0)
        kept = self._budget
        if (
            kept is None
            or self._for is not calibration
            or abs(age_s - self._age_s) > SAME_AGE_S
            or not same_grid(corrected.frequency_hz, kept.frequency_hz)
        ):
            kept = budget_of(
                calibration, self.assumptions, age_s=age_s, frequency_hz=corrected.frequency_hz
            )
            self._for, self._age_s, self._budget = calibration, age_s, kept
        return Budget(corrected.frequency_hz, kept.contributions)

    def interval(self, calibration: Calibration, corrected: Sweep, at: datetime) -> Interval:
        """How far each point of a sweep that this calibration corrected can be trusted."""
        return interval(self.budget(calibration, corrected, at), corrected.reflection)
