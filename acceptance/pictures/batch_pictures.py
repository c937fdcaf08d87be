"""Pictures of a batch: a control chart, and what a size does to a dip."""

from __future__ import annotations

from collections.abc import Sequence

from acceptance.batch.charted_series import ChartedSeries
from acceptance.batch.size_effect import SizeEffect, Suggestion
from acceptance.pictures.axes import round_ticks
from acceptance.pictures.svg_drawing import INK, LINE, MUTED, PAPER, Box, Drawing, Point, text_width

OUT_OF_LIMITS_INK = "#b03a06"
LABEL, ROOM_LEFT, ROOM_RIGHT = 7.0, 34.0, 40.0
ROOM_ABOVE, ROOM_BELOW = 14.0, 14.0
AXIS_MARGIN = 0.08
"""How much of its range an axis shows beyond it."""


class _Plot:
    """A frame with two linear axes."""

    def __init__(self, picture: Drawing, x: tuple[float, float], y: tuple[float, float]) -> None:
        self.picture = picture
        self.frame = Box(
            ROOM_LEFT,
            ROOM_ABOVE,
            picture.width - ROOM_LEFT - ROOM_RIGHT,
            picture.height - ROOM_ABOVE - ROOM_BELOW,
        )
        self.x, self.y = x, y

    def at(self, x: float, y: float) -> Point:
        """Where a value lies in the picture."""
        frame, (left, right), (bottom, top) = self.frame, self.x, self.y
        return (
            frame.left + (x - left) / (right - left) * frame.width,
            frame.bottom - (y - bottom) / (top - bottom) * frame.height,
        )

    def upright(self, label: str) -> None:
        """The upright axis' lines and figures, and what they are of."""
        self.picture.text((2, 8), label, LABEL, colour=MUTED)
        for tick in round_ticks(*self.y, 5):
            _, y = self.at(self.x[0], tick)
            self.picture.line((self.frame.left, y), (self.frame.right, y), LINE, 0.4)
            self.picture.text(
                (self.frame.left - 3, y + 2.4), f"{tick:g}", LABEL, anchor="end", colour=MUTED
            )
        self.picture.rect(self.frame, stroke=LINE, width=0.6)

    def along(self, ticks: Sequence[float], unit: str = "") -> None:
        """Figures of the level axis."""
        for tick in ticks:
            x, _ = self.at(tick, self.y[0])
            self.picture.text(
                (x, self.frame.bottom + 9), f"{tick:g}", LABEL, anchor="middle", colour=MUTED
            )
        self.picture.text((self.frame.right + 4, self.frame.bottom + 9), unit, LABEL, colour=MUTED)

    def counted(self, names: Sequence[str]) -> None:
        """The level axis where each step is an antenna: their names, or their numbers where those
        do not fit side by side."""
        step_width = self.at(2, self.y[0])[0] - self.at(1, self.y[0])[0]
        if all(text_width(name, LABEL) + 4 <= step_width for name in names):
            for n, name in enumerate(names, 1):
                x, _ = self.at(n, self.y[0])
                self.picture.text(
                    (x, self.frame.bottom + 9), name, LABEL, anchor="middle", colour=MUTED
                )
        else:
            ticks = round_ticks(1, len(names), 12)
            self.along([tick for tick in ticks if tick == round(tick)])

    def level(self, y: float, words: str, dash: str = "", width: float = 0.8) -> None:
        """A line right across, with its figure behind it."""
        _, height = self.at(self.x[0], y)
        ends = ((self.frame.left, height), (self.frame.right, height))
        self.picture.path([ends], INK, width, dash=dash, name="level")
        self.picture.text((self.frame.right + 3, height + 2.4), words, LABEL)


def control_chart_picture(
    series: ChartedSeries, width: float = 520, height: float = 150
) -> Drawing:
    """Every record a point in the order of time, the mean, and the limits of the ordinary.

    What lies beyond them is a filled square, all else a ring: it reads in black and white.
    """
    chart = series.chart
    picture = Drawing(width, height, f"Control chart: {series.name}, {series.unit}")
    ends = [*chart.values, *(each for each in (chart.low, chart.high) if each is not None)]
    plot = _Plot(picture, (0.3, len(chart.values) + 0.7), _padded(ends))
    plot.upright(f"{series.name[0].upper()}{series.name[1:]}, {series.unit}")
    plot.counted([each.label for each in series.charted])
    plot.level(chart.mean, f"{chart.mean:.1f}")
    for limit in (chart.low, chart.high):
        if limit is not None:
            plot.level(limit, f"{limit:.1f}", dash="4 2")
    places = [plot.at(n, value) for n, value in enumerate(chart.values, 1)]
    picture.path([places], MUTED, 0.7, name="curve")
    for n, (x, y) in enumerate(places):
        if n in chart.outliers:
            picture.rect(Box(x - 2.6, y - 2.6, 5.2, 5.2), fill=OUT_OF_LIMITS_INK)
            _label_point(picture, plot.frame, (x, y), series.charted[n].label)
        else:
            picture.circle((x, y), 2.2, INK, fill=PAPER)
    return picture


def size_effect_picture(
    found: SizeEffect, suggestion: Suggestion | None = None, width: float = 520, height: float = 180
) -> Drawing:
    """A size against a dip, with the line through them and where single antennas lie about it.

    told : the next cut, marked where it is to land.
    """
    name = f"Dip {found.dip}, MHz, over {found.label}, mm"
    picture = Drawing(width, height, name)
    sizes = [*found.sizes_mm, *([suggestion.size_mm] if suggestion else [])]
    dips = [*found.dips_mhz, *([suggestion.target_mhz] if suggestion else [])]
    x, y = _padded(sizes), _padded(dips)
    plot = _Plot(picture, x, y)
    plot.upright(f"Dip {found.dip}, MHz")
    plot.along(round_ticks(*x, 8), "mm")
    if found.line is not None:
        steps = [x[0] + n * (x[1] - x[0]) / 40 for n in range(41)]
        inside = [each for each in steps if y[0] <= found.line.at(each) <= y[1]]
        picture.path([[plot.at(s, found.line.at(s)) for s in inside]], INK, 1.0, name="line")
        for end in (0, 1):
            outline = [(s, found.line.next_within(s)[end]) for s in steps]
            pieces = [plot.at(s, mhz) for s, mhz in outline if y[0] <= mhz <= y[1]]
            picture.path([pieces], MUTED, 0.6, dash="3 2", name="reach")
    for size, mhz in zip(found.sizes_mm, found.dips_mhz, strict=True):
        picture.circle(plot.at(size, mhz), 2.2, INK, fill=PAPER)
    if suggestion is not None:
        px, py = plot.at(suggestion.size_mm, suggestion.target_mhz)
        picture.rect(Box(px - 3, py - 3, 6, 6), fill=OUT_OF_LIMITS_INK)
        _label_point(picture, plot.frame, (px, py), f"next: {suggestion.size_mm:.1f} mm")
    return picture


def _label_point(picture: Drawing, frame: Box, at: Point, words: str) -> None:
    """Words beside a point, on the side where there is room."""
    x, y = at
    if x > frame.left + frame.width / 2:
        picture.text((x - 5, y + 2.4), words, LABEL, anchor="end", room=x - frame.left - 5)
    else:
        picture.text((x + 5, y + 2.4), words, LABEL, room=frame.right - x - 5)


def _padded(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    more = AXIS_MARGIN * (high - low) or max(abs(high) * 0.01, 0.5)
    return low - more, high + more
