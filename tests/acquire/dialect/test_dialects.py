"""What is particular to each family: the right sweep or a named refusal, never a wrong number."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest

from acquire.errors import NoReplyError, ReplyError
from acquire.port.transport import Line
from tests.acquire.conftest import REQUEST, edited, seen


def refused(family: Any, wire: Any, clock: Any) -> str:
    """The sentence a sweep is refused with."""
    with pytest.raises(ReplyError) as fault:
        Line(wire, clock).converse(family.dialect().sweep(REQUEST))
    return str(fault.value)


# -- text shells ---------------------------------------------------------------------------


@pytest.mark.parametrize("word", ["sweep", "frequencies", "data"])
def test_a_command_that_a_shell_does_not_know_is_named(
    family_named: Any, wired: Any, clock: Any, word: str
) -> None:
    family = family_named("prompted-pairs")
    unit = family.unit()
    unit.unknown = {word}
    sentence = refused(family, wired(unit), clock)
    assert f'"{word}?"' in sentence
    assert "profile" in sentence


def test_an_echo_that_the_profile_promises_and_the_shell_does_not_send_is_named(
    family_named: Any, wired: Any, clock: Any
) -> None:
    family = family_named("prompted-pairs")
    unit = family.unit()
    unit.echo = False
    with pytest.raises((ReplyError, NoReplyError)) as fault:
        Line(wired(unit), clock).converse(family.dialect().sweep(REQUEST))
    assert "echo = false" in str(fault.value)


@pytest.mark.parametrize("name", ["prompted-pairs", "prompted-scan"])
def test_a_point_that_a_shell_did_not_measure_stays_unmeasured(
    family_named: Any, wired: Any, swept: Any, name: str
) -> None:
    family = family_named(name)
    unit = family.unit()
    unit.missing = {2}
    reading = swept(family, wired(unit))
    assert np.isfinite(reading.reflection).tolist() == [True, True, False, True, True]


@pytest.mark.parametrize(
    "rubbish",
    [
        b"ch> ",
        b"0.1 0.2\r\nch> ",
        b"sweep 1 2 3\r\nch> data 0\r\n",
        b"ok> \r\n9 9\r\n",
        b"\xff\x00",
    ],
)
def test_a_prompt_among_late_leftovers_does_not_end_the_reply(
    family_named: Any, wired: Any, clock: Any, rubbish: bytes
) -> None:
    """They come in front of the first reply, after the host has thrown away what was there."""
    family = family_named("prompted-pairs")
    wire = wired(family.unit())
    wire.spoil = lambda at, reply: rubbish + reply if at == 0 else reply
    try:
        reading = Line(wire, clock).converse(family.dialect().sweep(REQUEST))
    except (ReplyError, NoReplyError):
        return
    assert reading.reflection == pytest.approx(seen(REQUEST.grid_hz()), abs=1e-9)


@pytest.mark.parametrize("changed", [b"0.5 0.1 0.2", b"0,5 0,1", b"0.5", b"no 0.1", b"0x1 0.2"])
def test_a_line_that_is_no_pair_is_quoted(
    family_named: Any, wired: Any, clock: Any, changed: bytes
) -> None:
    family = family_named("prompted-pairs")
    wire = wired(family.unit())

    def spoil(_at: int, reply: bytes) -> bytes:
        if b"data 0" not in reply:
            return reply
        lines = reply.split(b"\r\n")
        lines[2] = changed
        return b"\r\n".join(lines)

    wire.spoil = spoil
    assert "Line 2" in refused(family, wire, clock)


def test_a_value_that_no_receiver_sees_is_refused(
    family_named: Any, wired: Any, clock: Any
) -> None:
    """A lost decimal point."""
    family = family_named("prompted-pairs")
    wire = wired(family.unit())
    wire.spoil = lambda _at, reply: reply.replace(b"0.", b"0", 1) if b"data" in reply else reply
    assert "no receiver sees" in refused(family, wire, clock)


# -- SCPI ----------------------------------------------------------------------------------


@pytest.mark.parametrize("header", ["INIT:CONT", "SENS:FREQ:STAR", "CALC:PAR:DEF"])
def test_a_header_that_a_unit_does_not_know_is_told_in_its_own_words(
    family_named: Any, wired: Any, clock: Any, header: str
) -> None:
    family = family_named("scpi-ascii")
    unit = family.unit()
    unit.unknown = {header}
    assert '-113, "Undefined header"' in refused(family, wired(unit), clock)


def test_a_query_that_a_unit_does_not_know_is_told_and_not_waited_for(
    family_named: Any, wired: Any, clock: Any
) -> None:
    family = family_named("scpi-real64")
    unit = family.unit()
    unit.unknown = {"CALC:DATA?"}
    assert "Undefined header" in refused(family, wired(unit), clock)


def test_old_entries_of_the_error_queue_are_not_taken_for_new_ones(
    family_named: Any, wired: Any, swept: Any
) -> None:
    family = family_named("scpi-ascii")
    unit = family.unit()
    unit.errors = ['-222,"Data out of range"'] * 3
    swept(family, wired(unit))
    assert unit.errors == []


def test_a_block_of_unknown_length_is_refused_with_the_cure(
    family_named: Any, wired: Any, clock: Any
) -> None:
    """IEEE 488.2, 8.7.10 [memory]: over a serial line its end cannot be told from its data."""
    family = family_named("scpi-real64")
    unit = family.unit()
    unit.indefinite = True
    sentence = refused(family, wired(unit), clock)
    assert "#0" in sentence
    assert 'data = "ascii"' in sentence


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b"#240", b"#239"),
        (b"#240", b"#2x0"),
        (b"#240", b"!240"),
        (b"#240", b"#0"),
        (b"#240", b"#99"),
    ],
)
def test_a_block_that_is_not_as_long_as_due_is_refused(
    family_named: Any, wired: Any, clock: Any, before: bytes, after: bytes
) -> None:
    """Five frequencies of 8 bytes: #240 [derived, IEEE 488.2, 8.7.9, memory]."""
    family = family_named("scpi-real64")
    wire = wired(family.unit())
    wire.spoil = lambda _at, reply: reply.replace(before, after, 1)
    with pytest.raises((ReplyError, NoReplyError)):
        Line(wire, clock).converse(family.dialect().sweep(REQUEST))


@pytest.mark.parametrize("name", ["scpi-ascii", "scpi-real64"])
@pytest.mark.parametrize("value", [9.91e37, 9.9e37, -9.9e37, float("nan")])
def test_scpi_s_not_a_number_is_a_point_that_was_not_measured(
    family_named: Any, wired: Any, swept: Any, name: str, value: float
) -> None:
    """SCPI-1999 volume 1, 7.2.1 [memory]: 9.91E37 stands for not a number, 9.9E37 for infinity."""
    family = family_named(name)
    unit = family.unit()
    unit.values = {4: value}
    reading = swept(family, wired(unit))
    assert np.isfinite(reading.reflection).tolist() == [True, True, False, True, True]


def test_a_signalling_nan_is_none_either_and_warns_nobody(
    family_named: Any, wired: Any, swept: Any
) -> None:
    """IEEE 754-2019, 6.2.1 [memory]: its highest digit of the fraction is 0, as a lost byte may
    leave it; arithmetic with it is an invalid operation."""
    family = family_named("scpi-real64")
    unit = family.unit()
    unit.values = {4: 0.3125}
    wire = wired(unit)
    sound, spoilt = (bytes.fromhex(each) for each in ("3fd4000000000000", "7ff0000000000001"))
    wire.spoil = lambda _at, reply: reply.replace(sound, spoilt)
    reading = swept(family, wire)
    assert np.isfinite(reading.reflection).tolist() == [True, True, False, True, True]


@pytest.mark.parametrize("name", ["scpi-ascii", "scpi-real64"])
@pytest.mark.parametrize("value", [9.8e37, 1e38, 1e300, -1e200])
def test_no_other_large_number_passes_for_a_point_that_was_not_measured(
    family_named: Any, wired: Any, clock: Any, name: str, value: float
) -> None:
    """They are what lost bytes make of a block."""
    family = family_named(name)
    unit = family.unit()
    unit.values = {4: value}
    with pytest.raises(ReplyError, match="no receiver sees"):
        Line(wired(unit), clock).converse(family.dialect().sweep(REQUEST))


def test_byte_order_matters_and_the_wrong_one_is_refused(
    family_named: Any, wired: Any, clock: Any
) -> None:
    family = family_named("scpi-real64")
    unit = family.unit()
    answer = unit.answer

    def deaf_to_order(line: str) -> bytes:
        return b"" if line.startswith("FORM:BORD") else answer(line)

    unit.order = "<"
    unit.answer = deaf_to_order
    refused(family, wired(unit), clock)


# -- registers -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["registers-queue", "registers-queue, checked"])
def test_records_in_any_order_and_after_any_leftovers_are_the_same_sweep(
    family_named: Any, wired: Any, swept: Any, name: str
) -> None:
    family = family_named(name)
    for seed in range(20):
        unit = family.unit()
        shuffle = random.Random(seed)
        unit.order = lambda points, shuffle=shuffle: shuffle.sample(points, len(points))
        unit.leftovers = seed % 6
        swept(family, wired(unit))


def test_several_values_a_point_are_averaged(wired: Any, clock: Any, family_named: Any) -> None:
    profile = edited("registers-queue", ("values_per_point = 1", "values_per_point = 4"))
    unit = family_named("registers-queue").unit()
    scatter = iter(np.tile([0.01, -0.01, 0.02j, -0.02j], 100))
    made = unit.made
    unit.made = lambda reflection, at: made(reflection + next(scatter), at)
    reading = Line(wired(unit), clock).converse(profile.dialect().sweep(REQUEST))
    assert reading.reflection == pytest.approx(seen(REQUEST.grid_hz()), abs=0.02 / 2 + 1e-6)


def test_a_point_that_never_comes_is_named(family_named: Any, wired: Any, clock: Any) -> None:
    family = family_named("registers-queue")
    unit = family.unit()
    unit.lost_points = {3}
    assert "Point 4 of 5 never arrived complete" in refused(family, wired(unit), clock)


def test_a_record_with_a_flipped_bit_is_refused_where_records_are_checked(
    family_named: Any, wired: Any, clock: Any
) -> None:
    family = family_named("registers-queue, checked")
    wire = wired(family.unit())

    def spoil(_at: int, reply: bytes) -> bytes:
        return bytes([reply[0] ^ 4, *reply[1:]]) if len(reply) >= 32 else reply

    wire.spoil = spoil
    assert "check byte" in refused(family, wire, clock)


def test_a_dead_reference_receiver_leaves_its_point_unmeasured(
    family_named: Any, wired: Any, swept: Any
) -> None:
    family = family_named("registers-queue")
    unit = family.unit()
    unit.dead_points = {1}
    reading = swept(family, wired(unit))
    assert np.isfinite(reading.reflection).tolist() == [True, False, True, True, True]


def test_records_of_an_earlier_larger_sweep_are_refused(
    family_named: Any, wired: Any, clock: Any
) -> None:
    family = family_named("registers-queue")
    unit = family.unit()
    made = unit.made
    unit.made = lambda reflection, at: made(reflection, at + 60)
    assert "earlier sweep" in refused(family, wired(unit), clock)


def test_another_unit_on_the_port_is_told_by_its_answer(
    family_named: Any, wired: Any, clock: Any
) -> None:
    family = family_named("registers-queue")
    wire = wired(family.unit())
    wire.spoil = lambda _at, reply: b"\x45" if reply == b"\x32" else reply
    assert "0x45 instead of 0x32" in refused(family, wire, clock)


@pytest.mark.parametrize("status", ["9" * 5000, "-" + "0" * 5000, "1234567"])
@pytest.mark.parametrize("at", [0, 1, -1])
def test_a_scpi_status_of_any_length_is_refused(
    family_named: Any, wired: Any, clock: Any, status: str, at: int
) -> None:
    """Python refuses to make a number of thousands of digits, by an exception of its own."""
    family = family_named("scpi-ascii")
    unit = family.unit()
    wire = wired(unit)
    told = 0

    def spoil(_at: int, reply: bytes) -> bytes:
        nonlocal told
        if b"No error" not in reply:
            return reply
        told += 1
        spoilt = told - 1 == at or (at == -1 and told == 3)
        return reply.replace(b"0,", status.encode() + b",") if spoilt else reply

    wire.spoil = spoil
    with pytest.raises((ReplyError, NoReplyError)):
        Line(wire, clock).converse(family.dialect().sweep(REQUEST))
