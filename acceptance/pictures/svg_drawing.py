"""A drawing in SVG 1.1: paths, shapes and words at exact places.

The same picture is the same bytes. Made as a tree of elements, never by joining text, so that no
name can become markup. Lengths are points (1/72 inch) with the origin at the upper left. It knows
nothing of antennas.
"""

from __future__ import annotations

import copy
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

NAMESPACE = "http://www.w3.org/2000/svg"
FONT = "Libertinus Serif, Georgia, serif"

INK, MUTED, LINE, PAPER = "#14211f", "#51605c", "#c3ccc7", "#ffffff"
"""Dark, less dark, thin, and the ground: black on white wherever no colour is printed."""

Point = tuple[float, float]
ELLIPSIS = "…"


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle to draw in, points."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.top + self.height


class Drawing:
    """One picture, drawn from the back to the front."""

    def __init__(self, width: float, height: float, title: str) -> None:
        """title : what it shows, for those who cannot see it."""
        self.width, self.height = width, height
        self._root = ElementTree.Element(
            "svg",
            {
                "xmlns": NAMESPACE,
                "viewBox": f"0 0 {number(width)} {number(height)}",
                "width": f"{number(width)}pt",
                "height": f"{number(height)}pt",
                "role": "img",
                "font-family": FONT,
            },
        )
        ElementTree.SubElement(self._root, "title").text = clean(title)

    def line(self, start: Point, end: Point, colour: str = LINE, width: float = 0.5) -> None:
        """A straight line."""
        ends = {"x1": start[0], "y1": start[1], "x2": end[0], "y2": end[1]}
        self._add("line", {**ends, **_stroke(colour, width)})

    def rect(self, box: Box, fill: str = "none", stroke: str = "none", width: float = 0.5) -> None:
        """A rectangle."""
        size = {"width": max(box.width, 0.0), "height": max(box.height, 0.0)}
        drawn = {"fill": fill} if stroke == "none" else _stroke(stroke, width, fill)
        self._add("rect", {"x": box.left, "y": box.top, **size, **drawn})

    def circle(
        self, centre: Point, radius: float, stroke: str, width: float = 1.0, fill: str = "none"
    ) -> None:
        """A ring, or a disc."""
        ring = {"cx": centre[0], "cy": centre[1], "r": radius}
        self._add("circle", {**ring, **_stroke(stroke, width, fill)})

    def path(
        self,
        pieces: Iterable[Sequence[Point]],
        stroke: str = INK,
        width: float = 1.0,
        *,
        dash: str = "",
        fill: str = "none",
        closed: bool = False,
        name: str = "",
    ) -> None:
        """Lines through points, the pen lifted between pieces; nothing for no points.

        name : a class, by which it is found again.
        """
        d = _path(pieces, closed=closed)
        if not d:
            return
        more = {"stroke-linejoin": "round", "stroke-dasharray": dash, "class": name}
        given = {key: value for key, value in more.items() if value}
        self._add("path", {"d": d, **_stroke(stroke, width, fill), **given})

    def text(
        self,
        at: Point,
        words: str,
        size: float,
        *,
        anchor: str = "start",
        colour: str = INK,
        bold: bool = False,
        room: float | None = None,
    ) -> None:
        """Words on a base line; where they need more room than there is, shortened by an ellipsis.

        anchor : "start", "middle" or "end".
        """
        shown = clean(words) if room is None else fitted(clean(words), room, size, bold=bold)
        if not shown:
            return
        place = {"x": at[0], "y": at[1], "font-size": size}
        letters = {
            "text-anchor": anchor,
            "font-weight": "bold" if bold else "normal",
            "fill": colour,
        }
        self._add("text", {**place, **letters}).text = shown

    def put(self, picture: Drawing, at: Point) -> None:
        """Another picture as a part of this one, its upper left corner there."""
        part = copy.deepcopy(picture._root)
        size = {"width": number(picture.width), "height": number(picture.height)}
        part.attrib |= {"x": number(at[0]), "y": number(at[1])} | size
        self._root.append(part)

    def svg(self) -> str:
        """The picture's text."""
        return ElementTree.tostring(self._root, encoding="unicode", short_empty_elements=True)

    def _add(self, tag: str, attributes: Mapping[str, str | float]) -> ElementTree.Element:
        given = {
            name: value if isinstance(value, str) else number(value)
            for name, value in attributes.items()
        }
        return ElementTree.SubElement(self._root, tag, given)


def number(value: float) -> str:
    """To a hundredth of a point, without zeros that say nothing."""
    return f"{value:.2f}".rstrip("0").rstrip(".").replace("-0", "0" if abs(value) < 0.005 else "-0")


def clean(text: str) -> str:
    """Text on one line, without what is no printable letter: XML knows no control characters, and
    no name may turn the writing round."""
    return "".join(letter if letter.isprintable() else " " for letter in text)


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """About how wide a text is set, points; rather too wide than too narrow."""
    wide = sum(_letter_width(letter) for letter in text)
    return wide * size * (1.07 if bold else 1.0)


def fitted(text: str, room: float, size: float, *, bold: bool = False) -> str:
    """The text, or as much of its beginning as there is room for, with an ellipsis."""
    if text_width(text, size, bold=bold) <= room:
        return text
    left = text
    while left and text_width(left + ELLIPSIS, size, bold=bold) > room:
        left = left[:-1]
    return f"{left.rstrip()}{ELLIPSIS}" if left.strip() else ""


def _letter_width(letter: str) -> float:
    if unicodedata.combining(letter):
        return 0.0
    if unicodedata.east_asian_width(letter) in "WF":
        return 1.0
    if letter in " .,:;'|!iljt()[]":
        return 0.31
    if letter in "mwMW—%@":
        return 0.88
    return 0.66 if letter.isupper() else 0.52


def _stroke(colour: str, width: float, fill: str = "none") -> dict[str, str | float]:
    return {"fill": fill, "stroke": colour, "stroke-width": width}


def _path(pieces: Iterable[Sequence[Point]], *, closed: bool) -> str:
    parts = []
    for piece in pieces:
        if len(piece) < 2:
            continue
        steps = "L".join(f"{number(x)} {number(y)}" for x, y in piece)
        parts.append(f"M{steps}{'Z' if closed else ''}")
    return "".join(parts)
