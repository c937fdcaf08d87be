"""Whether two readings came from the same unit in the same state: asked in one place alone."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from acquire.sweep import Source

ONE = Source("port", "HAND UNIT v1.2", "prompted-pairs", "/dev/ttyACM0")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"analyzer": "weir-3"}, "'HAND UNIT v1.2' then, 'weir-3' now"),
        ({"kind": "virtual"}, "an analyzer at a port then, the virtual bench now"),
        (
            {"profile": "prompted-scan"},
            "spoken to with the profile 'prompted-pairs' then, with 'prompted-scan' now",
        ),
        (
            {"analyzer_corrected": True},
            "without the analyzer's own correction then, with the analyzer's own correction now",
        ),
    ],
)
def test_what_tells_two_sources_apart_is_said(change: dict[str, Any], words: str) -> None:
    other = dataclasses.replace(ONE, **change)
    assert other.differs_from(ONE) == words
    assert ONE.differs_from(other) != ""


def test_two_units_of_one_name_are_told_apart_where_usb_told_the_number_of_both() -> None:
    one, other = (dataclasses.replace(ONE, usb_sum=each) for each in ("0a1b", "9988"))
    assert "by USB another serial number now than then" in other.differs_from(one)
    assert one.differs_from(one) == ""


@pytest.mark.parametrize(
    "change", [{}, {"port": "/dev/ttyACM1"}, {"kind": "replay"}, {"usb_sum": "0a1b"}]
)
def test_the_same_unit_elsewhere_or_played_back_is_the_same(change: dict[str, Any]) -> None:
    other = dataclasses.replace(ONE, **change)
    assert other.differs_from(ONE) == ""
    assert ONE.differs_from(other) == ""
