"""From the ranges someone wants to see to the passes an analyzer can sweep.

An analyzer sweeps equally spaced points, a limited number at a time, within its limits, and its
errors step where it switches range. So the wanted ranges become passes: dense where a range is
narrow, one pass over neighbours where that is quicker, none across a range step. Joined, they
are one strictly increasing grid with points on both sides of every wanted edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.coverage.pass_layout import LEAST_STEP_HZ, quickest_layout
from acquire.coverage.spans import Span, span_words
from acquire.coverage.sweep_limits import Limits
from acquire.errors import CoverageError
from acquire.sweep import FloatArray, Reading, SweepRequest

MOST_POINTS = 200_000
LEAST_EVEN_POINTS = 16
"""Fewer show no distance."""
SECONDS_PER_PASS = 0.05
"""What setting a pass and asking for it costs, where a profile does not say."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """The passes that show what is wanted, and what they cannot show."""

    passes: tuple[SweepRequest, ...]
    """In order of frequency; no two share a point."""
    beyond: tuple[Span, ...]
    """Wanted ranges that lie, wholly or in part, outside what the analyzer can sweep."""
    seconds: float
    """About how long one sweep over all passes takes."""
    words: str
    """As "4 passes of 101 points, about 3.1 s", then what lies beyond the analyzer's range."""

    @property
    def grid_hz(self) -> FloatArray:
        """All frequencies asked for, Hz, strictly increasing."""
        return np.concatenate([request.grid_hz() for request in self.passes])


def cover(
    wanted: Sequence[Span],
    *,
    limits: Limits,
    step_hz: float | None = None,
    margin: float = 0.0,
    seconds_per_point: float,
    seconds_per_pass: float = SECONDS_PER_PASS,
) -> Coverage:
    """Plan the passes that cover the wanted ranges.

    wanted : (low_hz, high_hz) each, in any order; they may overlap.
    step_hz : widest spacing of points, at least 1 kHz. None: a twentieth of each range's width,
        but at least 10 kHz and at most 5 MHz; where ranges overlap, the finer one.
    margin : how far to sweep beyond each range on either side, as a fraction of its width;
        never less than one step, so that an edge has points on both sides.
    seconds_per_point, seconds_per_pass : what a point and a pass cost. Ranges are taken
        together where that is quicker.
    Raises CoverageError where no wanted range reaches into the analyzer's limits, a range makes
    no sense, or the step asks for more than 200,000 points.
    """
    if not (0 <= margin < math.inf and seconds_per_point > 0 and seconds_per_pass >= 0):
        raise ValueError("Margin and times must be finite and not negative.")
    for low_hz, high_hz in wanted:
        if not 0 <= low_hz < high_hz < math.inf:
            raise CoverageError(
                f"A range from {low_hz / 1e6:g} to {high_hz / 1e6:g} MHz cannot be swept: give "
                "two frequencies, the lower one first."
            )
    if step_hz is not None and not LEAST_STEP_HZ <= step_hz < math.inf:
        raise CoverageError(
            f"A step of {step_hz:g} Hz cannot be set: ask for {LEAST_STEP_HZ:g} Hz or more."
        )
    beyond = tuple(span for span in wanted if span[0] < limits.low_hz or span[1] > limits.high_hz)
    reachable = [s for s in wanted if s[0] < limits.high_hz and s[1] > limits.low_hz]
    if not reachable:
        named = ", ".join(span_words(span) for span in beyond) or "nothing"
        raise CoverageError(
            f"{named} cannot be swept: the analyzer covers {limits.words}. Choose bands within its "
            "range, or use another analyzer."
        )
    layouts = quickest_layout(
        reachable,
        limits,
        step_hz=step_hz,
        margin=margin,
        seconds_per_point=seconds_per_point,
        seconds_per_pass=seconds_per_pass,
    )
    points = sum(layout.passes * layout.points for layout in layouts)
    if points > MOST_POINTS:
        raise CoverageError(
            f"These ranges need {points} points; at most {MOST_POINTS} are swept. Choose a wider "
            "step or fewer ranges."
        )
    passes = tuple(request for layout in layouts for request in layout.requests(limits))
    seconds = points * seconds_per_point + len(passes) * seconds_per_pass
    return Coverage(passes, beyond, seconds, _words(passes, beyond, seconds, limits))


def even(span: Span, step_hz: float, *, limits: Limits, seconds_per_point: float) -> Coverage:
    """Plan one even grid over a span, as distance to fault needs it, in as many passes as it takes.

    step_hz : spacing of the points, whole hertz. Every point is a multiple of it, so the grid is
    harmonic where it begins at the step itself. Range steps are crossed: it can be corrected at
    its own points alone.
    Raises CoverageError where the analyzer does not sweep that far, or that is no grid.
    """
    step_hz = float(round(step_hz))
    first = math.ceil(span[0] / step_hz - 1e-9) if step_hz >= LEAST_STEP_HZ else 0
    last = math.floor(span[1] / step_hz + 1e-9) if step_hz >= LEAST_STEP_HZ else 0
    points = last - first + 1
    if first < 1 or not LEAST_EVEN_POINTS <= points <= MOST_POINTS:
        raise CoverageError(
            f"{span_words(span)} in steps of {step_hz / 1e3:g} kHz is no even grid: give a step of "
            "1 kHz or more, and a range of several steps that begins at the step or above."
        )
    if first * step_hz < limits.low_hz or last * step_hz > limits.high_hz:
        raise CoverageError(
            f"{span_words(span)} cannot be swept: the analyzer covers {limits.words}. Ask for a "
            "range within that."
        )
    count = math.ceil(points / limits.points)
    sizes = [points // count + (1 if n < points % count else 0) for n in range(count)]
    if min(sizes) < limits.fewest_points:  # one that knows no other number: a little further
        sizes = [limits.fewest_points] * count
        points, last = sum(sizes), first + sum(sizes) - 1
        if last * step_hz > limits.high_hz:
            raise CoverageError(
                f"The analyzer sweeps {limits.fewest_points} points a pass, so this grid would end "
                f"at "
                f"{last * step_hz / 1e6:.6g} MHz, beyond its {limits.words}. Ask for a few points "
                "less."
            )
    passes = []
    at = first
    for size in sizes:
        passes.append(SweepRequest(at * step_hz, (at + size - 1) * step_hz, size))
        at += size
    seconds = points * seconds_per_point + count * SECONDS_PER_PASS
    return Coverage(tuple(passes), (), seconds, _words(passes, (), seconds, limits))


def given(passes: Sequence[SweepRequest], *, limits: Limits, seconds_per_point: float) -> Coverage:
    """Just these passes, as they were swept before. Raises CoverageError beyond the limits."""
    for request in passes:
        inside = limits.low_hz <= request.start_hz and request.stop_hz <= limits.high_hz
        if not inside or not limits.fewest_points <= request.points <= limits.points:
            raise CoverageError(
                f"{request.points} points from {span_words((request.start_hz, request.stop_hz))} "
                f"are no pass of this analyzer, which sweeps {limits.words}. Calibrate with it."
            )
    points = sum(request.points for request in passes)
    seconds = points * seconds_per_point + len(passes) * SECONDS_PER_PASS
    words = _words(passes, (), seconds, limits)
    return Coverage(tuple(passes), (), seconds, f"{words}, as calibrated")


def join(readings: Sequence[Reading]) -> Reading:
    """Join passes into one reading over a strictly increasing grid.

    readings : one or more, in any order. A point that two share, to within 1 Hz, is taken
    from the lower one. Raises CoverageError where they overlap by more.
    """
    ordered = sorted(readings, key=lambda reading: float(reading.frequency_hz[0]))
    frequency = [ordered[0].frequency_hz]
    reflection = [ordered[0].reflection]
    for reading in ordered[1:]:
        last_hz = float(frequency[-1][-1])
        new = slice(1 if abs(reading.frequency_hz[0] - last_hz) <= 1.0 else 0, None)
        following = reading.frequency_hz[new]
        if not following.size:
            continue
        if following[0] <= last_hz:
            raise CoverageError(
                f"Two passes overlap: one ends at {last_hz / 1e6:.6g} MHz and the next begins "
                f"at {reading.frequency_hz[0] / 1e6:.6g} MHz. Ask for passes that follow each "
                "other."
            )
        frequency.append(following)
        reflection.append(reading.reflection[new])
    return Reading(np.concatenate(frequency), np.concatenate(reflection))


def _words(
    passes: Sequence[SweepRequest], beyond: Sequence[Span], seconds: float, limits: Limits
) -> str:
    fewest = min(request.points for request in passes)
    most = max(request.points for request in passes)
    words = f"{len(passes)} pass{'es' if len(passes) > 1 else ''} of "
    words += f"{most} points" if fewest == most else f"{fewest} to {most} points"
    words += f", about {seconds:.2g} s" if seconds < 10 else f", about {seconds:.0f} s"
    if beyond:
        named = ", ".join(span_words(span) for span in beyond)
        words += f"; beyond the analyzer's {limits.words}: {named}"
    return words
