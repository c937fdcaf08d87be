"""Spans of frequency: how they are said, and where an analyzer's passes leave no gap."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from acquire.sweep import SweepRequest

Span = tuple[float, float]
"""(low_hz, high_hz), both included."""

ROUNDING_STEPS = 1 / 20
"""Analyzers round: a point within so much of a step is where it was asked for."""


def span_words(span: Span) -> str:
    """As "791 to 862 MHz"."""
    return f"{span[0] / 1e6:.7g} to {span[1] / 1e6:.7g} MHz"


def continuous_spans(
    passes: Sequence[SweepRequest], range_steps_hz: Sequence[float] = ()
) -> tuple[Span, ...]:
    """The stretches inside which error terms may be interpolated, in order of frequency.

    Passes that follow each other within one and a half steps make one stretch; a gap or a
    range step ends it. A pass across a range step is cut there, and the two stretches meet.
    Outer ends are widened by a twentieth of a step: analyzers round.
    """
    stretches: list[Span] = []
    last_step_hz = 0.0
    for request in sorted(passes, key=lambda request: request.start_hz):
        slack_hz = request.step_hz * ROUNDING_STEPS
        low_hz, high_hz = request.start_hz - slack_hz, request.stop_hz + slack_hz
        near_hz = 1.5 * max(last_step_hz, request.step_hz)
        if stretches and low_hz - stretches[-1][1] <= near_hz:
            before = stretches.pop()
            low_hz, high_hz = before[0], max(before[1], high_hz)
        stretches.append((low_hz, high_hz))
        last_step_hz = request.step_hz
    spans: list[Span] = []
    for low_hz, high_hz in stretches:
        inside = [hz for hz in sorted(range_steps_hz) if low_hz < hz < high_hz]
        spans += itertools.pairwise([low_hz, *inside, high_hz])
    return tuple(spans)
