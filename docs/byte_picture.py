"""Draw a byte's way from the serial port to a mark, as docs/pictures/byte.svg: `make pictures`.

The way leads along the code's own imports, from way-point to way-point. A way-point that is gone,
or that no import leads to any longer, is an error: then say here where the way leads now.
"""

from __future__ import annotations

import re
import sys
from collections import deque
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

TOP = Path(__file__).parents[1]
sys.path.insert(0, str(TOP))

from docs.svg import COLOURS, INK, MARGIN, MUTED, PAPER, WIDTH, Svg, summary, wrapped  # noqa: E402
from tests.guards.house import House  # noqa: E402

WAY = (
    ("acquire", "SerialTransport", "bytes leave the operating system's port"),
    ("acquire", "Line", "one function takes them, up to the reply's end"),
    ("acquire", "ScpiDialect", "the reply is held against what was asked: a Reading"),
    ("acquire", "Analyzer", "passes are joined and stamped: a Sweep"),
    ("acquire", "Stream", "a thread sweeps without end, the newest first"),
    ("dashboard", "Bench", "a moment is made of every sweep"),
    ("calibration", "Calibration", "the error terms are taken out"),
    ("acceptance", "CorrectedReading", "moved to its plane, with what can be wrong with it there"),
    ("acceptance", "judge", "each band: value, interval, state"),
    ("dashboard", "Snapshot", "curve, strips and sentence of one moment"),
    ("dashboard", "Encoder", "one binary frame for each viewer"),
)
"""Way-points of a byte: package, the class or function that its module defines, what happens."""
SCRIPTS = (
    ("frame.js", "the page takes the frame apart"),
    ("feed.js", "it follows the feed, and draws when it can"),
    ("main.js", "every part is shown its share"),
    ("strips.js", "one band large, and all links"),
    ("lines.js", "each link a line, the worst first"),
    ("marks.js", "the mark: a shape and a word"),
)
"""Scripts of the page, after the socket; each must import, or be imported by, the one before."""


@dataclass(frozen=True)
class Stop:
    """One module on the way."""

    name: str
    what: str
    """What happens there; the module's own first sentence where it only lies on the way."""
    way_point: bool
    up: bool
    """True where it imports the stop before; False where the stop before imports it."""


def stops_of(house: House) -> list[Stop]:
    """The shortest way along imports, in either direction, from way-point to way-point.

    Raises LookupError where a way-point is not there, or no way leads on.
    """
    points = [house.defining(package, symbol) for package, symbol, _ in WAY]
    beside: dict[str, set[str]] = {name: set() for name in house.files}
    for name, targets in house.imports.items():
        for target in targets:
            beside[name].add(target)
            beside[target].add(name)
    stops = [Stop(points[0], WAY[0][2], way_point=True, up=True)]
    for (before, after), (_, symbol, what) in zip(pairwise(points), WAY[1:], strict=True):
        way = _shortest(beside, before, after)
        if not way:
            raise LookupError(f"No import leads from {before} to {symbol} in {after}.")
        for one, two in pairwise(way):
            reached = two == after
            stops.append(
                Stop(two, what if reached else summary(house, two), way_point=reached,
                     up=one in house.imports[two]))  # fmt: skip
    return stops


def _shortest(beside: dict[str, set[str]], start: str, end: str) -> list[str]:
    came = {start: ""}
    queue = deque([start])
    while queue and end not in came:
        name = queue.popleft()
        for each in sorted(beside[name], key=lambda each: (-_shared(each, end), each)):
            if each not in came:
                came[each] = name
                queue.append(each)
    way = [end] if end in came else []
    while way and way[0] != start:
        way.insert(0, came[way[0]])
    return way


def scripts_of(house: House) -> list[Stop]:
    """The page's scripts on the way; raises LookupError where one is gone, or is not joined."""
    folders = [path.parent for path in sorted((house.top / "dashboard").rglob("frame.js"))]
    if not folders:
        raise LookupError("frame.js is nowhere below dashboard.")
    folder = folders[0]
    imported = {}
    for script, _ in SCRIPTS:
        if not (folder / script).exists():
            raise LookupError(f"{script} is not in {folder.relative_to(house.top)}.")
        text = (folder / script).read_text(encoding="utf-8")
        imported[script] = set(re.findall(r'from "\./([\w.]+)"', text))
    place = ".".join(folder.relative_to(house.top).parts)
    stops = [Stop(f"{place}.{SCRIPTS[0][0]}", SCRIPTS[0][1], way_point=True, up=True)]
    for (one, _), (two, what) in pairwise(SCRIPTS):
        if one not in imported[two] and two not in imported[one]:
            raise LookupError(f"No import joins {one} and {two}.")
        stops.append(Stop(f"{place}.{two}", what, way_point=True, up=one in imported[two]))
    return stops


def _shared(one: str, two: str) -> int:
    """How many folders two modules share: of two ways equally long, the one near the goal."""
    return next(
        (
            at
            for at, (a, b) in enumerate(zip(one.split("."), two.split("."), strict=False))
            if a != b
        ),
        min(one.count("."), two.count(".")) + 1,
    )


ACROSS, CARD, TALL, STEP = 4, 252.0, 82.0, 122.0
"""Cards a row, a card's width and height, and from row to row, px."""


def byte_svg(house: House) -> str:
    """The way as a walk: left to right, then right to left."""
    svg = Svg()
    code, page = stops_of(house), scripts_of(house)
    svg.text(MARGIN, 36, "A byte's way to a mark", 22, weight="bold")
    for at, words in enumerate(
        (
            "From the serial port to the mark of a band on the page. A full arrow: the module "
            "imports the one before it. A dashed arrow: the one before",
            "imports it, and hands the value down. Dashed cards only lie between two steps.",
        )
    ):
        svg.text(MARGIN, 58 + 17 * at, words, 12.5, fill=MUTED)
    gap = (WIDTH - 2 * MARGIN - ACROSS * CARD) / (ACROSS - 1)
    stops = [*code, *page]
    for number, stop in enumerate(stops):
        row, column = divmod(number, ACROSS)
        at = column if row % 2 == 0 else ACROSS - 1 - column
        x, y = MARGIN + at * (CARD + gap), 98 + row * STEP
        _card(svg, stop, number + 1, x, y)
        if number + 1 < len(stops):
            socket = number + 1 == len(code)
            _step(svg, stops[number + 1], (x, y), gap, (row, column), socket=socket)
    rows = (len(stops) - 1) // ACROSS + 1
    return svg.whole(98 + rows * STEP - (STEP - TALL) + 24, "The modules a byte passes to a mark")


def _card(svg: Svg, stop: Stop, number: int, x: float, y: float) -> None:
    package = stop.name.split(".")[0]
    floor, line = COLOURS[package]
    svg.rect(
        x, y, CARD, TALL, fill=floor if stop.way_point else PAPER, line=line,
        dash="" if stop.way_point else "4 3",
    )  # fmt: skip
    script = stop.name.endswith(".js")
    parts = stop.name.split(".")
    own = ".".join(parts[-2:]) if script else parts[-1]
    where = ".".join(parts[:-2] if script else parts[:-1])
    svg.text(x + 12, y + 18, where, 10.5, fill=line)
    svg.text(x + CARD - 12, y + 18, str(number), 10.5, fill=line, anchor="end")
    svg.text(x + 12, y + 37, own, 14, weight="bold")
    for at, words in enumerate(wrapped(stop.what, 38)[:2]):
        svg.text(x + 12, y + 55 + 15 * at, words, 10.5, fill=INK if stop.way_point else MUTED)


def _step(
    svg: Svg,
    to: Stop,
    corner: tuple[float, float],
    gap: float,
    place: tuple[int, int],
    *,
    socket: bool,
) -> None:
    (x, y), (row, column) = corner, place
    dash = "2 3" if socket else "" if to.up else "6 4"
    if column == ACROSS - 1:
        middle = x + CARD / 2
        d = f"M{middle:.1f} {y + TALL:.1f} V{y + STEP - 2:.1f}"
        words_at = (middle + 8, y + TALL + 24)
    elif row % 2 == 0:
        d = f"M{x + CARD:.1f} {y + TALL / 2:.1f} H{x + CARD + gap - 2:.1f}"
        words_at = (x + CARD + 6, y + TALL / 2 - 8)
    else:
        d = f"M{x:.1f} {y + TALL / 2:.1f} H{x - gap + 2:.1f}"
        words_at = (x - gap + 6, y + TALL / 2 - 8)
    svg.path(d, INK, 1.6, head=True, dash=dash)
    if socket:
        svg.text(*words_at, "socket", 10, fill=MUTED)


if __name__ == "__main__":
    (TOP / "docs" / "pictures" / "byte.svg").write_text(byte_svg(House()), encoding="utf-8")
    print("docs/pictures/byte.svg")
