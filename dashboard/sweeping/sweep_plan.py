"""What shall be swept: from a plan, from ranges or as one even grid, to the passes of an
analyzer."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import Profile
from acquire.coverage.spans import Span
from acquire.coverage.sweep_coverage import Coverage, cover
from acquire.coverage.sweep_coverage import even as even_grid
from acquire.sweep import SweepRequest
from calibration.one_port_calibration import Calibration
from dashboard.errors import SetupError
from dashboard.sweeping.calibrated_range import covers, left_out, within

RANGE = re.compile(r"\s*([0-9.]+)\s*(?:-|to)\s*([0-9.]+)\s*(?:MHz)?\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SweepTarget:
    """What shall be swept."""

    spans: tuple[Span, ...]
    """(low_hz, high_hz) each."""
    margin: float
    """How far beyond, as a fraction of each span's width."""
    plan: Plan | None


def read_sweep_target(plan: Path | None, ranges: Sequence[str]) -> SweepTarget:
    """Read what shall be swept from a plan's file or from ranges such as "790-870" in MHz.

    Raises SetupError where neither or both are given, or a range is none; PlanError.
    """
    if (plan is None) == (not ranges):
        raise SetupError(
            "Say what to sweep: either --plan FILE, or --range LOW-HIGH in MHz, such as "
            "--range 790-870. `bandwright bands --region europe --write plan.toml` writes a plan "
            "to start from."
        )
    if plan is not None:
        loaded = load_plan(plan)
        return SweepTarget(loaded.spans, loaded.margin, loaded)
    return SweepTarget(tuple(_span(each) for each in ranges), 0.0, None)


def _span(text: str) -> Span:
    match = RANGE.fullmatch(text)
    try:
        low_mhz, high_mhz = (float(match[1]), float(match[2])) if match else (0.0, 0.0)
    except ValueError:
        low_mhz = high_mhz = 0.0
    if not 0 < low_mhz < high_mhz:
        raise SetupError(
            f'"{text}" is no range. Write two frequencies in MHz, the lower one first, such as '
            "--range 790-870."
        )
    return (low_mhz * 1e6, high_mhz * 1e6)


def coverage_for(target: SweepTarget, profile: Profile, step_khz: float | None) -> Coverage:
    """Plan the passes that cover what is wanted; raises CoverageError where none can."""
    return cover(
        target.spans,
        limits=profile.limits,
        step_hz=None if step_khz is None else step_khz * 1e3,
        margin=target.margin,
        seconds_per_point=profile.timing.seconds_per_point,
    )


def coverage_planner(
    plan: Path | None, ranges: Sequence[str], even: str | None, step_khz: float | None
) -> Callable[[Profile], Coverage]:
    """How to cover what a person named: a plan, ranges, or one even grid.

    Raises SetupError where none or several are named; PlanError. What comes back raises
    CoverageError where the analyzer cannot.
    """
    if even is None:
        target = read_sweep_target(plan, ranges)
        return lambda profile: coverage_for(target, profile, step_khz)
    if plan is not None or ranges or step_khz is None:
        raise SetupError(
            "--even LOW-HIGH takes --step-khz and nothing else: one even grid. `bandwright fault "
            "--range-m` works both out."
        )
    span, step_hz = _span(even), step_khz * 1e3

    def plan_even_grid(profile: Profile) -> Coverage:

        seconds = profile.timing.seconds_per_point
        return even_grid(span, step_hz, limits=profile.limits, seconds_per_point=seconds)

    return plan_even_grid


@dataclass(frozen=True, slots=True)
class Passes:
    """What an analyzer shall sweep, and in words."""

    requests: tuple[SweepRequest, ...]
    words: str


def passes_for(
    target: SweepTarget, analyzer: Analyzer, calibration: Calibration | None, step_khz: float | None
) -> Passes:
    """Plan what to sweep; what was calibrated, where that covers what is wanted.

    On the calibrated frequencies nothing needs to be interpolated, and an analyzer that corrects
    its readings itself can be trusted on no others. What lies around the wanted spans is swept as
    far as it was calibrated. Raises CoverageError, SetupError where a wanted span was not
    calibrated, and what `Calibration.fits` raises.
    """
    if calibration is not None:
        calibration.fits(analyzer.source, calibration.request)
        if step_khz is None and covers(calibration, target.spans):
            count = len(calibration.request)
            points = sum(request.points for request in calibration.request)
            passes = f"{count} pass{'es' if count > 1 else ''}"
            return Passes(calibration.request, f"{points} points in {passes}, as calibrated")
        if words := left_out(calibration, target.plan, target.spans):
            raise SetupError(words)
    coverage = coverage_for(target, analyzer.profile, step_khz)
    if calibration is not None:
        per_point = analyzer.profile.timing.seconds_per_point
        coverage = within(
            coverage, calibration, analyzer.profile.limits, seconds_per_point=per_point
        )
        calibration.fits(analyzer.source, coverage.passes)
    return Passes(coverage.passes, coverage.words)
