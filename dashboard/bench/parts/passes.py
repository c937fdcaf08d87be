"""What is swept: the plan, and its bands as passes of the analyzer that was met."""

from __future__ import annotations

from acceptance.plan.acceptance_plan import Plan
from acquire.analyzer.profile import Profile
from acquire.coverage.spans import Span
from acquire.coverage.sweep_coverage import Coverage, given
from acquire.coverage.sweep_limits import Limits
from acquire.errors import CoverageError
from calibration.one_port_calibration import Calibration
from dashboard.bench.engine import Engine
from dashboard.bench.parts.recent_sweeps import RecentSweeps
from dashboard.sweeping.calibrated_range import covers, within
from dashboard.sweeping.sweep_margins import target_with_margins
from dashboard.sweeping.sweep_plan import coverage_for


class BenchPasses:
    """The plan, and the passes that follow from it and from what was calibrated.

    Everything here is called, and looked at, by the bench's other parts under the engine's lock.
    """

    def __init__(
        self,
        engine: Engine,
        recent: RecentSweeps,
        plan: Plan | None,
        step_khz: float | None,
        begun_with: Calibration | None,
    ) -> None:
        """step_khz : widest spacing of points; None leaves it to the bands.

        begun_with : while it holds and covers the plan, its passes are swept and no others.
        """
        self.plan = plan
        """What is judged by; None while there is no plan."""
        self.coverage: Coverage | None = None
        """What is swept; None before the first analyzer."""
        self.to_calibrate: Coverage | None = None
        """What a new calibration sweeps: all that is wanted, whatever was calibrated before."""
        self.problem = ""
        """Why the plan's bands cannot be swept, so that what was swept before still is."""
        self.profile: Profile | None = None
        """Of the analyzer that was met; None before the first."""
        self._engine = engine
        self._recent = recent
        self._step_khz = step_khz
        self._begun_with = begun_with

    @property
    def limits(self) -> Limits | None:
        """What the analyzer can sweep; None until it has answered."""
        return None if self.profile is None else self.profile.limits

    @property
    def spans(self) -> tuple[Span, ...]:
        """The plan's bands, Hz."""
        return () if self.plan is None else self.plan.spans

    def meet(self, profile: Profile, held: Calibration | None) -> None:
        """Sweep what this analyzer can of what is wanted."""
        self.profile = profile
        self.work_out(held)

    def part(self) -> None:
        """The analyzer is another one, and not met yet."""
        self.profile = self.coverage = self.to_calibrate = None
        self.problem = ""

    def use(self, plan: Plan, held: Calibration | None) -> None:
        """Sweep what another plan needs."""
        self.plan = plan
        self._recent.accept_by(plan)
        self.work_out(held)

    def begin_with(self, calibration: Calibration) -> None:
        """Sweep as this calibration, made before, was: while it holds and covers the plan."""
        self._begun_with = calibration
        self.work_out(calibration)

    def work_out(self, held: Calibration | None) -> None:
        """Work the passes out anew; they stay as they are before an analyzer was met.

        held : the calibration that holds now.
        """
        self._recent.sweep_anew()
        self._engine.wake()
        profile = self.profile
        if profile is None:
            return
        try:
            target = target_with_margins(self.plan, profile.limits)
            whole = coverage_for(target, profile, self._step_khz)
            self.coverage = self._as_calibrated(profile, held) or whole
            if self.coverage is whole and held is not None and covers(held, self.spans):
                per_point = profile.timing.seconds_per_point
                self.coverage = within(whole, held, profile.limits, seconds_per_point=per_point)
            self.to_calibrate = whole
            self.problem = ""
        except CoverageError as error:
            self.problem = str(error)

    def _as_calibrated(self, profile: Profile, held: Calibration | None) -> Coverage | None:
        """The calibrated passes, where they cover the plan: while the calibration that was begun
        with holds, and wherever an analyzer that corrects itself is believed on no others."""
        begun_with = self._begun_with
        if held is None or self._step_khz is not None or not covers(held, self.spans):
            return None
        if not held.source.analyzer_corrected and (
            begun_with is None or held.made != begun_with.made
        ):
            return None
        seconds = profile.timing.seconds_per_point
        try:
            return given(held.request, limits=profile.limits, seconds_per_point=seconds)
        except CoverageError:  # another analyzer's; that it does not fit is told with its sweeps
            return None
