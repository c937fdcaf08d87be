"""Charts in letters: each point at its place, each word beside its line."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from dashboard.terminal.text_chart import PLAIN, Chart, ends_of, numbered


def test_a_chart_is_drawn_letter_by_letter() -> None:
    chart = Chart((0.0, 4.0), (0.0, 5.0), 8, 5, PLAIN)
    chart.level(4.5, PLAIN.limit, "4.5")
    chart.level(0.5, PLAIN.limit, "0.5")
    chart.level(2.5, PLAIN.centre, "2.5")
    chart.point(0.25, 1.5)
    chart.point(1.25, 2.5)
    chart.point(3.25, 9.9, marked=True)
    chart.point(3.25, 4.9)  # does not cover the marked one
    assert chart.lines() == [
        "4.5 |......#.",
        "    |",
        "2.5 |--o-----",
        "    |o",
        "0.5 |........",
    ]
    assert chart.indent == 5


def test_a_curve_stands_behind_the_points() -> None:
    chart = Chart((0.0, 4.0), (0.0, 4.0), 4, 4, PLAIN)
    chart.point(2.5, 2.5)
    chart.curve(lambda x: x)
    chart.beside(3.5, "top")
    chart.beside(3.5, "not this")
    assert chart.lines() == ["top |   '", "    |  o", "    | '", "    |'"]


def test_letters_of_several_are_told_apart_and_where_they_meet_none_is() -> None:
    chart = Chart((0.0, 6.0), (-30.0, 0.0), 6, 3, PLAIN)
    chart.stretch(1.0, 3.9, -15.0, PLAIN.limit)
    chart.stretch(7.0, 9.0, -15.0, PLAIN.limit)
    for x in range(6):
        chart.letter(x + 0.5, -5.0 * x - 2, "A")
        chart.letter(x + 0.5, -15.0, "B")
        chart.letter(x + 0.5, -15.0, "B")
    assert chart.lines() == [" |AA", " |BB**BB", " |    AA"]


def test_points_are_counted_below_their_places() -> None:
    assert numbered(12, 24) == "1       5         10  12"
    assert numbered(1, 3) == "1"
    assert numbered(3, 9) == "1     3"


@given(
    st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=30),
    st.integers(1, 70),
    st.integers(1, 20),
)
def test_nothing_is_drawn_beside_the_chart(values: list[float], width: int, height: int) -> None:
    ends = ends_of(values)
    assert ends[0] < min(values) <= max(values) < ends[1]
    chart = Chart((0.0, float(len(values))), ends, width, height, PLAIN)
    for n, value in enumerate(values):
        chart.point(n + 0.25, value)
    lines = chart.lines()
    assert len(lines) == height
    assert max(map(len, lines)) <= width + 2
    assert len(numbered(len(values), width)) <= width + 2


def test_a_point_far_beyond_a_scale_of_no_width_stands_at_its_end() -> None:
    chart = Chart((0.0, 1.0), (0.0, 5e-324), 3, 2, PLAIN)
    chart.point(0.5, 1.0)
    assert chart.lines() == [" | o", " |"]
