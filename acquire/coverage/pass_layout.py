"""How wanted ranges are laid out in an analyzer's passes, so that a sweep is quickest.

Each range becomes a stretch with margins; stretches are cut where they overlap and where the
analyzer switches range; neighbours are taken together wherever that is quicker.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.coverage.spans import Span
from acquire.coverage.sweep_limits import Limits
from acquire.sweep import SweepRequest

STEPS_A_RANGE = 20
"""Without a given step, a wanted range is cut into so many."""
WIDEST_STEP_HZ = 5e6
"""... but no wider: over 1 m of cable, there and back, that turns the phase by 18 degrees."""
FINEST_STEP_HZ = 10e3
"""... and no finer: far below anything an antenna does."""
LEAST_STEP_HZ = 1e3
"""The finest step that may be asked for; analyzers set whole hertz."""


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
class Layout:
    """How a piece is laid out in passes."""

    passes: int
    points: int
    """A pass; all of a piece have as many."""
    first_hz: float
    step_hz: float

    def requests(self, limits: Limits) -> list[SweepRequest]:
        """The passes, their ends on whole hertz as analyzers set them."""
        requests = []
        for number in range(self.passes):
            start_hz = self.first_hz + number * self.points * self.step_hz
            stop_hz = start_hz + (self.points - 1) * self.step_hz
            start_hz = max(float(round(start_hz)), limits.low_hz)
            stop_hz = min(float(round(stop_hz)), limits.high_hz)
            requests.append(SweepRequest(start_hz, stop_hz, self.points))
        return requests


def quickest_layout(
    wanted: Sequence[Span],
    limits: Limits,
    *,
    step_hz: float | None,
    margin: float,
    seconds_per_point: float,
    seconds_per_pass: float,
) -> list[Layout]:
    """Lay the wanted ranges out in passes, in order of frequency; see
    `acquire.coverage.sweep_coverage.cover`.

    wanted : each reaches into the limits.
    """
    pieces = _pieces([_stretch(span, step_hz, margin, limits) for span in wanted], limits)
    return _quickest(pieces, limits, seconds_per_point, seconds_per_pass)


def _stretch(span: Span, step_hz: float | None, margin: float, limits: Limits) -> _Piece:
    """What to sweep for one wanted range: margins around it, two steps on each side of a step.

    Its ends are whole hertz, as analyzers set them: so none lies a fraction off a range step.
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
    boundaries_hz = sorted(ends | set(limits.range_steps_hz))
    pieces = []
    for low_hz, high_hz in itertools.pairwise(boundaries_hz):
        steps = [s.step_hz for s in stretches if s.low_hz <= low_hz and s.high_hz >= high_hz]
        if steps:
            pieces.append(_Piece(low_hz, high_hz, min(steps)))
    return _without_slivers(pieces, limits)


def _without_slivers(pieces: Sequence[_Piece], limits: Limits) -> list[_Piece]:
    """The pieces, none of them too narrow for points that an analyzer could tell apart.

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
) -> list[Layout]:
    """Take neighbouring pieces together wherever the whole gets quicker.

    Dynamic programming over where the last group of pieces begins: exact, for a few dozen
    pieces. Groups grow downwards until one alone is slower than the best way found.
    """
    best: list[tuple[float, list[Layout]]] = [(0.0, [])]
    for end, piece in enumerate(pieces):
        joined = end + 1 < len(pieces) and pieces[end + 1].low_hz == piece.high_hz
        found: tuple[float, list[Layout]] = (math.inf, [])
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


def _lay_out(piece: _Piece, limits: Limits, *, joined: bool) -> Layout:
    """Lay points over a piece, at most its step apart, as many in every pass.

    At a range step the points stay half a step away, since nobody knows which side the analyzer
    takes it for. Where the next piece begins (joined), its first point is the one that follows.
    """
    before = 0.5 if piece.low_hz in limits.range_steps_hz else 0.0
    after = 0.5 if piece.high_hz in limits.range_steps_hz else float(joined)
    width_hz = piece.width_hz
    needed = max(2, math.ceil(width_hz / piece.step_hz + 1 - before - after - 1e-9))
    passes = math.ceil(needed / limits.points)
    points = max(2, limits.fewest_points, math.ceil(needed / passes))
    step_hz = width_hz / (passes * points - 1 + before + after)
    return Layout(passes, points, piece.low_hz + before * step_hz, step_hz)
