"""Error terms between the frequencies they were found at.

Tracking is a long way there and back: its magnitude is smooth and its phase turns steadily, so
it is interpolated as magnitude and unwrapped phase. Directivity and source match pass near zero,
where their phase jumps, so they are interpolated as complex numbers. All by cubic splines.
Figures for each choice stand in the tests.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from acquire.coverage.spans import Span, span_words
from acquire.sweep import ComplexArray, FloatArray
from calibration.error_terms.one_port import ErrorTerms
from calibration.errors import RangeError

GAP_STEPS = 3.0
LARGEST_TURN_DEG = 90.0
"""A phase that turns further from one point to the next is not followed."""


def tolerance_hz(frequency_hz: FloatArray) -> FloatArray:
    """How far apart two readings' frequencies may lie and still be the same: 1 Hz, or 1e-9.

    Analyzers round to whole hertz or to nine digits. Over 1 Hz the phase behind
    25 m of cable turns by 2e-6.
    """
    return np.maximum(1.0, 1e-9 * frequency_hz)


def same_grid(first_hz: FloatArray, second_hz: FloatArray) -> bool:
    """True where both hold the same frequencies, each within the tolerance."""
    if first_hz is second_hz:  # one grid, carried from step to step
        return True
    return first_hz.shape == second_hz.shape and bool(
        (np.abs(first_hz - second_hz) <= tolerance_hz(first_hz)).all()
    )


def complex_cubic(x: FloatArray, values: ComplexArray, at: FloatArray) -> ComplexArray:
    """Cubic spline through complex values, not-a-knot ends; 2 or 3 points: line or parabola."""
    result: ComplexArray = _spline(x, values, at)
    return result


def polar_cubic(x: FloatArray, values: ComplexArray, at: FloatArray) -> ComplexArray:
    """Cubic splines through magnitude and unwrapped phase; exact for a pure delay.

    Means nothing where the phase turns more than 180 degrees between neighbours: see
    `largest_turn`.
    """
    polar = np.stack([np.abs(values), np.unwrap(np.angle(values))], axis=1)
    magnitude, phase = _spline(x, polar, at).T
    result: ComplexArray = magnitude * np.exp(1j * phase)
    return result


def _spline(x: FloatArray, values: NDArray[Any], at: FloatArray) -> NDArray[Any]:
    # Slow to import, and readings on the calibrated grid need none.
    from scipy.interpolate import CubicSpline  # type: ignore[import-untyped]  # noqa: PLC0415

    result: NDArray[Any] = CubicSpline(x, values)(at)
    return result


def largest_turn(values: ComplexArray) -> tuple[float, int]:
    """Largest turn of phase between neighbours, degrees, and the index of the first of them."""
    turns = np.abs(np.angle(values[1:] * values[:-1].conj()))
    at = int(np.argmax(turns))
    return float(np.degrees(turns[at])), at


def stretches(frequency_hz: FloatArray) -> list[slice]:
    """The stretches of a grid without a gap: a gap is three times as wide as the steps beside it.

    Where the grid only turns coarser there is none.
    """
    steps = np.diff(frequency_hz)
    if steps.size < 2:
        return [slice(0, frequency_hz.size)]
    near = np.maximum(np.r_[0.0, steps[:-1]], np.r_[steps[1:], 0.0])
    ends = [0, *(np.flatnonzero(steps > GAP_STEPS * near) + 1).tolist(), frequency_hz.size]
    return [slice(first, last) for first, last in itertools.pairwise(ends)]


def points_by_span(frequency_hz: FloatArray, spans: Sequence[Span]) -> list[NDArray[np.intp]]:
    """Indices of the points inside each span, in the spans' order.

    A point exactly where one span ends and the next begins, at a range step of the analyzer, may
    belong to either range: it is counted to neither.
    """
    steps = {high for _, high in spans} & {low for low, _ in spans}
    sure = ~np.isin(frequency_hz, list(steps))
    return [
        np.flatnonzero((frequency_hz >= low) & (frequency_hz <= high) & sure) for low, high in spans
    ]


def terms_at(terms: ErrorTerms, frequency_hz: FloatArray, spans: Sequence[Span]) -> ErrorTerms:
    """The error terms at other frequencies, as many as are asked for, or a refusal.

    frequency_hz : real, shape (points,), Hz.
    spans : stretches inside which the terms are continuous, without a gap or a range step of
        the analyzer, as `acquire.coverage.spans.continuous_spans` gives them. Nothing is
        interpolated from one into another.
    Returns ErrorTerms at exactly these frequencies. A frequency that was calibrated, within
    `tolerance_hz`, gets the terms found there, untouched.
    Raises RangeError, with the frequency, where it lies outside every span or beyond the last
    calibrated point of its span, and where tracking turns more than 90 degrees a step.
    """
    wanted = np.asarray(frequency_hz, dtype=np.float64)
    if same_grid(wanted, terms.frequency_hz):
        return ErrorTerms(wanted, terms.directivity, terms.source_match, terms.reflection_tracking)
    nearest = _nearest(terms.frequency_hz, wanted)
    missing = np.abs(terms.frequency_hz[nearest] - wanted) > tolerance_hz(wanted)
    found = [
        term[nearest] for term in (terms.directivity, terms.source_match, terms.reflection_tracking)
    ]
    for inside in points_by_span(terms.frequency_hz, spans):
        known = terms.frequency_hz[inside]
        if known.size < 2:
            continue
        here = missing & (wanted >= known[0]) & (wanted <= known[-1])
        if not here.any():
            continue
        tracking = terms.reflection_tracking[inside]
        _refuse_fast_phase(known, tracking)
        found[0][here] = complex_cubic(known, terms.directivity[inside], wanted[here])
        found[1][here] = complex_cubic(known, terms.source_match[inside], wanted[here])
        found[2][here] = polar_cubic(known, tracking, wanted[here])
        missing &= ~here
    if missing.any():
        raise RangeError(
            f"{_mhz(wanted[missing][0])} was not calibrated: {_words(spans)}. Calibrate again "
            f"with the sweep you want to measure, or leave that frequency out."
        )
    return ErrorTerms(wanted, *found)


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """How far each term lies from what its neighbours foretell; absolute, dimensionless."""

    directivity: FloatArray
    """Shape (points,); nan where a span is too short to tell."""
    source_match: FloatArray
    """Shape (points,); nan where a span is too short to tell."""
    reflection_tracking: FloatArray
    """Shape (points,); nan where a span is too short to tell."""


def leave_one_out(terms: ErrorTerms, spans: Sequence[Span]) -> LeftOut:
    """Leave out each calibrated point in turn and interpolate it from its neighbours.

    Cubic through the two points on either side (Lagrange), tracking as magnitude and unwrapped
    phase. The hole is twice as wide as the step, so the figure exceeds the error of
    interpolation itself; the scatter of the readings is in it too. The two points at either
    end of a span take the nearest figure; a span of fewer than five points cannot tell: nan.
    """
    result = [np.full(terms.frequency_hz.shape, np.nan) for _ in range(3)]
    for inside in points_by_span(terms.frequency_hz, spans):
        if inside.size < 5:
            continue
        x = terms.frequency_hz[inside]
        tracking = terms.reflection_tracking[inside]
        magnitude = _predicted(x, np.abs(tracking))
        phase = _predicted(x, np.unwrap(np.angle(tracking)))
        misses = (
            np.abs(_predicted(x, terms.directivity[inside]) - terms.directivity[inside][2:-2]),
            np.abs(_predicted(x, terms.source_match[inside]) - terms.source_match[inside][2:-2]),
            np.abs(magnitude * np.exp(1j * phase) - tracking[2:-2]),
        )
        for values, miss in zip(result, misses, strict=True):
            values[inside] = np.pad(miss, 2, mode="edge")
    return LeftOut(*result)


def _predicted(x: FloatArray, values: FloatArray | ComplexArray) -> ComplexArray:
    """Every point but the two at either end, from the two on either side; shape (points - 4,)."""
    middle = x[2:-2]
    count = middle.size
    around = [slice(0, count), slice(1, 1 + count), slice(3, 3 + count), slice(4, 4 + count)]
    total = np.zeros(count, dtype=np.complex128)
    for own in around:
        weight = np.ones(count)
        for other in around:
            if other is not own:
                weight *= (middle - x[other]) / (x[own] - x[other])
        total += weight * values[own]
    return total


def _nearest(known: FloatArray, wanted: FloatArray) -> NDArray[np.intp]:
    """Index of the known frequency nearest to each wanted one."""
    right = np.clip(np.searchsorted(known, wanted), 1, known.size - 1)
    return right - (wanted - known[right - 1] < known[right] - wanted)


def _refuse_fast_phase(known_hz: FloatArray, tracking: ComplexArray) -> None:
    turn, at = largest_turn(tracking)
    if turn > LARGEST_TURN_DEG:
        raise RangeError(
            f"Tracking turns {turn:.0f} degrees from {_mhz(known_hz[at])} to "
            f"{_mhz(known_hz[at + 1])}, more than {LARGEST_TURN_DEG:.0f}: what lies between is "
            f"not known. Calibrate with more points or a shorter cable, or measure at the "
            f"calibrated frequencies."
        )


def _mhz(frequency_hz: float) -> str:
    return f"{frequency_hz / 1e6:.6g} MHz"


def _words(spans: Sequence[Span]) -> str:
    if not spans:
        return "the calibration covers no stretch that can be interpolated"
    return "the calibration covers " + ", ".join(span_words(span) for span in spans)
