"""From the ranges someone wants to see to the passes a unit can sweep.

A unit sweeps equally spaced points, a limited number at a time, within its limits, and its
errors step where it switches range. So the wanted ranges become passes: dense where a range is
narrow, one pass over neighbours where that is quicker, none across a range step. Joined, they
are one strictly increasing grid with points on both sides of every wanted edge.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.errors import CoverageError
from acquire.sweep import FloatArray, Reading, SweepRequest

Span = tuple[float, float]
"""(low_hz, high_hz), both included."""

STEPS_A_RANGE = 20
"""Without a given step, a wanted range is cut into so many."""
WIDEST_STEP_HZ = 5e6
"""... but no wider: over 1 m of cable, there and back, that turns the phase by 18 degrees."""
FINEST_STEP_HZ = 10e3
"""... and no finer: far below anything an antenna does."""
LEAST_STEP_HZ = 1e3
"""The finest step that may be asked for; units set whole hertz."""
MOST_POINTS = 200_000
LEAST_EVEN_POINTS = 16
"""Fewer show no distance."""
SECONDS_PER_PASS = 0.05
"""What setting a pass and asking for it costs, where a profile does not say."""
ROUNDING_STEPS = 1 / 20
"""Units round: a point within so much of a step is where it was asked for."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a unit can sweep."""

    low_hz: float
    high_hz: float
    points: int
    """Most points a pass."""
    range_steps_hz: tuple[float, ...] = ()
    """Where the unit switches range, so that its errors are not continuous."""
    fewest_points: int = 2
    """Fewest points a pass; equal to `points` for a unit that knows no other number."""

    def __post_init__(self) -> None:
        if not 0 <= self.low_hz < self.high_hz < math.inf:
            raise ValueError("A unit's limits run upwards from 0 Hz or more.")
        if not 2 <= self.fewest_points <= self.points:
            raise ValueError("A unit sweeps at least 2 points a pass, and no fewer than it must.")
        ends = (self.low_hz, *self.range_steps_hz, self.high_hz)
        if any(after - before < FINEST_STEP_HZ for before, after in itertools.pairwise(ends)):
            raise ValueError(
                "A unit's range steps rise and lie within its limits, 10 kHz or more apart."
            )

    @property
    def words(self) -> str:
        """As "0.05 to 900 MHz"."""
        return span_words((self.low_hz, self.high_hz))


@dataclass(frozen=True, slots=True)
class Coverage:
    """The passes that show what is wanted, and what they cannot show."""

    passes: tuple[SweepRequest, ...]
    """In order of frequency; no two share a point."""
    beyond: tuple[Span, ...]
    """Wanted ranges that lie, wholly or in part, outside what the unit can sweep."""
    seconds: float
    """About how long one sweep over all passes takes."""
    words: str
    """As "4 passes of 101 points, about 3.1 s", then what lies beyond the unit's range."""

    @property
    def grid_hz(self) -> FloatArray:
        """All frequencies asked for, Hz, strictly increasing."""
        return np.concatenate([request.grid_hz() for request in self.passes])


@dataclass(frozen=True, slots=True)
class _Piece:
    """A stretch of frequencies with one density; or several, taken together."""

    low_hz: float
    high_hz: float
    step_hz: float

    @property
    def width_hz(self) -> float:
        return self.high_hz - self.low_hz

    def up_to(self, other: _Piece) -> _Piece:
        return _Piece(self.low_hz, other.high_hz, min(self.step_hz, other.step_hz))


@dataclass(frozen=True, slots=True)
class _Layout:
    """How a piece is laid out in passes."""

    passes: int
    points: int
    """A pass; all of a piece have as many."""
    first_hz: float
    step_hz: float

    def requests(self, limits: Limits) -> list[SweepRequest]:
        """The passes, their ends on whole hertz as units set them."""
        requests = []
        for number in range(self.passes):
            start_hz = self.first_hz + number * self.points * self.step_hz
            stop_hz = start_hz + (self.points - 1) * self.step_hz
            start_hz = max(float(round(start_hz)), limits.low_hz)
            stop_hz = min(float(round(stop_hz)), limits.high_hz)
            requests.append(SweepRequest(start_hz, stop_hz, self.points))
        return requests


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
    Raises CoverageError where no wanted range reaches into the unit's limits, a range makes
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
    reached = [s for s in wanted if s[0] < limits.high_hz and s[1] > limits.low_hz]
    if not reached:
        named = ", ".join(span_words(span) for span in beyond) or "nothing"
        raise CoverageError(
            f"The unit sweeps {limits.words}, and wanted was {named}. Choose bands within its "
            "range, or another unit."
        )
    pieces = _pieces([_stretch(span, step_hz, margin, limits) for span in reached], limits)
    layouts = _quickest(pieces, limits, seconds_per_point, seconds_per_pass)
    points = sum(layout.passes * layout.points for layout in layouts)
    if points > MOST_POINTS:
        raise CoverageError(
            f"The wanted ranges take {points} points, more than the {MOST_POINTS} that make "
            "sense: choose a wider step or fewer ranges."
        )
    passes = tuple(request for layout in layouts for request in layout.requests(limits))
    seconds = points * seconds_per_point + len(passes) * seconds_per_pass
    return Coverage(passes, beyond, seconds, _words(passes, beyond, seconds, limits))


def even(span: Span, step_hz: float, *, limits: Limits, seconds_per_point: float) -> Coverage:
    """Plan one even grid over a span, as distance to fault needs it, in as many passes as it takes.

    step_hz : spacing of the points, whole hertz. Every point is a multiple of it, so the grid is
    harmonic where it begins at the step itself. Range steps are crossed: it can be corrected at
    its own points alone.
    Raises CoverageError where the unit does not sweep that far, or that is no grid.
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
            f"The unit sweeps {limits.words}, and wanted was {span_words(span)}. Ask for a range "
            "within that."
        )
    count = math.ceil(points / limits.points)
    sizes = [points // count + (1 if n < points % count else 0) for n in range(count)]
    if min(sizes) < limits.fewest_points:  # a unit that knows no other number: a little further
        sizes = [limits.fewest_points] * count
        points, last = sum(sizes), first + sum(sizes) - 1
        if last * step_hz > limits.high_hz:
            raise CoverageError(
                f"The unit sweeps {limits.fewest_points} points a pass, so this grid would end at "
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
                f"are no pass of this unit, which sweeps {limits.words}. Calibrate with it."
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


def continuous_spans(
    passes: Sequence[SweepRequest], range_steps_hz: Sequence[float] = ()
) -> tuple[Span, ...]:
    """The stretches inside which error terms may be interpolated, in order of frequency.

    Passes that follow each other within one and a half steps make one stretch; a gap or a
    range step ends it. A pass across a range step is cut there, and the two stretches meet.
    Outer ends are widened by a twentieth of a step: units round.
    """
    stretches: list[_Piece] = []
    for request in sorted(passes, key=lambda request: request.start_hz):
        slack_hz = request.step_hz * ROUNDING_STEPS
        next_ = _Piece(request.start_hz - slack_hz, request.stop_hz + slack_hz, request.step_hz)
        if stretches and _follows(stretches[-1], next_):
            last = stretches.pop()
            next_ = _Piece(last.low_hz, max(last.high_hz, next_.high_hz), next_.step_hz)
        stretches.append(next_)
    spans: list[Span] = []
    for stretch in stretches:
        inside = [hz for hz in sorted(range_steps_hz) if stretch.low_hz < hz < stretch.high_hz]
        ends = [stretch.low_hz, *inside, stretch.high_hz]
        spans += itertools.pairwise(ends)
    return tuple(spans)


def span_words(span: Span) -> str:
    """As "791 to 862 MHz"."""
    return f"{span[0] / 1e6:.7g} to {span[1] / 1e6:.7g} MHz"


def _follows(before: _Piece, after: _Piece) -> bool:
    return after.low_hz - before.high_hz <= 1.5 * max(before.step_hz, after.step_hz)


def _stretch(span: Span, step_hz: float | None, margin: float, limits: Limits) -> _Piece:
    """What to sweep for one wanted range: margins around it, two steps on each side of a step.

    Its ends are whole hertz, as units set them: so none lies a fraction off a range step.
    """
    low_hz, high_hz = span
    width_hz = high_hz - low_hz
    if step_hz is None:
        step_hz = min(max(width_hz / STEPS_A_RANGE, FINEST_STEP_HZ), WIDEST_STEP_HZ)
    around_hz = max(margin * width_hz, step_hz)
    low_hz, high_hz = low_hz - around_hz, high_hz + around_hz
    for switch_hz in limits.range_steps_hz:
        if low_hz < switch_hz < high_hz:
            low_hz = min(low_hz, switch_hz - 2 * step_hz)
            high_hz = max(high_hz, switch_hz + 2 * step_hz)
    low_hz, high_hz = float(round(low_hz)), float(round(high_hz))
    return _Piece(max(low_hz, limits.low_hz), min(high_hz, limits.high_hz), step_hz)


def _pieces(stretches: Sequence[_Piece], limits: Limits) -> list[_Piece]:
    """Cut overlapping stretches at all their ends and at the range steps; the finest wins."""
    ends = {end for stretch in stretches for end in (stretch.low_hz, stretch.high_hz)}
    cuts = sorted(ends | set(limits.range_steps_hz))
    pieces = []
    for low_hz, high_hz in itertools.pairwise(cuts):
        steps = [s.step_hz for s in stretches if s.low_hz <= low_hz and s.high_hz >= high_hz]
        if steps:
            pieces.append(_Piece(low_hz, high_hz, min(steps)))
    return _without_slivers(pieces, limits)


def _without_slivers(pieces: Sequence[_Piece], limits: Limits) -> list[_Piece]:
    """The pieces, none of them too narrow for points that a unit could tell apart.

    Ends that nearly meet leave slivers, down to a single hertz. The stretch that gives a
    sliver its step goes on beside it, so it is taken together with what is as fine there. What
    is narrower than any step still stands alone at a range step, beyond all that is wanted.
    """
    narrow_hz = LEAST_STEP_HZ * limits.fewest_points
    kept: list[_Piece] = []
    for piece in pieces:
        if kept and kept[-1].high_hz == piece.low_hz and piece.low_hz not in limits.range_steps_hz:
            last = kept[-1]
            into_last = piece.width_hz < narrow_hz and last.step_hz <= piece.step_hz
            into_this = last.width_hz < narrow_hz and piece.step_hz <= last.step_hz
            if into_last or into_this:
                kept[-1] = last.up_to(piece)
                continue
        kept.append(piece)
    return [piece for piece in kept if piece.width_hz >= LEAST_STEP_HZ]


def _quickest(
    pieces: Sequence[_Piece], limits: Limits, seconds_per_point: float, seconds_per_pass: float
) -> list[_Layout]:
    """Take neighbouring pieces together wherever the whole gets quicker.

    Dynamic programming over where the last group of pieces begins: exact, for a few dozen
    pieces. Groups grow downwards until one alone is slower than the best way found.
    """
    best: list[tuple[float, list[_Layout]]] = [(0.0, [])]
    for end, piece in enumerate(pieces):
        joined = end + 1 < len(pieces) and pieces[end + 1].low_hz == piece.high_hz
        found: tuple[float, list[_Layout]] = (math.inf, [])
        group = piece
        for begin in range(end, -1, -1):
            group = pieces[begin].up_to(group)
            if any(group.low_hz < hz < group.high_hz for hz in limits.range_steps_hz):
                break
            layout = _lay_out(group, limits, joined=joined)
            seconds = layout.passes * (seconds_per_pass + layout.points * seconds_per_point)
            if seconds > found[0]:
                break
            if best[begin][0] + seconds <= found[0]:
                found = (best[begin][0] + seconds, [*best[begin][1], layout])
        best.append(found)
    return best[-1][1]


def _lay_out(piece: _Piece, limits: Limits, *, joined: bool) -> _Layout:
    """Lay points over a piece, at most its step apart, as many in every pass.

    At a range step the points stay half a step away, since nobody knows which side the unit
    takes it for. Where the next piece begins (joined), its first point is the one that follows.
    """
    before = 0.5 if piece.low_hz in limits.range_steps_hz else 0.0
    after = 0.5 if piece.high_hz in limits.range_steps_hz else float(joined)
    width_hz = piece.width_hz
    needed = max(2, math.ceil(width_hz / piece.step_hz + 1 - before - after - 1e-9))
    passes = math.ceil(needed / limits.points)
    points = max(2, limits.fewest_points, math.ceil(needed / passes))
    step_hz = width_hz / (passes * points - 1 + before + after)
    return _Layout(passes, points, piece.low_hz + before * step_hz, step_hz)


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
        words += f"; beyond the unit's {limits.words}: {named}"
    return words
