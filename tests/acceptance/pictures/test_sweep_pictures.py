"""Pictures hold what was measured: it is read back from the SVG alone."""

from __future__ import annotations

import dataclasses
import re
from xml.etree import ElementTree

import numpy as np
import pytest

from acceptance.limits.decision import State
from acceptance.limits.match import return_loss_db
from acceptance.pictures.axes import round_ticks, stretches
from acceptance.pictures.svg_drawing import Drawing, fitted, text_width
from acceptance.pictures.sweep_pictures import Trace, by_name, mark, overview, strip
from acceptance.record.examination import examine
from tests.acceptance.made import accepted, wide

SVG = "{http://www.w3.org/2000/svg}"


def points(svg: str, name: str) -> np.ndarray:
    """Every corner of the paths of one class, shape (points, 2)."""
    root = ElementTree.fromstring(svg)
    found = [
        (float(x), float(y))
        for path in root.iter(f"{SVG}path")
        if path.get("class") == name
        for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d", ""))
    ]
    return np.array(found)


def words(svg: str) -> list[str]:
    return [each.text or "" for each in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def axis(svg: str, figures: tuple[str, str], along: str) -> tuple[float, float, float, float]:
    """Two of an axis' figures and where they stand: value, place, value, place."""
    root = ElementTree.fromstring(svg)
    there = {each.text: float(each.get(along, "nan")) for each in root.iter(f"{SVG}text")}
    one, other = figures
    return float(one), there[one], float(other), there[other]


def test_a_curve_in_the_overview_lies_where_the_axes_say_it_was_read() -> None:
    look = examine(accepted()).conditions[0]
    svg = overview(540, 130, [Trace.of(look.corrected, look.interval)], look.verdict.bands).svg()
    drawn = points(svg, "curve")
    f0, x0, f1, x1 = axis(svg, ("760", "880"), "x")
    frequency = (f0 + (drawn[:, 0] - x0) / (x1 - x0) * (f1 - f0)) * 1e6
    db0, y0, db1, y1 = axis(svg, ("0", "30"), "y")
    level = db0 + (drawn[:, 1] - (y0 - 2.4)) / (y1 - y0) * (db1 - db0)
    read = return_loss_db(np.abs(look.corrected.reflection))
    expected = np.interp(frequency, look.corrected.frequency_hz, read)
    assert drawn.shape[0] == look.corrected.points
    np.testing.assert_allclose(level, np.minimum(expected, 36), atol=0.1)


def test_the_reach_is_drawn_round_the_curve() -> None:
    look = examine(accepted()).conditions[0]
    svg = strip(150, 84, [Trace.of(look.corrected, look.interval)], look.verdict.bands).svg()
    curve, reach = points(svg, "curve"), points(svg, "reach")
    for x, y in curve[::5]:
        near = reach[np.abs(reach[:, 0] - x) < 0.02][:, 1]
        assert near.min() <= y <= near.max()


def test_what_was_not_swept_is_not_joined_by_a_line() -> None:
    f = np.concatenate([np.linspace(700e6, 800e6, 51), np.linspace(1700e6, 1800e6, 51)])
    svg = overview(540, 130, [Trace("", f, np.full(f.size, 0.5 + 0j))], []).svg()
    root = ElementTree.fromstring(svg)
    (curve,) = [each for each in root.iter(f"{SVG}path") if each.get("class") == "curve"]
    assert curve.get("d", "").count("M") == 2


def test_each_state_has_a_shape_that_needs_no_colour() -> None:
    drawn = {}
    for state in State:
        picture = Drawing(10, 10, "mark")
        mark(picture, (5, 5), 4, state)
        (path,) = ElementTree.fromstring(picture.svg()).iter(f"{SVG}path")
        drawn[state] = (path.get("d"), path.get("fill") == "#ffffff")
    assert len(set(drawn.values())) == len(State)


def test_a_strip_names_its_band_and_its_edges() -> None:
    look = examine(accepted()).conditions[0]
    (group,) = by_name(look.verdict.bands)
    svg = strip(150, 84, [Trace.of(look.corrected)], group).svg()
    assert "LTE 20" in words(svg)
    assert {"791", "862"} <= set(words(svg))
    assert ElementTree.fromstring(svg).findtext(f"{SVG}title") == "LTE 20: pass"


def test_a_worst_point_beyond_the_floor_has_an_arrow_to_where_it_was_read() -> None:
    look = examine(accepted()).conditions[0]
    band = look.verdict.bands[0]
    assert points(strip(150, 84, [Trace.of(look.corrected)], [band]).svg(), "better").size == 0
    deep = dataclasses.replace(band, better_than_db=20.0)
    arrow = points(strip(150, 84, [Trace.of(look.corrected)], [deep]).svg(), "better")
    assert arrow[1, 1] > arrow[0, 1]  # downwards
    assert arrow[:, 1].max() < 84


def test_a_name_is_never_markup_and_never_wider_than_its_room() -> None:
    picture = Drawing(100, 20, "<script>")
    picture.text((0, 10), "<b>&\u202e\x1b[31m" + "W" * 300, 8, room=60)
    (text,) = words(picture.svg())
    assert text.startswith("<b>&")
    assert text.endswith("…")
    assert text_width(text, 8) <= 60
    assert "\u202e" not in picture.svg()
    assert "<script>" not in picture.svg()


@pytest.mark.parametrize("room", [0.0, 3.0])
def test_where_there_is_no_room_nothing_is_written(room: float) -> None:
    assert fitted("weir-3", room, 8) == ""


def test_ticks_are_round_and_inside() -> None:
    assert round_ticks(757, 863, 6) == [760, 780, 800, 820, 840, 860]
    assert round_ticks(600, 2700, 9) == [1000, 1500, 2000, 2500]


def test_links_far_apart_stand_in_two_stretches() -> None:
    assert len(stretches([(1710e6, 1785e6), (2110e6, 2170e6)])) == 2
    assert len(stretches([(791e6, 821e6), (832e6, 862e6)])) == 1


def test_the_names_of_curves_stand_one_after_another() -> None:
    look = examine(accepted()).conditions[0]
    traces = [Trace.of(look.corrected, label=label) for label in ("A", "B")]
    root = ElementTree.fromstring(overview(540, 130, traces, []).svg())
    at = {each.text: float(each.get("x", "nan")) for each in root.iter(f"{SVG}text")}
    assert 20 < at["B"] - at["A"] < 50


def test_the_other_conditions_are_dashed() -> None:
    examined = examine(wide(3))
    traces = [Trace.of(each.corrected, label=each.condition.label) for each in examined.conditions]
    svg = overview(540, 130, traces, examined.conditions[0].verdict.bands).svg()
    curves = [
        each.get("stroke-dasharray")
        for each in ElementTree.fromstring(svg).iter(f"{SVG}path")
        if each.get("class") == "curve"
    ]
    assert len(set(curves)) == len(traces)
    assert "in its enclosure" in words(svg)
