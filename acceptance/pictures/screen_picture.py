"""What is on the screen as one picture: a title, the whole sweep, a strip for each band."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from acceptance.bands.band_table import Span
from acceptance.pictures.axes import swept_spans
from acceptance.pictures.impedance_pictures import impedance, smith
from acceptance.pictures.svg_drawing import MUTED, PAPER, Box, Drawing
from acceptance.pictures.sweep_pictures import (
    MarkedPoint,
    Trace,
    by_name,
    mark,
    number_mark,
    overview,
    strip,
)
from acceptance.verdict.band_verdict import BandVerdict
from acceptance.verdict.plan_verdict import Verdict

Shown = Literal["loss", "vswr", "impedance", "smith"]
WIDTH, EDGE = 760.0, 16.0
COLUMNS, STRIP_HEIGHT, GAP = 4, 104.0, 8.0
MOST_STRIPS = 48
MARKED_HEIGHT = 14.0


def saved_picture(
    traces: Sequence[Trace],
    verdict: Verdict | None,
    shown: Shown,
    title: str,
    lines: Sequence[str],
    *,
    part: Span | None = None,
    marked: Sequence[MarkedPoint] = (),
) -> Drawing:
    """Draw it.

    traces : the sweep first, then what is held. verdict : None while there is none. lines : what
    a reader must know of it, below the title. part : the range of frequencies that the large plot
    shows; None: all that was swept, with breaks where nothing was. marked : points that carry a
    number, and what is read there, listed below it.
    """
    bands: Sequence[BandVerdict] = () if verdict is None else verdict.bands
    room = WIDTH - 2 * EDGE
    seen, inside = traces, bands
    if part is not None:
        seen = [each.within(part) for each in traces]
        inside = [each for each in bands if each.low_hz < part[1] and each.high_hz > part[0]]
    if shown == "smith":
        main = smith(room / 2, seen, inside, marked)
    elif shown == "impedance":
        main = impedance(room, 190, seen, inside, marked)
    else:
        spans = swept_spans(traces[0].frequency_hz, part)
        main = overview(room, 190, seen, inside, metric=shown, spans=spans, marked=marked)
    metric = "vswr" if shown == "vswr" else "loss"
    wide = (room - (COLUMNS - 1) * GAP) / COLUMNS
    strips = [
        strip(wide, STRIP_HEIGHT, traces, group, metric=metric)
        for group in by_name(bands)[:MOST_STRIPS]
    ]
    rows = -(-len(strips) // COLUMNS)
    head = EDGE + 16 + 12 * len(lines) + 6
    listed = len(marked) * MARKED_HEIGHT
    height = head + main.height + listed + rows * (STRIP_HEIGHT + GAP) + EDGE
    picture = Drawing(WIDTH, height, title)
    picture.rect(Box(0, 0, WIDTH, height), fill=PAPER)
    if verdict is not None:
        mark(picture, (EDGE + 6, EDGE + 7), 6, verdict.overall)
        title = f"{verdict.words}: {title}"
    left = EDGE + (18 if verdict is not None else 0)
    picture.text((left, EDGE + 12), title, 14, bold=True, room=WIDTH - left - EDGE)
    for count, line in enumerate(lines):
        picture.text((EDGE, EDGE + 28 + 12 * count), line, 9, colour=MUTED, room=room)
    picture.put(main, (EDGE, head))
    for count, point in enumerate(marked):
        y = head + main.height + MARKED_HEIGHT * (count + 0.7)
        number_mark(picture, (EDGE + 6, y - 2.4), point.number)
        picture.text((EDGE + 16, y), point.words, 9, room=room - 16)
    for at, each in enumerate(strips):
        row, column = divmod(at, COLUMNS)
        y = head + main.height + listed + GAP + row * (STRIP_HEIGHT + GAP)
        picture.put(each, (EDGE + column * (wide + GAP), y))
    return picture
