"""Pictures of a judged sweep: the whole of it, and one strip for each band.

Report and saved picture are the same drawing. A shape says a state, colour only repeats it, so
that they read in black and white too.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from acceptance.bands.band_table import Span
from acceptance.limits.decision import State
from acceptance.limits.limit import Limit
from acceptance.pictures.axes import METRICS, Stretch, Upright, placed, round_ticks, stretches
from acceptance.pictures.svg_drawing import INK, LINE, MUTED, PAPER, Box, Drawing, Point, text_width
from acceptance.verdict.band_verdict import BandVerdict
from acquire.sweep import ComplexArray, FloatArray, Sweep
from calibration.uncertainty.interval import Interval

BAND_FILL, UNCERTAINTY_FILL = "#eef1ee", "#c9d6d2"
"""A band's ground, and the reach of the uncertainty."""
STATE_INK = {
    State.PASS: "#00675c",
    State.CONDITIONAL_PASS: "#745600",
    State.CONDITIONAL_FAIL: "#745600",
    State.FAIL: "#b03a06",
    State.NOT_MEASURED: "#5a4f7a",
}
UPWARD_MARK: tuple[Point, ...] = ((0.0, -0.9), (0.95, 0.8), (-0.95, 0.8))
DOWNWARD_MARK: tuple[Point, ...] = ((0.0, 0.9), (0.95, -0.8), (-0.95, -0.8))
SQUARE_MARK: tuple[Point, ...] = ((-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8))
SHAPES = {
    State.PASS: (UPWARD_MARK, True),
    State.CONDITIONAL_PASS: (UPWARD_MARK, False),
    State.CONDITIONAL_FAIL: (DOWNWARD_MARK, False),
    State.FAIL: (DOWNWARD_MARK, True),
    State.NOT_MEASURED: (SQUARE_MARK, False),
}
"""Above the limit points up, below points down; filled where that is sure, else hollow."""
SECOND_INK = "#8a3f86"
MOST_CURVES = 6
"""More curves than there are kinds of line cannot be told apart."""
CURVE_DASHES = ("", "5 2", "1.5 1.5", "7 2 1.5 2", "3 3", "9 3")
ARROW_LENGTH = 11.0
"""From what is proven of a point towards where it was read, points."""
GAP, LABEL, AXIS = 8.0, 7.0, 22.0
"""Between two stretches; height of small letters; room for the upright axis' figures. Points."""


class Limited(Protocol):
    """A range of frequencies under a limit."""

    @property
    def low_hz(self) -> float:
        """Where it begins."""
        ...

    @property
    def high_hz(self) -> float:
        """Where it ends."""
        ...

    @property
    def limit(self) -> Limit:
        """What holds between."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One curve to draw."""

    label: str
    frequency_hz: FloatArray
    """Shape (points,)."""
    reflection: ComplexArray
    """Shape (points,); nan where it was not measured."""
    interval: Interval | None = None
    """How far each of its points can be trusted; None where that is unknown or not to be drawn."""

    @classmethod
    def of(cls, sweep: Sweep, interval: Interval | None = None, label: str = "") -> Trace:
        """A sweep's curve."""
        return cls(label, sweep.frequency_hz, sweep.reflection, interval)

    def within(self, span: Span) -> Trace:
        """As much of it as lies in a range; all of it where less than two points do."""
        inside = (self.frequency_hz >= span[0]) & (self.frequency_hz <= span[1])
        if inside.sum() < 2:
            return self
        found = self.interval
        if found is not None:
            found = Interval(
                found.frequency_hz[inside],
                found.reflection[inside],
                found.low[inside],
                found.high[inside],
                found.floor[inside],
            )
        return replace(
            self,
            frequency_hz=self.frequency_hz[inside],
            reflection=self.reflection[inside],
            interval=found,
        )

    @property
    def size(self) -> FloatArray:
        """|reflection|, shape (points,)."""
        size: FloatArray = np.abs(self.reflection)
        return size


def overview(
    width: float,
    height: float,
    traces: Sequence[Trace],
    bands: Sequence[Limited],
    *,
    metric: str = "loss",
    title: str = "The whole sweep",
    spans: Sequence[Span] = (),
    marked: Sequence[MarkedPoint] = (),
) -> Drawing:
    """All that was swept: the first trace with its reach, the others dashed over it.

    width, height : points. metric : "loss" or "vswr". spans : what is shown of the frequency axis,
    side by side with breaks between; empty: all of it in one. marked : points that carry a number.
    """
    picture = Drawing(width, height, title)
    frame = Box(AXIS, 11, width - AXIS - 4, height - 11 - 14)
    swept = [each.frequency_hz for each in traces]
    low = min([each.low_hz for each in bands] + [float(f[0]) for f in swept])
    high = max([each.high_hz for each in bands] + [float(f[-1]) for f in swept])
    laid = placed(spans or [(low, high)], frame.left, frame.right, GAP)
    upright = Upright(METRICS[metric], frame.top, frame.bottom)
    seen = [
        (each, stretch, cut) for each in bands for stretch in laid if (cut := stretch.cut(each))
    ]
    for _, stretch, (start, end) in seen:
        left, right = stretch.x(start), stretch.x(end)
        picture.rect(Box(left, frame.top, right - left, frame.height), fill=BAND_FILL)
    for stretch in laid:
        part = Box(stretch.left, frame.top, stretch.right - stretch.left, frame.height)
        _axis(picture, part, upright, figures=stretch is laid[0])
        megahertz(picture, stretch, frame.bottom, unit=stretch is laid[-1])
    _curves(picture, laid, upright, traces)
    for each, stretch, (start, end) in seen:
        y = upright.size(each.limit.reflection)
        picture.line((stretch.x(start), y), (stretch.x(end), y), INK, 1.6)
    legend(picture, upright.metric.label, traces, frame)
    for point in marked:
        on = next((s for s in laid if s.low_hz <= point.frequency_hz <= s.high_hz), None)
        if on is not None:
            at = (on.x(point.frequency_hz), upright.size(abs(point.reflection)))
            number_mark(picture, at, point.number)
    return picture


@dataclass(frozen=True, slots=True)
class MarkedPoint:
    """A point that carries a number, and what is read there."""

    number: int
    frequency_hz: float
    reflection: complex
    words: str


def number_mark(picture: Drawing, at: Point, number: int) -> None:
    """Draw a number in a ring."""
    picture.circle(at, 5.0, INK, fill=PAPER)
    picture.text((at[0], at[1] + 2.4), f"{number}", LABEL, anchor="middle", bold=True)


def strip(
    width: float,
    height: float,
    traces: Sequence[Trace],
    bands: Sequence[BandVerdict],
    *,
    metric: str = "loss",
) -> Drawing:
    """One band: its name and state, curve and reach against its limit.

    bands : its links, one or two; else as `overview`.
    """
    name = bands[0].name
    words = " and ".join(dict.fromkeys(each.words for each in bands))
    picture = Drawing(width, height, f"{name}: {words}")
    frame = Box(AXIS, 13, width - AXIS - 3, height - 13 - 11)
    upright = Upright(METRICS[metric], frame.top, frame.bottom)
    room = frame.width + AXIS - 9.0 * len(bands) - 3
    picture.text((2, 8.5), name, 8, bold=True, room=room)
    for count, each in enumerate(bands):
        at = frame.right - 4 - 9.5 * (len(bands) - 1 - count)
        mark(picture, (at, 6), 3.4, each.state)
    spans = [(each.low_hz, each.high_hz) for each in bands]
    laid = placed(stretches(spans), frame.left, frame.right, GAP)
    for each in bands:
        stretch = next(s for s in laid if s.holds((each.low_hz, each.high_hz)))
        left, right = stretch.x(each.low_hz), stretch.x(each.high_hz)
        picture.rect(Box(left, frame.top, right - left, frame.height), fill=BAND_FILL)
    for stretch in laid:
        _axis(
            picture,
            Box(stretch.left, frame.top, stretch.right - stretch.left, frame.height),
            upright,
            figures=stretch is laid[0],
        )
    _curves(picture, laid, upright, traces)
    for each in bands:
        stretch = next(s for s in laid if s.holds((each.low_hz, each.high_hz)))
        _limit(picture, each, stretch, upright)
        _worst(picture, each, stretch, upright)
    _edges(picture, bands, laid, frame)
    return picture


def by_name(bands: Sequence[BandVerdict]) -> list[list[BandVerdict]]:
    """The links of each band together, in order."""
    found: dict[str, list[BandVerdict]] = {}
    for each in bands:
        found.setdefault(each.name, []).append(each)
    return list(found.values())


def mark(picture: Drawing, centre: Point, radius: float, state: State) -> None:
    """Draw a state's shape."""
    shape, filled = SHAPES[state]
    colour = STATE_INK[state]
    points = [(centre[0] + radius * x, centre[1] + radius * y) for x, y in shape]
    picture.path([points], colour, 1.0, fill=colour if filled else PAPER, closed=True, name="mark")


def mark_picture(state: State) -> Drawing:
    """A state's shape by itself, to stand in a line of text."""
    picture = Drawing(10, 10, state)
    mark(picture, (5, 5), 4.2, state)
    return picture


def _axis(picture: Drawing, frame: Box, upright: Upright, *, figures: bool = True) -> None:
    for tick in upright.metric.ticks:
        y = upright.value(tick)
        picture.line((frame.left, y), (frame.right, y), LINE, 0.4)
        if figures:
            picture.text((frame.left - 3, y + 2.4), f"{tick:g}", LABEL, anchor="end", colour=MUTED)
    picture.rect(frame, stroke=LINE, width=0.6)


def _curves(
    picture: Drawing, laid: Sequence[Stretch], upright: Upright, traces: Sequence[Trace]
) -> None:
    for each, stretch in itertools.product(traces, laid):
        if each.interval is not None:
            outline = _uncertainty_outline(stretch, upright, each.interval)
            picture.path(outline, "none", 0, fill=UNCERTAINTY_FILL, closed=True, name="reach")
    for (count, each), stretch in itertools.product(reversed(list(enumerate(traces))), laid):
        pieces = stretch.pieces(each.frequency_hz, upright.sizes(each.size))
        dash = CURVE_DASHES[count % len(CURVE_DASHES)]
        picture.path(pieces, colour(count), pen(count), dash=dash, name="curve")
    floor = next((each.interval for each in traces if each.interval is not None), None)
    if floor is not None:
        for stretch in laid:
            pieces = stretch.pieces(floor.frequency_hz, upright.sizes(floor.floor))
            picture.path(pieces, MUTED, 0.5, dash="1 1.6", name="floor")


def _uncertainty_outline(
    stretch: Stretch, upright: Upright, interval: Interval
) -> list[list[Point]]:
    """The ground between the interval's two ends, stretch by unbroken stretch."""
    ends = [
        stretch.pieces(interval.frequency_hz, upright.sizes(end))
        for end in (interval.high, interval.low)
    ]
    return [upper + lower[::-1] for upper, lower in zip(*ends, strict=True)]


def _limit(picture: Drawing, band: Limited, stretch: Stretch, upright: Upright) -> None:
    y = upright.size(band.limit.reflection)
    picture.line((stretch.x(band.low_hz), y), (stretch.x(band.high_hz), y), INK, 1.6)


def _worst(picture: Drawing, band: BandVerdict, stretch: Stretch, upright: Upright) -> None:
    if band.worst_frequency_hz is None or band.depth_db is None:
        return
    x, y = stretch.x(band.worst_frequency_hz), upright.size(10 ** (-band.depth_db / 20))
    ink = STATE_INK[band.state]
    if band.better_than_db is not None:  # the curve lies deeper: an arrow says so
        tip = min(y + ARROW_LENGTH, upright.bottom)
        head = ((x - 2.2, tip - 3), (x, tip), (x + 2.2, tip - 3))
        picture.path([((x, y), (x, tip)), head], ink, 1.0, name="better")
    picture.circle((x, y), 2.2, ink, fill=PAPER)


def _edges(
    picture: Drawing, bands: Sequence[BandVerdict], laid: Sequence[Stretch], frame: Box
) -> None:
    """The band's edges in MHz, as many as there is room for."""
    until = -np.inf
    edges = sorted({edge for each in bands for edge in (each.low_hz, each.high_hz)})
    for at, edge in enumerate(edges):
        stretch = next(s for s in laid if s.low_hz <= edge <= s.high_hz)
        words = f"{edge / 1e6:.4g}"
        half = 2.0 * len(words)
        x = min(max(stretch.x(edge), frame.left + half), frame.right - half)
        if x - half < until or (at + 1 < len(edges) - 1 and x > frame.right - 3 * half):
            continue
        picture.text((x, frame.bottom + 8), words, LABEL, anchor="middle", colour=MUTED)
        until = x + half + 2


def legend(picture: Drawing, label: str, traces: Sequence[Trace], frame: Box) -> None:
    """Above a frame: what its upright axis is, and whose each line is."""
    picture.text((2, 7.4), label, LABEL, colour=MUTED)
    named = [each for each in traces if each.label]
    if len(named) < 2:
        return
    left = 14 + text_width(label, LABEL)
    room = (frame.right - left) / len(named)
    for count, each in enumerate(named):
        dash = CURVE_DASHES[count % len(CURVE_DASHES)]
        picture.path([((left, 5), (left + 16, 5))], colour(count), pen(count), dash=dash)
        picture.text((left + 19, 7.4), each.label, LABEL, room=room - 22)
        left += min(19 + text_width(each.label, LABEL) + 12, room)


def megahertz(picture: Drawing, stretch: Stretch, bottom: float, *, unit: bool = True) -> None:
    """The frequency axis below a frame. unit : write it at the end."""
    most = max(int((stretch.right - stretch.left) / 55), 2)
    for at in round_ticks(stretch.low_hz / 1e6, stretch.high_hz / 1e6, most):
        x = stretch.x(at * 1e6)
        picture.line((x, bottom), (x, bottom + 2.5), MUTED)
        if x < stretch.right - (34 if unit else 0):
            picture.text((x, bottom + 10), f"{at:g}", LABEL, anchor="middle", colour=MUTED)
    if unit:
        picture.text((stretch.right, bottom + 10), "MHz", LABEL, anchor="end", colour=MUTED)


def colour(count: int) -> str:
    """Ink, or another one where every kind of line was used once."""
    return INK if count < len(CURVE_DASHES) else SECOND_INK


def pen(count: int) -> float:
    """How thick the line of a trace is: the first one counts."""
    return 0.7 if count else 1.1
