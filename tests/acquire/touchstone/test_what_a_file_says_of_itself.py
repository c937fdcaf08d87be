"""At which plane a file says that it holds, and in which format its numbers look to be."""

from __future__ import annotations

import pytest

from acquire.errors import TouchstoneError
from acquire.sweep import Plane
from acquire.touchstone.reader import parse_touchstone
from acquire.touchstone.stated_plane import OWN_CORRECTION, stated_plane


@pytest.mark.parametrize(
    ("text", "name", "plane", "why"),
    [
        ("! plane: antenna\n", "a.s1p", Plane.ANTENNA, "line 1"),
        ("# Hz\n!Plane = RAW\n", "a.s1p", Plane.RAW, "line 2"),
        ("! raw S11\n", "a.s1p", Plane.RAW, "line 1"),
        ("! correction: off\n", "a.s1p", Plane.RAW, "line 1"),
        ("! without calibration\n", "a.s1p", Plane.RAW, "line 1"),
        ("# Hz\n1 2 3 ! uncorrected\n", "a.s1p", Plane.RAW, "line 2"),
        ("! raw S11\n! plane: connector\n", "raw-1.s1p", Plane.CONNECTOR, "line 2"),
        ("", "mast_RAW.s1p", Plane.RAW, "name"),
        ("", "raw-01.s1p", Plane.RAW, "name"),
        ("! strawberry, drawn\n", "strawberry.s1p", None, ""),
        ("! correction: on\n! plane: sloping\n", "a.s1p", None, ""),
    ],
)
def test_the_plane_that_a_file_states(text: str, name: str, plane: Plane | None, why: str) -> None:
    found = stated_plane(text.encode(), name)
    assert found.plane is plane
    assert why in found.why
    assert not found.analyzer_corrected


def test_an_analyzer_that_corrects_itself_is_known_by_our_own_comment() -> None:
    assert stated_plane(f"! plane: raw\n! {OWN_CORRECTION}\n".encode()).analyzer_corrected


def rows(*pairs: tuple[float, float]) -> str:
    return "".join(f"{900 + at} {a} {b}\n" for at, (a, b) in enumerate(pairs))


TURNING = rows((0.3, 170), (0.2, -150), (0.1, -90))
PARTS = rows((0.3, -0.5), (0.2, 0.1), (0.1, 0.4))


@pytest.mark.parametrize(
    ("header", "data", "cure"),
    [
        ("MA", PARTS, "write RI"),
        ("DB", PARTS, "write RI"),
        ("MA", rows((0.3, 3.1), (0.2, -2.0), (0.1, 0.4)), "radians"),
        ("DB", TURNING, "write MA"),
        ("RI", rows((0.9, 17), (0.8, -15), (0.7, -9)), "write MA"),
        ("RI", rows((-10, 17), (-12, -15), (-9, -9)), "write DB"),
        ("MA", TURNING, ""),
        ("RI", PARTS, ""),
        ("DB", rows((-10, 170), (-12, -150), (-9, 90)), ""),
        ("MA", rows((0.3, 0), (0.2, 0), (0.1, 0)), ""),  # of a scalar instrument
        ("MA", rows((0.3, 0.5), (0.2, 0.1)), ""),  # too few to tell
        ("MA", rows((0, 0), (0, 0), (0, 0)), ""),
    ],
)
def test_numbers_of_another_format_than_the_header_names_are_doubted(
    header: str, data: str, cure: str
) -> None:
    file = parse_touchstone(f"# MHz S {header} R 50\n{data}", "a.s1p")
    said = " ".join(file.doubts)
    assert cure in said
    assert ("write" in said) is bool(cure)
    assert set(file.doubts) <= set(file.remarks)


@pytest.mark.parametrize(
    ("pairs", "cure"),
    [(((-0.3, 0.5), (0.2, 0.1)), "write RI"), (((-12, 170), (-9, 90)), "write DB")],
)
def test_a_negative_magnitude_is_refused_with_the_format_it_looks_like(
    pairs: tuple[tuple[float, float], ...], cure: str
) -> None:
    with pytest.raises(TouchstoneError, match=cure):
        parse_touchstone("# MHz S MA R 50\n" + rows(*pairs), "a.s1p")
