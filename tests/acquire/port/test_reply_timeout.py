"""A reply that is lost is not waited for longer than the unit has ever needed."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from acquire.analyzer.connected_analyzer import Analyzer
from acquire.errors import NoReplyError
from acquire.port.reply_timeout import (
    LEAST_TIMEOUT_S,
    MOST_TIMEOUT_S,
    QUICK_MISSES,
    TIMEOUT_FACTOR,
    ReplyTimeouts,
)
from acquire.sweep import SweepRequest


def test_before_a_command_was_answered_nothing_is_known() -> None:
    reply_timeouts = ReplyTimeouts()
    assert reply_timeouts.reply_gap_s(b"info\r") is None
    reply_timeouts.missed(b"info\r")
    assert reply_timeouts.reply_gap_s(b"info\r") is None
    reply_timeouts.answered(b"info\r", 0.01)
    assert reply_timeouts.reply_gap_s(b"info\r") == LEAST_TIMEOUT_S
    assert reply_timeouts.reply_gap_s(b"data 0\r") is None


def test_a_slow_command_is_waited_for_and_a_slow_moment_is_forgotten() -> None:
    reply_timeouts = ReplyTimeouts()
    for _ in range(3):
        reply_timeouts.answered(b"data 0\r", 3.0)
    assert reply_timeouts.reply_gap_s(b"data 1\r") == TIMEOUT_FACTOR * 3.0
    for _ in range(4):
        reply_timeouts.answered(b"data 0\r", 0.0)
    assert reply_timeouts.reply_gap_s(b"data 0\r") == LEAST_TIMEOUT_S


def test_a_unit_that_does_not_answer_again_and_again_is_given_more_time() -> None:
    reply_timeouts = ReplyTimeouts()
    reply_timeouts.answered(b"x\r", 0.0)
    given = []
    for _ in range(QUICK_MISSES + 1):
        given.append(reply_timeouts.reply_gap_s(b"x\r"))
        reply_timeouts.missed(b"x\r")
    assert given == [LEAST_TIMEOUT_S] * QUICK_MISSES + [MOST_TIMEOUT_S]
    reply_timeouts.answered(b"x\r", 0.0)
    assert reply_timeouts.reply_gap_s(b"x\r") == LEAST_TIMEOUT_S


def test_what_is_remembered_is_bounded() -> None:
    reply_timeouts = ReplyTimeouts()
    for number in range(10_000):
        reply_timeouts.answered(b"%d\r" % number, 0.0)
    assert len(reply_timeouts._histories) <= 256


def test_a_lost_reply_holds_the_picture_still_for_seconds_only(
    family: Any, wired: Any, clock: Any
) -> None:
    """The profile allows for `reply_s`, up to 10 s, each time."""
    wire = wired(family.unit())
    analyzer = Analyzer(wire, family.profile, clock)
    request = SweepRequest(700e6, 800e6, 5)
    analyzer.sweep([request])
    replies = itertools.count()
    wire.spoil = lambda _at, reply: b"" if reply and next(replies) == 0 else reply
    begun_s = clock.monotonic()
    analyzer.sweep([request])
    assert analyzer.counters.timeouts == 1
    assert clock.monotonic() - begun_s < LEAST_TIMEOUT_S + 1.0


def test_how_long_was_waited_is_said(wired: Any, clock: Any, family_named: Any) -> None:
    family = family_named("scpi-ascii")
    unit = family.unit()
    wire = wired(unit)
    analyzer = Analyzer(wire, family.profile, clock)
    analyzer.sweep([SweepRequest(700e6, 800e6, 5)])
    wire.spoil = lambda _at, _reply: b""
    with pytest.raises(NoReplyError, match=r"within 1 s; 0 bytes came"):
        analyzer.sweep([SweepRequest(700e6, 800e6, 5)])
