"""The picture of a line looked along: reflection against distance, its peaks numbered."""

from __future__ import annotations

import numpy as np

from acceptance.cable.cable_faults import LineReflections
from acceptance.pictures.axes import round_ticks
from acceptance.pictures.svg_drawing import INK, LINE, MUTED, Box, Drawing, Point

DEEPEST_DB = 50.0
"""What reflects less is nobody's fault."""
LABEL, AXIS = 7.0, 30.0
LAST_PEAK_FACTOR = 1.5
"""So many times the distance of the last peak shown is drawn; beyond lies nothing to see."""
LEAST_WIDTHS = 12.0


def line_picture(seen: LineReflections, width: float, height: float) -> Drawing:
    """Draw it; width and height in points.

    The level bar is the resolution: what lies closer together is one.
    """
    picture = Drawing(width, height, "Reflection against distance")
    frame = Box(AXIS, 15, width - AXIS - 8, height - 15 - 15)
    trace = seen.trace
    end_m = max((each.distance_m for each in seen.shown), default=trace.range_m)
    right_m = min(trace.range_m, max(LAST_PEAK_FACTOR * end_m, LEAST_WIDTHS * trace.resolution_m))
    left_m = float(trace.distance_m[0])

    def placed(distance_m: float, size: float) -> Point:
        down_db = min(max(-20 * np.log10(max(size, 1e-6)), 0.0), DEEPEST_DB)
        return (
            frame.left + (distance_m - left_m) / (right_m - left_m) * frame.width,
            frame.top + down_db / DEEPEST_DB * frame.height,
        )

    for tick in range(0, int(DEEPEST_DB) + 1, 10):
        _, y = placed(0.0, 10 ** (-tick / 20))
        picture.line((frame.left, y), (frame.right, y), LINE, 0.4)
        picture.text((frame.left - 3, y + 2.4), f"{tick}", LABEL, anchor="end", colour=MUTED)
    for metres in round_ticks(0.0, right_m, 8):
        x, _ = placed(metres, 1.0)
        picture.line((x, frame.bottom), (x, frame.bottom + 2), MUTED, 0.5)
        if x < frame.right - 2 * LABEL:
            words = f"{metres:g}"
            picture.text((x, frame.bottom + 10), words, LABEL, anchor="middle", colour=MUTED)
    picture.text((frame.right, frame.bottom + 10), "m", LABEL, anchor="end", colour=MUTED)
    picture.text((2, 8), "Return loss, dB, of each place by itself", LABEL, colour=MUTED)
    picture.rect(frame, stroke=LINE, width=0.6)
    inside = trace.distance_m <= right_m
    points = [
        placed(metres, size)
        for metres, size in zip(
            trace.distance_m[inside].tolist(), trace.size[inside].tolist(), strict=True
        )
    ]
    picture.path([points], INK, 1.0, name="curve")
    for number, each in enumerate(seen.shown, 1):
        x, y = placed(each.distance_m, each.size)
        picture.circle((x, y), 2.4, INK, 0.8)
        above = y - 5 if y > frame.top + 10 else y + 11
        picture.text((x + 4, above), f"{number}", LABEL + 1, bold=True)
    bar = placed(right_m - trace.resolution_m * 1.5, 1.0)[0], frame.top + 6
    until = placed(right_m - trace.resolution_m * 0.5, 1.0)[0], frame.top + 6
    picture.line(bar, until, INK, 2.0)
    picture.text((bar[0] - 3, bar[1] + 2.4), "resolution", LABEL, anchor="end", colour=MUTED)
    return picture
