"""The text shell, byte for byte, as docs/wiring-a-profile.md describes it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from acquire.sweep import ComplexArray

GRID_HZ = np.array([700e6, 800e6, 900e6])
SWEEP_S = 3 * 0.004
SET = b"sweep 700000000 900000000 3\r"


@pytest.fixture
def shell(typist: Callable[..., Any]) -> Any:
    return typist("prompted")


def pairs_in(answer: bytes) -> ComplexArray:
    lines = answer.removesuffix(b"ch> ").split(b"\r\n")[1:-1]
    return np.array([complex(*map(float, line.split())) for line in lines])


def test_a_command_is_echoed_answered_in_lines_and_closed_by_the_prompt(shell: Any) -> None:
    answer = shell.type(b"info\r")
    assert answer == b"info\r\nvirtual bench unit, prompted, not hardware\r\nch> "


def test_a_cr_lf_ends_a_command_like_a_cr(shell: Any) -> None:
    assert shell.type(b"info\r\n") == shell.type(b"info\r")


def test_an_empty_line_brings_the_prompt(shell: Any) -> None:
    assert shell.type(b"\r") == b"\r\nch> "


def test_a_command_typed_a_character_at_a_time_is_the_same_command(shell: Any) -> None:
    whole = shell.type(b"frequencies\r")
    assert b"".join(shell.type(bytes([byte])) for byte in b"frequencies\r") == whole


@pytest.mark.parametrize("line", [b"bogus", b"data 1", b"sweeps 1 2 3", b"\xff\xfe"])
def test_an_unknown_command_is_answered_by_a_line_that_ends_in_a_question_mark(
    typist: Callable[..., Any], line: bytes
) -> None:
    echo, said, prompt = typist("prompted").type(line + b"\r").split(b"\r\n")
    assert echo == line
    assert said.endswith(b"?")
    assert prompt == b"ch> "


@pytest.mark.parametrize(
    "arguments", [b"", b" 700000000", b" 7e8 9e8 3", b" 700000000 900000000 3 4", b" 1 1 3"]
)
def test_a_setting_it_cannot_read_is_answered_and_changes_nothing(
    shell: Any, arguments: bytes
) -> None:
    before = shell.type(b"frequencies\r")
    assert shell.type(b"sweep" + arguments + b"\r").endswith(b"?\r\nch> ")
    assert shell.type(b"frequencies\r") == before


def test_setting_the_sweep_is_answered_by_nothing_but_the_prompt(shell: Any) -> None:
    assert shell.type(SET) == SET + b"\nch> "
    assert shell.type(b"frequencies\r") == (
        b"frequencies\r\n700000000\r\n800000000\r\n900000000\r\nch> "
    )


@pytest.mark.parametrize(
    ("asked", "first", "last", "points"),
    [
        (b"sweep 2900000000 9000000000 3\r", b"2900000000", b"3000000000", 3),
        (b"sweep 0 900000000 3\r", b"50000", b"900000000", 3),
        (b"sweep 700000000 900000000 1001\r", b"700000000", b"900000000", 101),
        (b"sweep 700000000 900000000 0\r", b"700000000", b"900000000", 2),
    ],
)
def test_what_it_cannot_do_it_clamps_without_a_word(
    shell: Any, asked: bytes, first: bytes, last: bytes, points: int
) -> None:
    assert shell.type(asked).endswith(b"\r\nch> ")
    lines = shell.type(b"frequencies\r").split(b"\r\n")[1:-1]
    assert (lines[0], lines[-1], len(lines)) == (first, last, points)


def test_its_frequencies_are_whole_hertz(shell: Any) -> None:
    shell.type(b"sweep 700000000 700000010 4\r")
    assert shell.type(b"frequencies\r").split(b"\r\n")[1:-1] == [
        b"700000000",
        b"700000003",
        b"700000007",
        b"700000010",
    ]


def test_the_first_reading_after_a_setting_is_still_the_sweep_before(shell: Any) -> None:
    shell.type(b"sweep 100000000 200000000 5\r")
    shell.hear(after_s=1.0)
    shell.type(SET)
    leftover = pairs_in(shell.type(b"data 0\r"))
    assert np.abs(leftover - shell.truth(np.linspace(100e6, 200e6, 5))).max() < 1e-9


def test_the_next_reading_comes_when_its_sweep_is_done_and_not_before(shell: Any) -> None:
    shell.type(SET)
    shell.type(b"data 0\r")
    assert shell.type(b"data 0\r") == b"data 0\r\n"
    assert shell.hear(after_s=0.9 * SWEEP_S) == b""
    assert shell.analyzer.due_s() == pytest.approx(1000.0 + SWEEP_S)
    answer = shell.hear(after_s=0.2 * SWEEP_S)
    assert answer.endswith(b"\r\nch> ")
    assert np.abs(pairs_in(b"\r\n" + answer) - shell.truth(GRID_HZ)).max() < 1e-9


def test_a_sweep_read_once_is_not_given_out_again(shell: Any) -> None:
    shell.type(SET)
    shell.type(b"data 0\r")
    shell.hear(after_s=10.5 * SWEEP_S)
    assert shell.type(b"data 0\r").endswith(b"ch> ")
    assert shell.type(b"data 0\r") == b"data 0\r\n"
    assert shell.hear(after_s=0.6 * SWEEP_S).endswith(b"ch> ")


def test_a_sweep_sees_each_point_when_it_was_measured(shell: Any) -> None:
    shell.type(SET)
    shell.type(b"data 0\r")
    shell.type(b"data 0\r")
    shell.knob.turn(-0.2j, at_s=1000.0 + 2.5 * SWEEP_S / 3)
    answer = pairs_in(b"\r\n" + shell.hear(after_s=SWEEP_S * 1.001))
    assert np.abs(answer[:2] - shell.truth(GRID_HZ, 0.5 + 0.1j)[:2]).max() < 1e-9
    assert abs(answer[2] - shell.truth(GRID_HZ, -0.2j)[2]) < 1e-9


def test_a_command_sent_while_it_sweeps_waits_its_turn(shell: Any) -> None:
    shell.type(SET)
    shell.type(b"data 0\r")
    shell.type(b"data 0\r")
    assert shell.type(b"info\r") == b""
    heard = shell.hear(after_s=SWEEP_S * 1.001)
    assert heard.endswith(b"ch> info\r\nvirtual bench unit, prompted, not hardware\r\nch> ")


def test_a_reply_comes_in_pieces_as_a_usb_port_delivers_them(shell: Any) -> None:
    shell.analyzer.feed(b"frequencies\r", shell.now_s)
    pieces = []
    while piece := shell.analyzer.take(shell.now_s):
        pieces.append(piece)
    assert len(pieces) > 10
    assert max(map(len, pieces)) == 64


def test_all_at_once_sweeps_once_and_answers_when_it_is_done(typist: Callable[..., Any]) -> None:
    shell = typist("scan", points=3)
    command = b"measure 700000000 900000000 9\r"
    assert shell.type(command) == command + b"\n"
    assert shell.hear(after_s=0.0089) == b""
    *lines, prompt = shell.hear(after_s=0.0002).split(b"\r\n")
    assert prompt == b"ok> "
    rows = [line.split() for line in lines]
    assert [row[0] for row in rows] == [b"700000000", b"800000000", b"900000000"]
    values = np.array([complex(float(row[1]), float(row[2])) for row in rows])
    assert np.abs(values - shell.truth(GRID_HZ)).max() < 1e-9


def test_all_at_once_has_no_other_commands(typist: Callable[..., Any]) -> None:
    shell = typist("scan")
    assert shell.type(b"data 0\r") == b"data 0\r\ndata?\r\nok> "
