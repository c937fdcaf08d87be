"""Lanes: each mark stands where its value lies."""

from __future__ import annotations

from hypothesis import example, given
from hypothesis import strategies as st

from dashboard.terminal.text_scale import FULL, PLAIN, Scale


def test_a_mark_stands_where_its_value_lies() -> None:
    scale = Scale(0.0, 10.0, 10, PLAIN)
    assert scale.line([3.5]) == "   o"
    assert scale.line([3.5, 3.6, 9.0]) == "   #     o"
    assert scale.line([-1.0, 11.0]) == "<        >"
    assert scale.line([7.0], centre=5.0, limits=(2.0, 8.0)) == "  |  : o|"
    assert scale.line([5.1], centre=5.0) == "     o"
    assert scale.stretch(2.0, 4.5) == "  ==="
    assert scale.stretch(-5.0, 1.0) == "=="
    assert scale.stretch(12.0, 14.0) == ""
    assert scale.ruler("0", "mm", "10") == "0   mm  10"
    assert scale.ruler("0", "far too long", "10") == "0       10"


@given(
    st.lists(st.floats(-1e9, 1e9), max_size=12),
    st.floats(-1e9, 1e9),
    st.floats(0, 1e9),
    st.integers(1, 80),
)
@example([1.0], 0.0, 5e-324, 1)
def test_a_lane_is_never_wider_than_its_scale(
    values: list[float], low: float, span: float, width: int
) -> None:
    scale = Scale(low, low + span, width, FULL)
    assert len(scale.line(values, centre=low, limits=(low, low + span))) <= width
    order = sorted(values)
    assert [scale.at(each) for each in order] == sorted(scale.at(each) for each in order)
