"""What is swept: the wanted bands as passes of the unit that was met."""

from __future__ import annotations

from typing import TYPE_CHECKING

from acceptance.plan import Plan
from acquire.coverage import Coverage, Limits, given
from acquire.errors import CoverageError
from calibration.calibrated import Calibration
from dashboard.surroundings import with_surroundings
from dashboard.unit import coverage_for, covers

if TYPE_CHECKING:
    from acquire.profile import Profile


class Covering:
    """Works the passes out. Not safe to share: its bench holds the lock."""

    def __init__(self, step_khz: float | None, begun_with: Calibration | None) -> None:
        """step_khz : widest spacing of points; None leaves it to the bands.

        begun_with : while it holds and covers the plan, its passes are swept and no others.
        """
        self.profile: Profile | None = None
        """Of the unit that was met; None before the first."""
        self.coverage: Coverage | None = None
        """What is swept; None before the first unit."""
        self.problem = ""
        """Why the plan's bands cannot be swept, so that what was swept before still is."""
        self._step_khz = step_khz
        self._begun_with = begun_with

    @property
    def limits(self) -> Limits | None:
        """What the unit can sweep; None until it has answered."""
        return None if self.profile is None else self.profile.limits

    def work_out(self, plan: Plan | None, held: Calibration | None) -> None:
        """Work the passes out anew; nothing changes before a unit was met.

        held : the calibration that holds now.
        """
        profile = self.profile
        if profile is None:
            return
        try:
            self.coverage = self._as_calibrated(profile, plan, held) or coverage_for(
                with_surroundings(plan, profile.limits), profile, self._step_khz
            )
            self.problem = ""
        except CoverageError as error:
            self.problem = str(error)

    def _as_calibrated(
        self, profile: Profile, plan: Plan | None, held: Calibration | None
    ) -> Coverage | None:
        """The passes of the calibration that was begun with, while it holds and covers the plan."""
        begun_with = self._begun_with
        if begun_with is None or held is None or held.made != begun_with.made:
            return None
        spans = () if plan is None else plan.spans
        if self._step_khz is not None or not covers(begun_with, spans):
            return None
        seconds = profile.timing.seconds_per_point
        try:
            return given(begun_with.request, limits=profile.limits, seconds_per_point=seconds)
        except CoverageError:  # another unit's; that it does not fit is told with its sweeps
            return None
