"""The label of a tested antenna, to print: serial, word, date, the record's sum."""

from __future__ import annotations

from acceptance.pictures.svg_drawing import INK, MUTED, PAPER, Box, Drawing

WIDTH, HEIGHT = 175.7, 82.2
"""62 mm by 29 mm, a common size of labels; points."""
MARGIN = 7.0


def label_picture(
    serial: str, word: str, at: str, short_sum: str, station: str, *, doubt: bool = False
) -> Drawing:
    """Draw a label, black on white.

    word : YES, NO or ASK; a mark stands beside it, so that a smeared print can still be read.
    at : day and time. short_sum : the first letters of the record's sum. doubt : whether the word
    no longer counts.
    """
    shown = "ASK" if doubt else word
    drawing = Drawing(WIDTH, HEIGHT, f"Label of {serial}: {shown}")
    drawing.rect(Box(0, 0, WIDTH, HEIGHT), fill=PAPER)
    drawing.rect(Box(1, 1, WIDTH - 2, HEIGHT - 2), stroke=INK, width=1.0)
    inside = WIDTH - 2 * MARGIN
    drawing.text((MARGIN, 22), serial, 17, bold=True, room=inside)
    drawing.text((MARGIN + 26, 55), shown, 30, bold=True)
    _mark(drawing, shown)
    drawing.text((WIDTH - MARGIN, 43), at, 9, anchor="end")
    drawing.text((WIDTH - MARGIN, 55), f"record {short_sum}", 9, anchor="end")
    drawing.text((MARGIN, 72), station, 8, colour=MUTED, room=inside)
    return drawing


def _mark(drawing: Drawing, word: str) -> None:
    """A tick, a cross, or a question mark, in a ring."""
    centre = (MARGIN + 11, 45.0)
    drawing.circle(centre, 10, INK, 1.4)
    x, y = centre
    if word == "YES":
        drawing.path([[(x - 5, y), (x - 1.5, y + 4.5), (x + 5.5, y - 4.5)]], width=2.4)
    elif word == "NO":
        drawing.path(
            [[(x - 4.5, y - 4.5), (x + 4.5, y + 4.5)], [(x + 4.5, y - 4.5), (x - 4.5, y + 4.5)]],
            width=2.4,
        )
    else:
        drawing.text((x, y + 5), "?", 15, anchor="middle", bold=True)
