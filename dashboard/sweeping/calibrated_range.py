"""How far a calibration reaches: which bands it covers, and what of a sweep it can correct."""

from __future__ import annotations

import math
from collections.abc import Sequence

from acceptance.plan.acceptance_plan import Plan
from acquire.coverage.spans import Span, span_words
from acquire.coverage.sweep_coverage import SECONDS_PER_PASS, Coverage
from acquire.coverage.sweep_limits import Limits
from acquire.sweep import SweepRequest
from calibration.one_port_calibration import Calibration

KINDS = ("LTE", "NR")
"""Bands with numbers, which one word can stand before."""


def merged(calibration: Calibration) -> list[Span]:
    """Return the calibrated stretches, those that meet taken as one."""
    stretches: list[Span] = []
    for low_hz, high_hz in sorted(calibration.spans):
        if stretches and low_hz <= stretches[-1][1]:
            stretches[-1] = (stretches[-1][0], max(high_hz, stretches[-1][1]))
        else:
            stretches.append((low_hz, high_hz))
    return stretches


def covers(calibration: Calibration, spans: Sequence[Span]) -> bool:
    """True where all of some spans was calibrated, and it is known by which passes."""
    return bool(calibration.request) and not _beyond(calibration, spans)


def left_out(
    calibration: Calibration,
    plan: Plan | None,
    spans: Sequence[Span] = (),
    keys: tuple[str, str] = ("", ""),
) -> str:
    """Which bands of a plan, or else which spans, were not calibrated, and what to do; or empty.

    keys : what to press on the page to calibrate, and to change the plan.
    """
    if plan is None:
        names = [span_words(span) for span in _beyond(calibration, spans)]
        again, out = "calibrate {them} too", "leave {them} out"
    else:
        beyond = _beyond(calibration, plan.spans)
        bands = [each for each in plan.targets if (each.low_hz, each.high_hz) in beyond]
        names = list(dict.fromkeys(each.name for each in bands))
        again, out = "calibrate again for this plan", "take {them} out of it"
    if not names:
        return ""
    was, them = ("was", "it") if len(names) == 1 else ("were", "them")
    calibrate, change = (f" (key {key})" if key else "" for key in keys)
    again, out = again.format(them=them), out.format(them=them)
    return f"{_listed(names)} {was} not calibrated: {again}{calibrate}, or {out}{change}."


def within(
    coverage: Coverage, calibration: Calibration, limits: Limits, *, seconds_per_point: float
) -> Coverage:
    """As much of a coverage as was calibrated, no coarser; the same where all of it was."""
    stretches = merged(calibration)
    if all(_inside(request, stretches) for request in coverage.passes):
        return coverage
    passes = tuple(
        part
        for request in coverage.passes
        for part in _parts(request, stretches, calibration, limits)
    )
    if not passes:
        return coverage
    points = sum(request.points for request in passes)
    seconds = points * seconds_per_point + len(passes) * SECONDS_PER_PASS
    words = f"{len(passes)} pass{'es' if len(passes) > 1 else ''} of {points} points in all"
    return Coverage(passes, coverage.beyond, seconds, f"{words}, as far as was calibrated")


def _beyond(calibration: Calibration, spans: Sequence[Span]) -> list[Span]:
    stretches = merged(calibration)
    return [
        span
        for span in spans
        if not any(low_hz <= span[0] and span[1] <= high_hz for low_hz, high_hz in stretches)
    ]


def _inside(request: SweepRequest, stretches: Sequence[Span]) -> bool:
    return any(
        low_hz <= request.start_hz and request.stop_hz <= high_hz for low_hz, high_hz in stretches
    )


def _parts(
    request: SweepRequest, stretches: Sequence[Span], calibration: Calibration, limits: Limits
) -> list[SweepRequest]:
    """What of a pass lies between a stretch's first calibrated point and its last."""
    if _inside(request, stretches):
        return [request]
    parts = []
    for low_hz, high_hz in stretches:
        known_hz = calibration.frequency_hz
        known_hz = known_hz[(known_hz >= low_hz) & (known_hz <= high_hz)]
        if not known_hz.size:
            continue
        start_hz = max(request.start_hz, float(math.ceil(known_hz[0])))
        stop_hz = min(request.stop_hz, float(math.floor(known_hz[-1])))
        if start_hz < stop_hz:
            points = math.ceil((stop_hz - start_hz) / request.step_hz - 1e-9) + 1
            points = min(max(points, limits.fewest_points, 2), limits.points)
            parts.append(SweepRequest(start_hz, stop_hz, points))
    return parts


def _listed(names: Sequence[str]) -> str:
    """As "LTE 7, 38, NR n78 and gauge backhaul"."""
    kinds = {
        kind: [name.removeprefix(f"{kind} ") for name in names if name.startswith(f"{kind} ")]
        for kind in KINDS
    }
    words = [f"{kind} {', '.join(numbers)}" for kind, numbers in kinds.items() if numbers]
    words += [name for name in names if not name.startswith(tuple(f"{kind} " for kind in KINDS))]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
