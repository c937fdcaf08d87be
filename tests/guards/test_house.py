"""The house stays one that a stranger can live in: few rooms side by side, and no circles."""

from __future__ import annotations

import ast
import textwrap
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from docs.byte_picture import byte_svg
from docs.house_picture import house_svg
from docs.layered_layout import essential, laid_out, without_circles
from tests.guards.house import HOUSE, TOP, House, as_graph, circles

SIDE_BY_SIDE = 16
"""Most modules and sub-packages in one folder: what an eye takes in."""
MAY_HOLD_MORE = ("commands", "assets")
"""One file a command, one a part of the page: a list, in which nobody searches."""
LINES = 400
"""Most lines of a module."""
ARROWS = {"acceptance": 60, "calibration": 60, "dashboard": 60, "replay": 20, "acquire": 30}
"""Most arrows between the rooms of a package; docs/decisions has how many there were."""


@pytest.mark.parametrize(
    "folder", [each for each in HOUSE.folders() if each.split(".")[-1] not in MAY_HOLD_MORE]
)
def test_a_folder_holds_no_more_than_an_eye_takes_in(folder: str) -> None:
    assert len(HOUSE.rooms(folder)) <= SIDE_BY_SIDE, HOUSE.rooms(folder)


def test_a_module_is_short_enough_to_be_read() -> None:
    assert {name: lines for name, lines in HOUSE.lines.items() if lines > LINES} == {}


def test_no_module_imports_in_a_circle() -> None:
    assert circles(HOUSE.imports) == []


@pytest.mark.parametrize("folder", HOUSE.folders())
def test_no_room_imports_in_a_circle(folder: str) -> None:
    assert circles(as_graph(HOUSE.arrows(folder))) == []


@pytest.mark.parametrize("package", ARROWS)
def test_the_arrows_between_rooms_stay_few(package: str) -> None:
    arrows = HOUSE.arrows(package)
    assert len(arrows) <= ARROWS[package], sorted(arrows)


@pytest.mark.parametrize(
    ("name", "draw"), [("house.svg", house_svg), ("byte.svg", byte_svg)], ids=["house", "byte"]
)
def test_the_picture_shows_the_code_as_it_is(name: str, draw: Callable[[House], str]) -> None:
    kept = (TOP / "docs" / "pictures" / name).read_text(encoding="utf-8")
    assert kept == draw(HOUSE), "run `make pictures`"


def test_every_arrow_of_a_picture_leads_down_and_none_is_said_twice() -> None:
    nodes = ["a", "b", "c", "d"]
    edges = without_circles(nodes, [("a", "b"), ("b", "c"), ("a", "c"), ("c", "a"), ("d", "c")])
    assert ("c", "a") not in edges
    assert sorted(essential(nodes, edges)) == [("a", "b"), ("b", "c"), ("d", "c")]
    layout = laid_out(nodes, edges, dict.fromkeys(nodes, 40.0), 300.0, 10.0)
    row = {name: at for at, layer in enumerate(layout.layers) for name in layer}
    assert all(row[source] < row[target] for source, target in edges)
    for layer in layout.layers:
        places = [layout.x[name] for name in layer]
        assert all(right - left >= 20.0 for left, right in pairwise(places))


def made(top: Path, files: dict[str, str]) -> House:
    """A house of a few files."""
    for name, text in files.items():
        path = top / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(textwrap.dedent(text), encoding="utf-8")
    return House(top)


def test_the_guard_sees_an_import_wherever_it_stands(tmp_path: Path) -> None:
    house = made(
        tmp_path,
        {
            "acquire/__init__.py": "",
            "acquire/port/__init__.py": "",
            "acquire/port/line.py": "from . import speed\nfrom ..clock import Clock\n",
            "acquire/port/speed.py": "def f():\n    import acquire.clock\n",
            "acquire/clock.py": (
                "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n"
                "    from acquire.port import line\n"
            ),
        },
    )
    assert house.imports["acquire.port.line"] == {"acquire.port.speed", "acquire.clock"}
    assert house.imports["acquire.clock"] == {"acquire.port.line"}
    assert house.rooms("acquire") == ["acquire.clock", "acquire.port"]
    assert house.arrows("acquire") == {
        ("acquire.port", "acquire.clock"): 2,
        ("acquire.clock", "acquire.port"): 1,
    }
    assert circles(as_graph(house.arrows("acquire"))) == [["acquire.clock", "acquire.port"]]
    assert circles(house.imports) == [["acquire.clock", "acquire.port.line", "acquire.port.speed"]]


def test_the_guard_reads_every_file_of_the_house() -> None:
    assert len(HOUSE.files) > 200
    assert all(isinstance(tree, ast.Module) for tree in HOUSE.trees.values())
