"""The bench's parts as the engine works with them: what a sweep does to each, and the moment that
comes of all of them together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analyzer.profile import Profile
from acquire.sweep import Sweep, SweepRequest
from dashboard.bench.engine import Engine
from dashboard.bench.evaluation import Evaluation, evaluate
from dashboard.bench.parts.acceptance import BenchAcceptance
from dashboard.bench.parts.calibration import BenchCalibration
from dashboard.bench.parts.held_traces import HeldTraces
from dashboard.bench.parts.passes import BenchPasses
from dashboard.bench.parts.plane import BenchPlane
from dashboard.bench.parts.recent_sweeps import RecentSweeps
from dashboard.bench.parts.station import BenchStation
from dashboard.bench.parts.touch_test import BenchTouchTest
from dashboard.bench.parts.tuning import Tuning
from dashboard.bench.parts.virtual_hands import VirtualHands
from dashboard.bench.snapshot import PortState, Snapshot


@dataclass(frozen=True, eq=False)
class Parts:
    """All of them; a `Work` of the engine, which calls every method under its lock."""

    engine: Engine
    recent: RecentSweeps
    passes: BenchPasses
    calibration: BenchCalibration
    plane: BenchPlane
    holds: HeldTraces
    tuning: Tuning
    touch_test: BenchTouchTest
    acceptance: BenchAcceptance
    hands: VirtualHands
    station: BenchStation | None = None

    def meet(self, profile: Profile) -> None:
        """An analyzer was met: sweep what it can of what is wanted."""
        self.recent.analyzer_is_back()
        self.calibration.analyzer_is_gone()  # it was, if only for a moment
        self.passes.meet(profile, self.calibration.held)

    def next_passes(self) -> Sequence[SweepRequest]:
        """What to sweep now: what is captured, else what is wanted."""
        guided = self.calibration.guided
        if guided is not None:
            return guided.request
        if self.passes.coverage is None:
            return ()
        return self.recent.next_passes(self.passes.coverage)

    def take(self, sweep: Sweep) -> None:
        """Let every part take the newest sweep that it concerns."""
        recent, passes, calibration = self.recent, self.passes, self.calibration
        whole = recent.take(sweep, self.engine.clock.monotonic())
        if whole and passes.coverage is not None and passes.profile is not None:
            recent.watch(passes.coverage, passes.profile, self.tuning.watched)
        if recent.whole is None:
            return
        recent.count(sweep)
        made = calibration.made
        if calibration.take(sweep):
            recent.swept = 0
            passes.work_out(calibration.held)
        if calibration.made != made:
            self.touch_test.forget()

    def lose(self) -> None:
        """The analyzer is gone, and what was being captured with it."""
        self.calibration.analyzer_is_gone()

    def has_moved(self, shown: Snapshot) -> bool:
        """True where the virtual bench is not as it was last shown."""
        return self.hands.state() != shown.bench

    def moment(self, version: int, port: PortState) -> Snapshot:
        """What is so now, the tuning's state brought up to it."""
        recent, passes, now_s = self.recent, self.passes, self.engine.clock.monotonic()
        averaged = recent.averaged
        found = evaluate(
            averaged,
            calibration=self.calibration,
            plane=self.plane,
            plan=passes.plan,
            swept=recent.swept,
        )
        judged = found.judged
        verdict = None if judged is None else judged.verdict
        self._tune(found, now_s)
        if verdict is None:
            self.touch_test.drop()  # its margins are the verdict's
        else:
            self.touch_test.offer()
        return Snapshot(
            version=version,
            sweep=None if averaged is None else averaged.sweep,
            averaged=averaged,
            burst=recent.burst(now_s),
            swept=recent.swept,
            whole_at_s=recent.whole_at_s,
            watched=None if averaged is recent.whole else recent.focus,
            corrected=found.corrected,
            assumptions=self.calibration.assumptions,
            uncertainty=None if judged is None else judged.interval,
            budget=None if judged is None else judged.budget,
            verdict=verdict,
            tuning=None if verdict is None else self.tuning.shown(),
            check_piece=self.acceptance.check_piece,
            acceptance=self.acceptance.state(passes.plan),
            station=None if self.station is None else self.station.state(),
            sweeping_since_s=recent.since_s,
            touch=self.touch_test.state,
            recipe=self.tuning.recipe,
            plan=passes.plan,
            plane=self.plane.state,
            coverage=passes.coverage,
            coverage_problem=passes.problem,
            port=port,
            calibration=found.calibration,
            holds=self.holds.all,
            bench=self.hands.state(),
            seen_at_s=recent.seen_at_s,
        )

    def _tune(self, found: Evaluation, now_s: float) -> None:
        """Let the tuning look at what was judged, if it was."""
        averaged, plan = self.recent.averaged, self.passes.plan
        if found.judged is not None and plan is not None and averaged is not None:
            self.tuning.take(found.judged, averaged, plan=plan, now_s=now_s)
