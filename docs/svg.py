"""A drawing in SVG for the pictures of the code: boxes, words, arrows, and a colour a package."""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from xml.sax.saxutils import escape

from tests.guards.house import House

WIDTH = 1200
MARGIN = 24.0
FONT = "font-family=\"'DejaVu Sans', Verdana, 'Segoe UI', sans-serif\""
INK, MUTED, PAPER = "#1d2733", "#5b6775", "#ffffff"
COLOURS = {
    "bandwright": ("#f3f4f6", "#6b7280"),
    "dashboard": ("#eef4ff", "#3565b5"),
    "replay": ("#f6f0fb", "#8250b0"),
    "acceptance": ("#edf8f0", "#2b8050"),
    "calibration": ("#fff6e6", "#b06f10"),
    "acquire": ("#fdeeee", "#b64444"),
}
"""Of each package: its floor, and its lines."""


@dataclass
class Svg:
    """A drawing that grows: elements in order."""

    parts: list[str] = field(default_factory=list)

    def rect(
        self, x: float, y: float, w: float, h: float, *, fill: str, line: str = "none",
        radius: float = 6, dash: str = "",
    ) -> None:  # fmt: skip
        """A box."""
        extra = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}" rx="{radius:g}" '
            f'fill="{fill}" stroke="{line}"{extra}/>'
        )

    def text(
        self, x: float, y: float, words: str, size: float = 13, *, fill: str = INK,
        anchor: str = "start", weight: str = "normal",
    ) -> None:  # fmt: skip
        """Words at a base line."""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" fill="{fill}" '
            f'text-anchor="{anchor}" font-weight="{weight}">{escape(words)}</text>'
        )

    def path(self, d: str, line: str, width: float, *, head: bool = False, dash: str = "") -> None:
        """A line, with a head where it is an arrow."""
        extra = f' marker-end="url(#head-{line[1:]})"' if head else ""
        extra += f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<path d="{d}" fill="none" stroke="{line}" stroke-width="{width:.2f}"{extra}/>'
        )

    def whole(self, height: float, title: str) -> str:
        """The file."""
        heads = "".join(
            f'<marker id="head-{line[1:]}" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" '
            f'markerHeight="7" markerUnits="userSpaceOnUse" orient="auto">'
            f'<path d="M0 0.8 L7.5 4 L0 7.2 Z" fill="{line}"/></marker>\n'
            for line in [INK, MUTED, *(each for _, each in COLOURS.values())]
        )
        body = "\n".join(self.parts)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" '
            f'width="{WIDTH}" height="{height:.0f}" role="img" {FONT}>\n'
            f"<title>{escape(title)}</title>\n<defs>\n{heads}</defs>\n"
            f'<rect width="{WIDTH}" height="{height:.0f}" fill="{PAPER}"/>\n{body}\n</svg>\n'
        )


def text_width(words: str, size: float) -> float:
    """About how wide words are, on the safe side: 0.64 of their size a letter."""
    return 0.64 * size * len(words)


def summary(house: House, name: str) -> str:
    """The first sentence of a module's own words."""
    tree = house.trees.get(name)
    text = ("" if tree is None else ast.get_docstring(tree) or "").split("\n\n")[0]
    return " ".join(text.split())


def wrapped(words: str, most: int) -> list[str]:
    """Words in two lines of so many letters at most; what is too much ends in dots."""
    lines = [""]
    for word in words.split():
        if len(lines[-1]) + len(word) + 1 > most and lines[-1]:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    if len(lines) > 2:
        lines[1] = lines[1][: most - 2].rstrip(" ,;:") + " …"
    return lines
