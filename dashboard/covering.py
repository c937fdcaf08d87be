"""What is swept: the wanted bands as passes of the unit that was met."""

from __future__ import annotations

from typing import TYPE_CHECKING

from acceptance.plan.acceptance_plan import Plan
from acquire.coverage import Coverage, given
from acquire.errors import CoverageError
from acquire.spans import Span
from acquire.sweep_limits import Limits
from calibration.one_port_calibration import Calibration
from dashboard.reach import covers, within
from dashboard.surroundings import with_surroundings
from dashboard.sweep_plan import coverage_for

if TYPE_CHECKING:
    from acquire.analyzer.profile import Profile


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
        self.to_calibrate: Coverage | None = None
        """What a new calibration sweeps: all that is wanted, whatever was calibrated before."""
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
            whole = coverage_for(with_surroundings(plan, profile.limits), profile, self._step_khz)
            self.coverage = self._as_calibrated(profile, plan, held) or whole
            if self.coverage is whole and held is not None and covers(held, _spans(plan)):
                per_point = profile.timing.seconds_per_point
                self.coverage = within(whole, held, profile.limits, seconds_per_point=per_point)
            self.to_calibrate = whole
            self.problem = ""
        except CoverageError as error:
            self.problem = str(error)

    def _as_calibrated(
        self, profile: Profile, plan: Plan | None, held: Calibration | None
    ) -> Coverage | None:
        """The calibrated passes, where they cover the plan: while the calibration that was begun
        with holds, and wherever a unit that corrects itself is believed on no others."""
        begun_with = self._begun_with
        if held is None or self._step_khz is not None or not covers(held, _spans(plan)):
            return None
        if not held.source.unit_corrected and (begun_with is None or held.made != begun_with.made):
            return None
        seconds = profile.timing.seconds_per_point
        try:
            return given(held.request, limits=profile.limits, seconds_per_point=seconds)
        except CoverageError:  # another unit's; that it does not fit is told with its sweeps
            return None


def _spans(plan: Plan | None) -> tuple[Span, ...]:
    return () if plan is None else plan.spans
