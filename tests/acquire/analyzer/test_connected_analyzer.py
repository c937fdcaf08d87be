"""One unit on one port: retried when an answer goes wrong, counted, stamped, let go of."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from acquire.analyzer.connected_analyzer import TRIES, Analyzer, Counters, cleaned, open_analyzer
from acquire.analyzer.outliers import ReferenceSweeps
from acquire.analyzer.profile import load_profiles
from acquire.errors import CoverageError, NoReplyError, PortError, ReplyDefectError, ReplyError
from acquire.port.port_list import PortInfo, usb_sum
from acquire.port.transport import StoppedError
from acquire.sweep import Plane, SweepRequest
from tests.wording import missing_words

PASSES = (SweepRequest(700e6, 800e6, 5), SweepRequest(900e6, 1000e6, 6))


def once(by: Callable[[bytes], bytes]) -> Callable[[int, bytes], bytes]:
    """Spoil the first reply that holds anything, and no later one."""
    spoilt = False

    def spoil(_at: int, reply: bytes) -> bytes:
        nonlocal spoilt
        if spoilt or not reply:
            return reply
        spoilt = True
        return by(reply)

    return spoil


def test_passes_are_joined_into_one_sweep_and_stamped(family: Any, wired: Any, clock: Any) -> None:
    analyzer = Analyzer(wired(family.unit()), family.profile, clock)
    sweep = analyzer.sweep(PASSES)
    assert sweep.frequency_hz.tolist() == pytest.approx(
        np.concatenate([each.grid_hz() for each in PASSES]).tolist(), rel=1e-7
    )
    assert (sweep.plane, sweep.sequence, sweep.request) == (Plane.RAW, 1, PASSES)
    assert sweep.taken_at == clock.now()
    assert sweep.source == analyzer.source
    assert sweep.source.analyzer_corrected == family.profile.analyzer_corrected
    assert analyzer.sweep(PASSES).sequence == 2
    assert analyzer.counters.sweeps == 2
    assert analyzer.counters.retries == 0


@pytest.mark.parametrize("by", [lambda _: b"", lambda reply: reply[: len(reply) // 2]])
def test_a_reply_that_is_lost_or_cut_is_asked_for_again(
    family: Any, wired: Any, clock: Any, by: Any
) -> None:
    wire = wired(family.unit())
    analyzer = Analyzer(wire, family.profile, clock)
    wire.spoil = once(by)
    sweep = analyzer.sweep(PASSES[:1])
    assert sweep.points == 5
    assert analyzer.counters.retries == 1
    assert analyzer.counters.timeouts + analyzer.counters.garbled == 1
    assert analyzer.counters.resyncs == 2


def test_a_unit_that_answers_nonsense_for_ever_is_told_after_so_many_tries(
    family: Any, wired: Any, clock: Any
) -> None:
    unit = family.unit()
    wire = wired(unit)
    analyzer = Analyzer(wire, family.profile, clock)
    unit.fewer_points = 1
    with pytest.raises(ReplyError, match="point"):
        analyzer.sweep(PASSES[:1])
    assert analyzer.counters.garbled == TRIES
    unit.fewer_points = 0
    assert analyzer.sweep(PASSES[:1]).points == 5


def test_a_silent_unit_is_not_met_and_its_port_let_go(family: Any, wired: Any, clock: Any) -> None:
    wire = wired(lambda _: b"")
    with pytest.raises(NoReplyError):
        Analyzer(wire, family.profile, clock)
    assert wire.closed


def test_a_port_that_goes_away_is_not_tried_again(family: Any, wired: Any, clock: Any) -> None:
    wire = wired(family.unit())
    analyzer = Analyzer(wire, family.profile, clock)

    def gone(_data: bytes) -> None:
        raise OSError(5, "Input/output error")

    wire.write = gone
    with pytest.raises(PortError):
        analyzer.sweep(PASSES)
    assert analyzer.counters.retries == 0


@pytest.mark.parametrize(
    "request_", [SweepRequest(1e3, 1e6, 5), SweepRequest(1e9, 9e9, 5), SweepRequest(1e9, 2e9, 9999)]
)
def test_what_the_profile_says_the_unit_cannot_do_is_never_asked(
    family: Any, wired: Any, clock: Any, request_: SweepRequest
) -> None:
    wire = wired(family.unit())
    analyzer = Analyzer(wire, family.profile, clock)
    sent = len(wire.sent)
    with pytest.raises(CoverageError, match="profile"):
        analyzer.sweep([request_])
    with pytest.raises(CoverageError, match="at least one pass"):
        analyzer.sweep([])
    assert len(wire.sent) == sent


def test_an_interrupted_analyzer_stops_in_the_middle_of_a_sweep(
    family: Any, wired: Any, clock: Any
) -> None:
    wire = wired(family.unit())
    analyzer = Analyzer(wire, family.profile, clock)
    analyzer.interrupt()
    with pytest.raises(StoppedError):
        analyzer.sweep(PASSES)


def test_an_identity_is_one_printable_line_of_bearable_length() -> None:
    assert cleaned("  a unit\x1b[31m\r\n of\tmany\x00 lines ") == "a unit [31m of many lines"
    assert len(cleaned("long " * 1000)) <= 120
    assert cleaned("\x07") == "unit without a name"


def test_without_a_profile_the_one_that_is_understood_is_found(
    family: Any, wired: Any, clock: Any
) -> None:
    wires: list[Any] = []

    def opened(_address: str, _baud_rate: int) -> Any:
        wires.append(wired(family.unit()))
        return wires[-1]

    analyzer = open_analyzer(
        "virtual:any",
        profiles=load_profiles() | {family.profile.name: family.profile},
        openers={"virtual": opened},
        clock=clock,
    )
    # profiles that differ only in how the numbers travel all fit a unit that knows them all
    assert analyzer.profile.family == family.profile.family
    assert [wire.closed for wire in wires].count(False) == 1


def test_where_no_profile_is_understood_that_is_said_and_the_port_let_go(
    wired: Any, clock: Any
) -> None:
    wire = wired(lambda _: b"")
    with pytest.raises(NoReplyError, match="write a profile"):
        open_analyzer(
            "virtual:any",
            profiles=load_profiles(),
            openers={"virtual": lambda _address, _baud_rate: wire},
            clock=clock,
        )
    assert wire.closed


SWEPT = SweepRequest(700e6, 800e6, 21)


@pytest.fixture
def met(family_named: Any, wired: Any, clock: Any) -> Callable[[str], tuple[Any, Analyzer]]:
    """A unit of a family that has been met, and the wire to it."""

    def meet(name: str) -> tuple[Any, Analyzer]:
        family = family_named(name)
        wire = wired(family.unit())
        return wire, Analyzer(wire, family.profile, clock)

    return meet


def changing(digits: dict[bytes, bytes], times: int) -> Callable[[int, bytes], bytes]:
    """Change these bytes in so many of the replies that hold them."""
    left = times

    def spoil(_at: int, reply: bytes) -> bytes:
        nonlocal left
        for before, after in digits.items():
            if left and before in reply:
                left -= 1
                return reply.replace(before, after, 1)
        return reply

    return spoil


def test_a_digit_that_changed_on_the_way_is_swept_again(
    met: Callable[[str], tuple[Any, Analyzer]],
) -> None:
    wire, analyzer = met("prompted-scan")
    right = analyzer.sweep([SWEPT])
    value = b"%.9f" % right.reflection[10].real
    wire.spoil = changing({value: value.replace(b"0.", b"1.")}, times=1)
    sweep = analyzer.sweep([SWEPT])
    assert np.array_equal(sweep.reflection, right.reflection)
    assert (analyzer.counters.suspect, analyzer.counters.retries) == (1, 0)


def test_a_frequency_that_changed_by_one_hertz_is_asked_for_again(
    met: Callable[[str], tuple[Any, Analyzer]],
) -> None:
    wire, analyzer = met("prompted-pairs")
    wire.spoil = changing({b"750000000": b"750000001"}, times=1)
    for _ in range(2):
        sweep = analyzer.sweep([SWEPT])
        assert sweep.frequency_hz.tolist() == SWEPT.grid_hz().tolist()
    assert analyzer.counters.suspect == 1


def test_a_point_that_is_never_the_same_counts_as_not_measured(
    met: Callable[[str], tuple[Any, Analyzer]],
) -> None:
    wire, analyzer = met("prompted-scan")
    right = analyzer.sweep([SWEPT])
    value = b"%.9f" % right.reflection[10].real
    turns = iter([b"1.0", b"5.0", b"25.0"])
    wire.spoil = lambda _at, reply: (
        reply.replace(value, next(turns), 1) if value in reply else reply
    )
    sweep = analyzer.sweep([SWEPT])
    assert np.flatnonzero(~np.isfinite(sweep.reflection)).tolist() == [10]
    assert analyzer.counters.suspect == TRIES


def test_what_stands_out_in_every_sweep_is_swept_twice_once(
    met: Callable[[str], tuple[Any, Analyzer]],
) -> None:
    wire, analyzer = met("prompted-scan")
    value = b"%.9f" % analyzer.sweep([SWEPT]).reflection[10].real
    wire.spoil = lambda _at, reply: reply.replace(value, b"0.900000000", 1)
    for _ in range(5):
        assert analyzer.sweep([SWEPT]).reflection[10].real == 0.9
    assert analyzer.counters.suspect == 1


def test_what_went_wrong_is_told_in_a_sentence() -> None:
    assert Counters(sweeps=40, resyncs=1, suspect=3).words == ""
    assert not missing_words(Counters(timeouts=1).words, "since", "opened", "a reply did not come")
    both = Counters(garbled=3, losses=2).words
    assert not missing_words(both, "lost 2 times", "3 replies were not believed")


def test_sweeps_carry_which_usb_device_took_them(family_named: Any, wired: Any, clock: Any) -> None:
    family = family_named("prompted-pairs")
    plugged = [
        PortInfo("x:unit", "", "0483:5740", "40012345"),
        PortInfo("x:other", "", "0483:5740", "40012346"),
    ]

    def opened(address: str, kind: str = "port") -> Analyzer:
        wire = wired(family.unit())
        wire.kind = kind
        return open_analyzer(
            address,
            profile=family.profile,
            profiles={},
            openers={"x": lambda _address, _baud_rate: wire},
            clock=clock,
            listing=lambda: plugged,
        )

    one, other = (opened(each).sweep(PASSES[:1]).source for each in ("x:unit", "x:other"))
    assert one.usb_sum == usb_sum("x:unit", lambda: plugged)
    assert other.analyzer == one.analyzer
    assert other.differs_from(one)
    assert opened("x:unit", kind="virtual").source.usb_sum == ""


@pytest.mark.parametrize("defect", [ValueError("4300 digits"), IndexError(3), OverflowError("big")])
@pytest.mark.parametrize("word", ["sweep", "identify", "resynchronise"])
def test_an_exception_of_a_dialect_is_a_bad_reply_and_ends_no_stream(
    met: Callable[[str], tuple[Any, Analyzer]],
    monkeypatch: pytest.MonkeyPatch,
    defect: Exception,
    word: str,
) -> None:
    wire, analyzer = met("scpi-ascii")
    dialect = type(analyzer.profile.dialect())
    told = getattr(dialect, word)

    def broken(*arguments: Any) -> Any:
        yield from told(*arguments)
        raise defect

    monkeypatch.setattr(dialect, word, broken)
    with pytest.raises(ReplyError, match=f"{type(defect).__name__}.*--record"):
        Analyzer(wire, analyzer.profile, analyzer._clock).sweep([SWEPT])
    with pytest.raises((ReplyError, NoReplyError), match=r"cannot be read|No analyzer answered"):
        open_analyzer(
            "virtual:any",
            profiles={"scpi-ascii": analyzer.profile},
            openers={"virtual": lambda _address, _baud_rate: wire},
            clock=analyzer._clock,
        )
    monkeypatch.setattr(dialect, word, told)
    assert analyzer.sweep([SWEPT]).reflection.size == SWEPT.points


@pytest.mark.parametrize("defect", [IndexError(3), AssertionError("never"), RecursionError("deep")])
def test_an_exception_of_the_checks_is_a_bad_reply_and_is_swept_again(
    met: Callable[[str], tuple[Any, Analyzer]], monkeypatch: pytest.MonkeyPatch, defect: Exception
) -> None:
    _, analyzer = met("scpi-ascii")
    analyzer.sweep([SWEPT])
    faults = [defect]
    told = ReferenceSweeps.suspect

    def broken(self: ReferenceSweeps, *arguments: Any) -> Any:
        if faults:
            raise faults.pop()
        return told(self, *arguments)

    monkeypatch.setattr(ReferenceSweeps, "suspect", broken)
    assert analyzer.sweep([SWEPT]).reflection.size == SWEPT.points
    assert (analyzer.counters.garbled, analyzer.counters.sweeps) == (1, 2)
    faults += [defect] * TRIES
    with pytest.raises(ReplyDefectError, match=f"{type(defect).__name__}.*--record"):
        analyzer.sweep([SWEPT])
    assert analyzer.sweep([SWEPT]).reflection.size == SWEPT.points
