"""Pictures of an impedance: over frequency, and in the Smith chart.

Both hold at the reference plane of what was swept, and are drawn only of corrected readings.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from acceptance.limits.match import impedance_ohm
from acceptance.pictures.axes import Stretch, breaks
from acceptance.pictures.svg_drawing import INK, LINE, MUTED, Box, Drawing, Point
from acceptance.pictures.sweep_pictures import (
    AXIS,
    BAND_FILL,
    CURVE_DASHES,
    LABEL,
    MarkedPoint,
    Trace,
    legend,
    megahertz,
    number_mark,
    pen,
)
from acceptance.verdict.band_verdict import BandVerdict
from acquire.sweep import ComplexArray, FloatArray

HIGHEST_OHM = 150.0
TICKS_OHM = (-100.0, -50.0, 0.0, 50.0, 100.0, 150.0)
CIRCLES = (0.2, 0.5, 1.0, 2.0, 5.0)
"""Normalised resistances and reactances that the Smith chart draws."""
REFERENCE_OHM = 50.0


def impedance(
    width: float,
    height: float,
    traces: Sequence[Trace],
    bands: Sequence[BandVerdict],
    marked: Sequence[MarkedPoint] = (),
) -> Drawing:
    """Resistance and reactance of the first trace over frequency, ohm; width, height in points.

    marked : points that carry a number.
    """
    picture = Drawing(width, height, "Impedance over frequency")
    frame = Box(AXIS + 8, 11, width - AXIS - 12, height - 11 - 14)
    first = traces[0]
    low = min([each.low_hz for each in bands] + [float(first.frequency_hz[0])])
    high = max([each.high_hz for each in bands] + [float(first.frequency_hz[-1])])
    stretch = Stretch(low, high, frame.left, frame.right)
    for each in bands:
        left, right = stretch.x(each.low_hz), stretch.x(each.high_hz)
        picture.rect(Box(left, frame.top, right - left, frame.height), fill=BAND_FILL)
    for tick in TICKS_OHM:
        y = float(_upright(np.array([tick]), frame)[0])
        picture.line((frame.left, y), (frame.right, y), MUTED if tick == 0 else LINE, 0.4)
        picture.text((frame.left - 3, y + 2.4), f"{tick:g}", LABEL, anchor="end", colour=MUTED)
    picture.rect(frame, stroke=LINE, width=0.6)
    megahertz(picture, stretch, frame.bottom)
    ohm = impedance_ohm(first.reflection)
    parts = (("resistance", ohm.real), ("reactance", ohm.imag))
    for count, (_, values) in enumerate(parts):
        pieces = stretch.pieces(first.frequency_hz, _upright(values, frame))
        picture.path(pieces, INK, 1.1, dash=CURVE_DASHES[count], name="curve")
    named = [Trace(name, first.frequency_hz, first.reflection) for name, _ in parts]
    legend(picture, "Ohm", named, frame)
    for point in marked:
        if low <= point.frequency_hz <= high:
            x = stretch.x(point.frequency_hz)
            picture.line((x, frame.top), (x, frame.bottom), MUTED, 0.5)
            number_mark(picture, (x, frame.top + 7), point.number)
    return picture


def smith(
    size: float,
    traces: Sequence[Trace],
    bands: Sequence[BandVerdict],
    marked: Sequence[MarkedPoint] = (),
) -> Drawing:
    """The Smith chart, the limits as circles round its centre; size in points.

    marked : points that carry a number.
    """
    picture = Drawing(size, size, "Smith chart")
    centre, radius = (size / 2, size / 2 + 5), size / 2 - 12

    def placed(reflection: ComplexArray) -> list[Point]:
        x = centre[0] + radius * reflection.real
        y = centre[1] - radius * reflection.imag
        return list(zip(x.tolist(), y.tolist(), strict=True))

    along = np.tan(np.linspace(-np.pi / 2, np.pi / 2, 181)[1:-1])  # from -inf to inf
    for value in CIRCLES:
        picture.path([placed(_of(value + 1j * along))], LINE, 0.5)
        for sign in (1, -1):
            picture.path([placed(_of(np.abs(along) + 1j * sign * value))], LINE, 0.5)
    picture.line(placed(_of(np.array([0j])))[0], placed(np.array([1 + 0j]))[0], LINE)
    picture.circle(centre, radius, MUTED, 0.8)
    for value in (0.0, *CIRCLES):
        (at,) = placed(_of(np.array([value + 0j])))
        picture.text((at[0] + 2, at[1] - 2), f"{REFERENCE_OHM * value:g}", LABEL, colour=MUTED)
    for limit in sorted({each.limit.reflection for each in bands}):
        picture.circle(centre, radius * limit, INK, 0.8)
    for count, each in reversed(list(enumerate(traces))):
        apart = breaks(each.frequency_hz, each.size)
        pieces = [placed(piece) for piece in np.split(each.reflection, apart)]
        pieces = [piece for piece in pieces if np.isfinite(piece).all()]
        dash = CURVE_DASHES[count % len(CURVE_DASHES)]
        picture.path(pieces, INK, pen(count), dash=dash, name="curve")
    legend(picture, "Smith chart, ohm", traces, Box(0, 0, size, 11))
    for point in marked:
        (at,) = placed(np.array([point.reflection]))
        number_mark(picture, at, point.number)
    return picture


def _of(normalised: ComplexArray) -> ComplexArray:
    reflection: ComplexArray = (normalised - 1) / (normalised + 1)
    return reflection


def _upright(ohm: FloatArray, frame: Box) -> FloatArray:
    low = TICKS_OHM[0]
    with np.errstate(invalid="ignore"):
        part = (np.clip(ohm, low, HIGHEST_OHM) - low) / (HIGHEST_OHM - low)
    placed: FloatArray = frame.bottom - part * frame.height
    return placed
