"""What the sweeps that come in amount to: their average, what is watched closely, how old it is.

Whole sweeps are averaged while they agree. With a slow analyzer short ones of what is being tuned
come in between, are averaged by themselves and put over the whole.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from acceptance.plan.acceptance_plan import Plan
from acquire.analyzer.profile import Profile
from acquire.coverage.spans import Span
from acquire.coverage.sweep_coverage import Coverage
from acquire.sweep import Sweep, SweepRequest
from calibration.capture.averaging import MOST_SWEEPS, Averaged, Averaging, Burst
from dashboard.bench.focus import SLOW_S, Attention, Focus, together

SHORTS_REMEMBERED = 8
"""Short sweeps that were asked for: one may still be on its way when another is watched."""
BURST_SHOWN_S = 15.0
"""How long it is told that a burst was left out: hands are busy, and look up late."""


class RecentSweeps:
    """All that was swept of late.

    Called by the bench's other parts under the engine's lock, but for `whole_alone`: any thread.
    """

    def __init__(self, plan: Plan | None) -> None:
        """plan : how many sweeps an acceptance averages."""
        self.begin_anew(plan)
        self._whole_alone = False

    def begin_anew(self, plan: Plan | None) -> None:
        """Nothing was swept yet, as with another analyzer."""
        self.whole: Averaged | None = None
        """The average of whole sweeps; None before the first."""
        self.swept = 0
        """Sweeps since the calibration, or since it was last checked."""
        self.seen_at_s: float | None = None
        """When the last sweep came, on the bench's monotonic clock."""
        self.whole_at_s: float | None = None
        """When the last whole one did."""
        self.since_s: float | None = None
        """Since when the analyzer sweeps without a break."""
        self._averaging = _averaging_for(plan)
        self._attention = Attention()
        self._watched: tuple[Span, ...] = ()
        self._requested: deque[SweepRequest] = deque(maxlen=SHORTS_REMEMBERED)
        self._short: Averaged | None = None
        self._averaging_short = Averaging()
        self._took_s: deque[float] = deque(maxlen=3)
        self._burst: tuple[Burst, float] | None = None

    @property
    def focus(self) -> Focus | None:
        """What is watched closely; None where all is swept at once."""
        return self._attention.focus

    @property
    def averaged(self) -> Averaged | None:
        """The whole, with what was watched since put over it."""
        return None if self.whole is None else together(self.whole, self._short)

    def accept_by(self, plan: Plan) -> None:
        """Another plan: averages begin anew."""
        self._averaging = _averaging_for(plan)

    def analyzer_is_back(self) -> None:
        """An analyzer was met; it may have been switched off in between."""
        self.since_s = None

    def sweep_anew(self) -> None:
        """Other passes are swept from now on."""
        self._short, self._attention.focus = None, None

    def take(self, sweep: Sweep, now_s: float) -> bool:
        """Take the newest sweep; True for a whole one.

        A short one of what is no longer watched is late, and counts for nothing.
        """
        before_s, self.seen_at_s = self.seen_at_s, now_s
        self.since_s = now_s if self.since_s is None else self.since_s
        if len(sweep.request) == 1 and sweep.request[0] in self._requested:
            if self.focus is not None and sweep.request[0] == self.focus.request:
                self._short = self._averaging_short.add(sweep)
            return False
        if before_s is not None:
            self._took_s.append(now_s - before_s)
        self.whole_at_s = now_s
        self.whole = self._averaging.add(sweep)
        return True

    def count(self, sweep: Sweep) -> None:
        """It counts into drift, and what was left out of it is told."""
        bursts = () if self.whole is None else self.whole.bursts
        if bursts and bursts[-1].sequence >= sweep.sequence - 1 and self.seen_at_s is not None:
            self._burst = (bursts[-1], self.seen_at_s)
        self.swept += 1

    def watch(
        self, coverage: Coverage, profile: Profile, tuned_spans: Callable[[], tuple[Span, ...]]
    ) -> None:
        """Choose what to watch closely, after a whole sweep; nothing with a quick analyzer.

        tuned : the bands that the hands work at.
        """
        if profile.analyzer_corrected:
            return
        # a pause is no sweep: the quickest of the last few is how long one takes
        took_s = min(self._took_s, default=coverage.seconds)
        if took_s < SLOW_S and self.focus is None:
            return
        spans = tuned_spans()
        if self.focus is None or spans != self._watched:
            self._watched = spans
            self._attention.watch(coverage.passes, took_s, spans, profile)
            self._averaging_short, self._short = Averaging(), None

    @contextmanager
    def whole_alone(self) -> Iterator[None]:
        """Sweep whole, not short in between, as long as this lasts; without the lock."""
        self._whole_alone = True
        try:
            yield
        finally:
            self._whole_alone = False

    def next_passes(self, coverage: Coverage) -> Sequence[SweepRequest]:
        """What to sweep next."""
        if self._whole_alone or self.focus is None:
            return coverage.passes
        passes = self._attention.next_passes()
        if passes == (self.focus.request,):
            self._requested.append(self.focus.request)
        return passes

    def burst(self, now_s: float) -> Burst | None:
        """What was left out lately, while it is to be told."""
        if self._burst is None:
            return None
        burst, since_s = self._burst
        return burst if now_s - since_s < BURST_SHOWN_S else None


def _averaging_for(plan: Plan | None) -> Averaging:
    """As many sweeps as make a reading quiet, and as an acceptance of the plan wants."""
    return Averaging(MOST_SWEEPS if plan is None else max(plan.sweeps, MOST_SWEEPS))
