"""SCPI over IEEE 488.2, byte for byte, as docs/wiring-a-profile.md describes it."""

from __future__ import annotations

import struct
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from acquire.sweep import ComplexArray

GRID_HZ = np.array([700e6, 800e6, 900e6])
SET = b"*RST;*CLS;FREQ:STAR 700E6;FREQ:STOP 900E6;SWE:POIN 3\n"
SWEEP_S = 3 * 0.0005


@pytest.fixture
def analyzer(typist: Callable[..., Any]) -> Any:
    return typist("scpi")


def complex_of(numbers: Any) -> ComplexArray:
    return np.array(list(numbers), dtype=np.float64).view(np.complex128)


def test_it_says_who_it_is_in_four_fields(analyzer: Any) -> None:
    answer = analyzer.type(b"*IDN?\n")
    # IEEE 488.2 10.14 [memory]
    assert answer.endswith(b"\n")
    assert answer.count(b",") == 3


def test_settings_answer_nothing_and_headers_come_short_or_long(analyzer: Any) -> None:
    assert analyzer.type(SET) == b""
    assert analyzer.type(b"SENSE:FREQUENCY:START 7.1E8\n:sens:swe:poin 5\n") == b""
    assert float(analyzer.type(b"FREQ:STAR?\n")) == 710e6
    assert analyzer.type(b"SWEEP:POINTS?\n") == b"5\n"
    assert analyzer.type(b"SYST:ERR?\n") == b'0,"No error"\n'


@pytest.mark.parametrize(
    ("command", "error"),
    [
        # numbers and texts: SCPI-1999 Vol. 2 section 21.8 [read in two public sources]
        (b"FREQU:STAR 1E9", b'-113,"Undefined header"'),
        (b"nonsense?", b'-113,"Undefined header"'),
        (b"SWE:POIN 1602", b'-222,"Data out of range"'),
        (b"FREQ:STOP 1E12", b'-222,"Data out of range"'),
        (b"FREQ:STAR", b'-109,"Missing parameter"'),
        (b"FREQ:STAR high", b'-104,"Data type error"'),
        (b"FREQ:STAR 1 MOHM", b'-131,"Invalid suffix"'),
        (b"FORM REAL,16", b'-224,"Illegal parameter value"'),
        (b"FREQ:STAR 1E9;STOP 2E9", b'-113,"Undefined header"'),
        (b"CALC:DATA? SDAT", b'-230,"Data corrupt or stale"'),
        (b"FREQ:STAR 1E9;FREQ:STOP 0.9E9;INIT", b'-221,"Settings conflict"'),
    ],
)
def test_a_wrong_command_is_not_answered_but_queued_as_an_error(
    analyzer: Any, command: bytes, error: bytes
) -> None:
    analyzer.type(SET)
    assert analyzer.type(command + b"\n") == b""
    assert analyzer.type(b"SYST:ERR?\n") == error + b"\n"
    assert analyzer.type(b"SYST:ERR?\n") == b'0,"No error"\n'


def test_errors_come_oldest_first_and_too_many_of_them_are_said_to_be(analyzer: Any) -> None:
    analyzer.type(SET + b"SWE:POIN x\n" + b"bogus\n" * 20)
    read = [analyzer.type(b"SYST:ERR?\n") for _ in range(11)]
    assert read[0] == b'-104,"Data type error"\n'
    assert read[1:9] == [b'-113,"Undefined header"\n'] * 8
    assert read[9:] == [b'-350,"Queue overflow"\n', b'0,"No error"\n']


def test_operation_complete_is_answered_when_the_sweep_is_done(analyzer: Any) -> None:
    analyzer.type(SET)
    assert analyzer.type(b"INIT;*OPC?\n") == b""
    assert analyzer.hear(after_s=0.9 * SWEEP_S) == b""
    assert analyzer.hear(after_s=0.2 * SWEEP_S) == b"1\n"
    assert analyzer.type(b"*OPC?\n") == b"1\n"


def test_data_comes_as_ascii_pairs(analyzer: Any) -> None:
    analyzer.type(SET + b"INIT;*OPC?\n")
    analyzer.hear(after_s=1.0)
    answer = analyzer.type(b"CALC:DATA? SDATA\n")
    values = complex_of(float(number) for number in answer.split(b","))
    assert np.abs(values - analyzer.truth(GRID_HZ)).max() < 1e-12
    frequencies = [float(number) for number in analyzer.type(b"FREQ:DATA?\n").split(b",")]
    assert frequencies == GRID_HZ.tolist()


@pytest.mark.parametrize(
    ("settings", "layout", "tolerance"),
    [
        (b"FORM REAL,64", ">6d", 1e-15),
        (b"FORM REAL,64;FORM:BORD NORM", ">6d", 1e-15),
        (b"FORM REAL,64;FORM:BORD SWAP", "<6d", 1e-15),
        (b"FORM REAL,32;FORM:BORD SWAPPED", "<6f", 1e-7),
        (b"FORMAT:DATA REAL,32", ">6f", 1e-7),
    ],
)
def test_data_comes_as_a_definite_block_in_either_byte_order(
    analyzer: Any, settings: bytes, layout: str, tolerance: float
) -> None:
    analyzer.type(SET + settings + b";INIT;*OPC?\n")
    analyzer.hear(after_s=1.0)
    answer = analyzer.type(b"CALC:DATA? SDAT\n")
    size = struct.calcsize(layout)
    # IEEE 488.2 8.7.9: #, digits of the length, the length, the bytes [memory]
    assert answer[:4] == b"#2%d" % size
    assert answer[4 + size :] == b"\n"
    values = complex_of(struct.unpack(layout, answer[4 : 4 + size]))
    assert np.abs(values - analyzer.truth(GRID_HZ)).max() < tolerance


@pytest.mark.parametrize(("points", "head"), [(401, b"#46416"), (1601, b"#525616")])
def test_a_block_of_many_points_begins_as_computed_by_hand(
    analyzer: Any, points: int, head: bytes
) -> None:
    # REAL,64 re/im: 16 bytes a point [derived]
    analyzer.type(SET + b"SWE:POIN %d;FORM REAL,64;INIT;*OPC?\n" % points)
    analyzer.hear(after_s=10.0)
    answer = analyzer.type(b"CALC:DATA? SDAT\n")
    assert answer.startswith(head)
    assert len(answer) == len(head) + 16 * points + 1


def test_data_read_before_the_sweep_is_done_is_that_of_the_sweep_before(analyzer: Any) -> None:
    analyzer.type(SET + b"INIT;*OPC?\n")
    analyzer.hear(after_s=1.0)
    before = analyzer.type(b"CALC:DATA? SDAT\n")
    analyzer.type(b"FREQ:STAR 750E6\n")
    analyzer.type(b"INIT\n")
    assert analyzer.type(b"CALC:DATA? SDAT\n") == before
    assert analyzer.type(b"INIT\n") == b""
    assert analyzer.type(b"SYST:ERR?\n") == b'-213,"Init ignored"\n'
    analyzer.hear(after_s=1.0)
    assert analyzer.type(b"CALC:DATA? SDAT\n") != before


def test_left_alone_it_sweeps_by_itself_until_it_is_told_not_to(analyzer: Any) -> None:
    first = analyzer.type(b"CALC:DATA? SDAT\n")
    assert first.count(b",") == 2 * 201 - 1
    analyzer.knob.turn(-0.3, at_s=analyzer.now_s)
    analyzer.hear(after_s=1.0)
    second = analyzer.type(b"INIT:CONT OFF;CALC:DATA? SDAT\n")
    assert second != first
    analyzer.knob.turn(0.3, at_s=analyzer.now_s)
    analyzer.hear(after_s=1.0)
    assert analyzer.type(b"CALC:DATA? SDAT\n") == second
