"""Attention: with a slow analyzer, short sweeps around what is being tuned alternate with whole
ones.

A person who bends watches one band. So after each whole sweep come short ones around that band and
its dip, as many as fit before the other strips would be older than `OLDEST_S`, or than two whole
sweeps where those take longer. What is shown is put together from both, and each strip knows how
old it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from acquire.analyzer.profile import Profile
from acquire.coverage.spans import Span
from acquire.sweep import FloatArray, SweepRequest
from calibration.capture.averaging import Averaged

SLOW_S = 1.0
"""A whole sweep that takes less needs no help."""
OLDEST_S = 10.0
QUICKER = 8.0
"""A short sweep takes at most this part of a whole one: even with only as much time for short ones
as for whole ones, what is watched is then seen more than four times as often [derived]."""
AROUND = 0.03
"""How far beyond the bands that are watched, as a part of the frequency."""
LEAST_POINTS = 21


@dataclass(frozen=True, slots=True)
class Focus:
    """What is watched closely."""

    span: Span
    request: SweepRequest


class Attention:
    """Decides what is swept next. Not safe to share: its bench holds the lock."""

    def __init__(self) -> None:
        self.focus: Focus | None = None
        self._whole: tuple[SweepRequest, ...] = ()
        self._whole_s = 0.0
        self._short_s = 0.0
        self._since_whole_s = float("inf")

    def watch(
        self, whole: Sequence[SweepRequest], whole_s: float, spans: Sequence[Span], profile: Profile
    ) -> None:
        """Watch these bands from the next whole sweep on; none watches nothing closely.

        whole : the passes of a whole sweep, which was seen to take whole_s.
        """
        self._whole, self._whole_s = tuple(whole), whole_s
        if whole_s < SLOW_S or not spans:
            self.focus = None
            return
        low_hz = min(low for low, _ in spans) * (1 - AROUND)
        high_hz = max(high for _, high in spans) * (1 + AROUND)
        stretches = _stretches(whole)
        if not any(_holds(each, low_hz, high_hz) for each in stretches):
            low_hz, high_hz = min(low for low, _ in spans), max(high for _, high in spans)
        within = any(_holds(each, low_hz, high_hz) for each in stretches)
        per_point = whole_s / sum(each.points for each in whole)
        most = int(whole_s / QUICKER / per_point)
        points = min(most, profile.limits.points)
        if not within or points < LEAST_POINTS:
            self.focus = None
            return
        finest_hz = min(e.step_hz for e in whole if e.stop_hz > low_hz and e.start_hz < high_hz)
        dense = int((high_hz - low_hz) / finest_hz) * 2 + 1
        points = max(min(points, dense), LEAST_POINTS)
        self._short_s = points * per_point
        span = (float(round(low_hz)), float(round(high_hz)))
        self.focus = Focus(span, SweepRequest(*span, points))

    def next_passes(self) -> tuple[SweepRequest, ...]:
        """What to sweep now."""
        limit_s = max(OLDEST_S, 2 * self._whole_s)
        if self.focus is None or self._since_whole_s + self._short_s + self._whole_s > limit_s:
            self._since_whole_s = 0.0
            return self._whole
        self._since_whole_s += self._short_s
        return (self.focus.request,)


def _stretches(whole: Sequence[SweepRequest]) -> list[Span]:
    """What the passes cover without a gap."""
    found: list[Span] = []
    for each in sorted(whole, key=lambda each: each.start_hz):
        if found and each.start_hz - found[-1][1] <= 1.5 * each.step_hz:
            found[-1] = (found[-1][0], max(each.stop_hz, found[-1][1]))
        else:
            found.append((each.start_hz, each.stop_hz))
    return found


def _holds(stretch: Span, low_hz: float, high_hz: float) -> bool:
    return stretch[0] <= low_hz and high_hz <= stretch[1]


def together(whole: Averaged, short: Averaged | None) -> Averaged:
    """A whole reading with its closely watched part replaced by the newer short one.

    short : None, or older than the whole one, changes nothing.
    """
    if short is None or short.sweep.sequence < whole.sweep.sequence:
        return whole
    f, g = whole.sweep.frequency_hz, short.sweep.frequency_hz
    left, right = f < g[0], f > g[-1]

    def joined(outside: FloatArray, inside: FloatArray) -> FloatArray:
        parts: FloatArray = np.concatenate([outside[left], inside, outside[right]])
        return parts

    noise = None
    if whole.noise is not None and short.noise is not None:
        noise = joined(whole.noise, short.noise)
    reflection = np.concatenate(
        [whole.sweep.reflection[left], short.sweep.reflection, whole.sweep.reflection[right]]
    )
    sweep = replace(
        short.sweep, frequency_hz=joined(f, g), reflection=reflection, request=whole.sweep.request
    )
    return Averaged(sweep, short.of, noise, short.bursts, short.change)
