"""Draw the house from the code's own imports, as docs/pictures/house.svg: `make pictures`.

The rooms of every package, and what they import of each other. An arrow that a longer way of
arrows says already is left out; `python tests/guards/house.py` prints them all.
"""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

TOP = Path(__file__).parents[1]
sys.path.insert(0, str(TOP))

from docs.layered_layout import Edge, Layout, essential, laid_out, without_circles  # noqa: E402
from docs.svg import COLOURS, MARGIN, MUTED, PAPER, WIDTH, Svg, summary, text_width, wrapped  # noqa: E402
from tests.guards.house import House  # noqa: E402

BOX, LAYER, HEAD, FOOT = 30.0, 60.0, 66.0, 20.0
"""Heights of a room, from layer to layer of rooms, of a package's title and of its foot, px."""
GAP = 16.0
"""Between two packages, px."""
HALF = (WIDTH - 2 * MARGIN - GAP) / 2
"""Width of a package, px."""
BETWEEN = "between the packages"
FLOORS = ((("dashboard", "replay"), ("acceptance",)), (("calibration",), ("acquire", BETWEEN)))
"""What stands left and right on each floor, from the top down."""


@dataclass(frozen=True)
class Storey:
    """A panel of the picture: rooms, what of their arrows is drawn, and where."""

    title: str
    words: str
    summary: str
    labels: dict[str, tuple[str, str]]
    """To each room its name, and how much is in it."""
    colours: dict[str, tuple[str, str]]
    """To each room what it is filled with and drawn in; the panel's own under its title."""
    purposes: dict[str, str]
    """To each room its own first sentence."""
    counts: Counter[Edge]
    widths: dict[str, float]
    layout: Layout

    @property
    def height(self) -> float:
        """What the panel needs, px."""
        return HEAD + LAYER * (len(self.layout.layers) - 1) + BOX + FOOT


def house_svg(house: House) -> str:
    """The rooms of every package, from the top of the house to its ground."""
    svg = Svg()
    svg.text(MARGIN, 36, "The house", 22, weight="bold")
    for at, words in enumerate(
        (
            "A box is a room: a module, or a folder and how many modules it holds. An arrow leads "
            "to what a room imports; its number says how many",
            "imports that is. An arrow that a longer way already says is left out. Nothing leads "
            "up: neither within a package, nor from one to another.",
        )
    ):
        svg.text(MARGIN, 58 + 17 * at, words, 12.5, fill=MUTED)
    y = 92.0
    faces = [each for each in house.packages if not any(each in c for f in FLOORS for c in f)]
    for face in faces:
        floor, line = COLOURS[face]
        svg.rect(MARGIN, y, WIDTH - 2 * MARGIN, 40, fill=floor, radius=10)
        svg.text(MARGIN + 16, y + 26, face, 17, fill=line, weight="bold")
        svg.text(MARGIN + 32 + text_width(face, 17), y + 26, summary(house, face), 12.5)
        y += 40 + GAP
    for floor_ in FLOORS:
        columns = [
            [_between(house) if each == BETWEEN else _storey(house, each) for each in column]
            for column in floor_
        ]
        needed = [sum(each.height for each in c) + GAP * (len(c) - 1) for c in columns]
        for at, column in enumerate(columns):
            top = y
            for storey in column:
                spare = max(needed) - needed[at] if storey is column[-1] else 0.0
                _draw(svg, storey, MARGIN + at * (HALF + GAP), top, storey.height + spare)
                top += storey.height + GAP
        y += max(needed) + GAP
    return svg.whole(y + 8, "The rooms of the house and what they import of each other")


def _storey(house: House, package: str) -> Storey:
    nodes = house.rooms(package)
    counts = house.arrows(package)
    edges = essential(nodes, without_circles(nodes, list(counts)))
    labels = {room: _label(house, room) for room in nodes}
    widths = {room: max(74.0, text_width(labels[room][0], 12) + 18) for room in nodes}
    return Storey(
        package,
        summary(house, package).rstrip("."),
        f"{len(nodes)} rooms, {len(counts)} arrows, {len(house.modules(package))} modules",
        labels,
        {package: COLOURS[package]} | dict.fromkeys(nodes, (PAPER, COLOURS[package][1])),
        {room: summary(house, room).rstrip(".") for room in nodes},
        counts,
        widths,
        laid_out(nodes, edges, widths, HALF - 32, 12),
    )


def _between(house: House) -> Storey:
    nodes = [each for each in house.packages if any(each in c for f in FLOORS for c in f)]
    counts = Counter({pair: n for pair, n in house.between().items() if set(pair) <= set(nodes)})
    widths = dict.fromkeys(nodes, 112.0)
    return Storey(
        BETWEEN,
        "",
        f"{sum(counts.values())} imports",
        {each: (each, f"{len(house.modules(each))} modules") for each in nodes},
        {BETWEEN: ("#f3f4f6", MUTED)} | {each: COLOURS[each] for each in nodes},
        {},
        counts,
        widths,
        laid_out(nodes, sorted(counts), widths, HALF - 32, 30),
    )


def _draw(svg: Svg, storey: Storey, left: float, y: float, height: float) -> None:
    floor, line = storey.colours[storey.title]
    layout, widths = storey.layout, storey.widths
    svg.rect(left, y, HALF, height, fill=floor, radius=10)
    svg.text(left + 16, y + 26, storey.title, 17, fill=line, weight="bold")
    svg.text(left + HALF - 16, y + 26, storey.summary, 11.5, fill=MUTED, anchor="end")
    svg.text(left + 16, y + 45, storey.words, 11.5)
    row = {name: at for at, layer in enumerate(layout.layers) for name in layer}
    spread = LAYER + min(14.0, (height - storey.height) / max(1, len(layout.layers) - 1))
    top = {name: y + HEAD + spread * at for name, at in row.items()}
    taken: list[tuple[float, float, float]] = []
    ports = _ports(layout, widths)
    for edge, chain in layout.chains.items():
        points = _points(chain, layout, top, left + 16, ports[edge])
        ink = storey.colours[edge[0]][1]
        svg.path(_curve(points), ink, 1 + 0.3 * min(9, storey.counts[edge]) ** 0.5, head=True)
        wide = text_width(str(storey.counts[edge]), 10) + 6
        taken.append((*_free(points, taken, wide), wide))
    for name, (words, below) in storey.labels.items():
        x, at = left + 16 + layout.x[name], top[name]
        fill, ink = storey.colours[name]
        svg.rect(x - widths[name] / 2, at, widths[name], BOX, fill=fill, line=ink)
        svg.text(x, at + (14 if below else 19), words, 12, anchor="middle")
        if below:
            svg.text(x, at + 25, below, 9, fill=MUTED, anchor="middle")
        if layout.layers[row[name]] == [name] and storey.purposes.get(name):
            # nothing stands or passes beside it: there is room to say what it is for
            beside = x + widths[name] / 2 + 10
            lines = wrapped(storey.purposes[name], int((left + HALF - 12 - beside) / 6.4))
            for line_at, part in enumerate(lines[:2]):
                offset = 19 if len(lines) == 1 else 13 + 13 * line_at
                svg.text(beside, at + offset, part, 10, fill=MUTED)
    for edge, (x, at, wide) in zip(layout.chains, taken, strict=True):
        svg.rect(x - wide / 2, at - 7, wide, 14, fill=floor, radius=7)
        ink = storey.colours[edge[0]][1]
        svg.text(x, at + 3.5, str(storey.counts[edge]), 10, fill=ink, anchor="middle")


def _label(house: House, room: str) -> tuple[str, str]:
    modules = house.modules(room)
    short = room.rpartition(".")[2]
    if house.files.get(room) is not None and house.files[room].name != "__init__.py":
        return short, ""
    return short, f"{len(modules)} modules" if len(modules) != 1 else "1 module"


def _ports(layout: Layout, widths: dict[str, float]) -> dict[tuple[str, str], tuple[float, float]]:
    """How far from its boxes' middles every arrow leaves and arrives: no two at one place."""
    starts: dict[str, list[tuple[float, tuple[str, str]]]] = {}
    ends: dict[str, list[tuple[float, tuple[str, str]]]] = {}
    for edge, chain in layout.chains.items():
        starts.setdefault(chain[0], []).append((layout.x[chain[1]], edge))
        ends.setdefault(chain[-1], []).append((layout.x[chain[-2]], edge))
    place: list[dict[tuple[str, str], float]] = []
    for side in (starts, ends):
        found = {}
        for name, edges in side.items():
            step = min(16.0, (widths[name] - 20) / max(1, len(edges) - 1))
            for at, (_, edge) in enumerate(sorted(edges)):
                found[edge] = (at - (len(edges) - 1) / 2) * step
        place.append(found)
    return {edge: (place[0][edge], place[1][edge]) for edge in layout.chains}


def _points(
    chain: list[str], layout: Layout, top: dict[str, float], left: float,
    port: tuple[float, float],
) -> list[tuple[float, float]]:  # fmt: skip
    """Through where an arrow runs: down from its box, straight past each layer, onto its target."""
    points = [(left + layout.x[chain[0]] + port[0], top[chain[0]] + BOX)]
    for name in chain[1:-1]:
        points += [(left + layout.x[name], top[name]), (left + layout.x[name], top[name] + BOX)]
    return [*points, (left + layout.x[chain[-1]] + port[1], top[chain[-1]] - 1)]


def _curve(points: list[tuple[float, float]]) -> str:
    d = f"M{points[0][0]:.1f} {points[0][1]:.1f}"
    for (x, y), (to_x, to_y) in pairwise(points):
        if abs(to_x - x) < 0.05:
            d += f" L{to_x:.1f} {to_y:.1f}"
        else:
            middle = (y + to_y) / 2
            d += f" C{x:.1f} {middle:.1f} {to_x:.1f} {middle:.1f} {to_x:.1f} {to_y:.1f}"
    return d


def _free(
    points: list[tuple[float, float]], taken: list[tuple[float, float, float]], width: float
) -> tuple[float, float]:
    """A place on an arrow for its number, clear of the numbers that are there."""
    best = (-1.0, points[0])
    for at in range(0, len(points) - 1, 2):
        (x, y), (to_x, to_y) = points[at], points[at + 1]
        for t in (0.5, 0.4, 0.6, 0.3, 0.7, 0.22, 0.78):
            place = _on_curve(x, y, to_x, to_y, t)
            room = min(
                (max(abs(place[0] - a) - (width + w) / 2, abs(place[1] - b) - 15)
                 for a, b, w in taken), default=99.0)  # fmt: skip
            if room > 1:
                return place
            best = max(best, (room, place))
    return best[1]


def _on_curve(x: float, y: float, to_x: float, to_y: float, t: float) -> tuple[float, float]:
    middle, u = (y + to_y) / 2, 1 - t
    down = u**3 * y + 3 * u * t * middle + t**3 * to_y
    return (u**3 + 3 * u * u * t) * x + (3 * u * t * t + t**3) * to_x, down


if __name__ == "__main__":
    (TOP / "docs" / "pictures" / "house.svg").write_text(house_svg(House()), encoding="utf-8")
    print("docs/pictures/house.svg")
