"""What holds for every way of talking: the right sweep or a named refusal, never a wrong number."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from acquire.errors import NoReplyError, ReplyError
from acquire.port.transport import Line

Refused = (NoReplyError, ReplyError)


@pytest.fixture
def length(family: Any, wired: Any, swept: Any) -> int:
    """How many bytes the unit sends in one sweep."""
    wire = wired(family.unit())
    swept(family, wire)
    return len(wire.sent)


def test_a_sweep_comes_whole(family: Any, wired: Any, swept: Any) -> None:
    reading = swept(family, wired(family.unit()))
    assert reading.frequency_hz.tolist() == [700e6, 725e6, 750e6, 775e6, 800e6]


@pytest.mark.slow
def test_a_reply_split_at_any_byte_is_the_same(
    family: Any, wired: Any, swept: Any, length: int
) -> None:
    for first in range(1, length):
        wire = wired(family.unit())
        wire.pieces = itertools.chain([first], itertools.repeat(10**6))
        swept(family, wire)


def test_a_reply_that_comes_byte_by_byte_is_the_same(family: Any, wired: Any, swept: Any) -> None:
    wire = wired(family.unit())
    wire.pieces = itertools.repeat(1)
    swept(family, wire)


@pytest.mark.slow
def test_a_unit_that_falls_silent_at_any_byte_is_no_reply(
    family: Any, wired: Any, swept: Any, length: int
) -> None:
    for kept in range(length):
        wire = wired(family.unit())
        wire.spoil = lambda at, data, kept=kept: data[: max(0, kept - at)]
        with pytest.raises(Refused):
            swept(family, wire)


@pytest.mark.slow
def test_a_reply_that_loses_its_end_at_any_byte_is_refused(
    family: Any, wired: Any, swept: Any, length: int
) -> None:
    refusals = 0
    for lost in range(length):
        wire = wired(family.unit())
        wire.spoil = lambda at, data, lost=lost: (
            data[: lost - at] if at <= lost < at + len(data) else data
        )
        try:
            swept(family, wire)  # right where only what nobody needs was lost
        except Refused:
            refusals += 1
    assert refusals > length / 2


@pytest.mark.slow
def test_leftovers_of_the_last_sweep_cut_anywhere_change_nothing(
    family: Any, wired: Any, swept: Any, length: int
) -> None:
    """They arrive before the host writes, so they are thrown away unread."""
    wire = wired(family.unit())
    swept(family, wire)
    before = bytes(wire.sent)
    for begin in range(0, len(before), 3):
        wire = wired(family.unit())
        wire.arrived += before[begin:]
        swept(family, wire)


@pytest.mark.slow
def test_leftovers_that_arrive_late_give_the_right_sweep_or_a_refusal(
    family: Any, wired: Any, swept: Any
) -> None:
    wire = wired(family.unit())
    swept(family, wire)
    before = bytes(wire.sent)
    for begin in range(len(before)):
        wire = wired(family.unit())
        wire.spoil = lambda at, data, begin=begin: before[begin:] + data if at == 0 else data
        try:
            swept(family, wire)
        except Refused:
            continue


@pytest.mark.parametrize(
    "family", ["prompted-pairs", "prompted-scan", "scpi-ascii", "scpi-real64"], indirect=True
)
@pytest.mark.parametrize("rounded_hz", [1.0, 1.2e6])
def test_frequencies_off_by_less_than_a_twentieth_of_a_step_are_taken_as_the_unit_gives_them(
    family: Any, wired: Any, swept: Any, rounded_hz: float
) -> None:
    unit = family.unit()
    unit.off_hz = rounded_hz
    turned = 0.5 * 4 * np.pi * 1.2e6 * 1e-9  # what is seen there differs by so much
    reading = swept(family, wired(unit), exact_to=turned + 1e-6)
    assert reading.frequency_hz[0] == 700e6 + rounded_hz


@pytest.mark.parametrize("clamp_hz", [798e6, 720e6])
def test_a_unit_that_silently_stops_short_of_what_was_asked_is_refused_by_its_range(
    family: Any, wired: Any, swept: Any, clamp_hz: float
) -> None:
    unit = family.unit()
    unit.clamp_hz = clamp_hz
    words = rf"700 to {clamp_hz / 1e6:.0f}(\.\d+)? MHz but 700 to 800 MHz was requested"
    with pytest.raises(ReplyError, match=words):
        swept(family, wired(unit))


def test_a_unit_that_sweeps_fewer_points_is_refused_by_their_number(
    family: Any, wired: Any, swept: Any
) -> None:
    unit = family.unit()
    unit.fewer_points = 1
    with pytest.raises(ReplyError, match=r"\b(4|8|16|32|64)\b.*limits\.points"):
        swept(family, wired(unit))


def test_the_unit_says_who_it_is(family: Any, wired: Any, clock: Any) -> None:
    identity = Line(wired(family.unit()), clock).converse(family.dialect().identify())
    assert "tests" in identity or "0x32" in identity


def test_a_unit_in_the_middle_of_anything_is_brought_to_where_it_waits(
    family: Any, wired: Any, swept: Any, clock: Any
) -> None:
    for half in (b"swe", b"measure 1 2", b"SENS:FREQ", b"\x23\x00\x01", b"\x18\x30", b"\x11"):
        unit = family.unit()
        wire = wired(unit)
        unit(half)
        wire.arrived += b"left over 1 2 3\r\nch> ok> 0.1 0.2\r\n"
        Line(wire, clock).converse(family.dialect().resynchronise())
        swept(family, wire)


def test_a_silent_unit_is_no_reply_within_the_deadline(
    family: Any, wired: Any, swept: Any, clock: Any
) -> None:
    mute: Callable[[bytes], bytes] = lambda _data: b""  # noqa: E731
    with pytest.raises(NoReplyError, match="did not finish its reply within"):
        swept(family, wired(mute))
    assert clock.monotonic() <= 3 * family.profile.timing.reply_s
