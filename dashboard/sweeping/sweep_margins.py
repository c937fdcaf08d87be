"""What the page sweeps: the plan's bands, and around them wherever a dip may come from."""

from __future__ import annotations

from collections.abc import Sequence

from acceptance.plan.acceptance_plan import Plan
from acquire.coverage.spans import Span
from acquire.coverage.sweep_limits import Limits
from dashboard.sweeping.sweep_plan import SweepTarget

SWEEP_MARGIN = 0.15
"""How far around each wanted edge the overview reaches, as a part of its frequency: a dip on its
way to a band is seen from there."""
WITHOUT_A_PLAN: Span = (690e6, 2700e6)
"""What is swept while no bands are chosen: where most cellular bands lie."""


def target_with_margins(plan: Plan | None, limits: Limits) -> SweepTarget:
    """A plan's bands and what lies around them, as far as the analyzer reaches."""
    spans: Sequence[Span] = (WITHOUT_A_PLAN,) if plan is None else plan.spans
    around = [
        (
            max(low_hz * (1 - SWEEP_MARGIN), limits.low_hz),
            min(high_hz * (1 + SWEEP_MARGIN), limits.high_hz),
        )
        for low_hz, high_hz in spans
        if low_hz < limits.high_hz and high_hz > limits.low_hz
    ]
    return SweepTarget((*spans, *around), 0.0 if plan is None else plan.margin, plan)
