"""Each way of going wrong does to bytes, unit and port what it says, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from serial import SerialException

from acquire.errors import PortError
from acquire.port.port_errors import faults_named
from acquire.port.port_list import RememberedPort
from replay.clock import AcceleratedClock
from replay.faults.fault_kinds import ON_THE_WAY_IN, Fault, FaultQueue, Kind, draw
from replay.faults.faulty_analyzer import BOOTS_S, FaultyAnalyzer
from replay.faults.faulty_port import FaultyPort
from replay.faults.faulty_transport import FaultyTransport
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench

SENT = bytes(range(65, 91))


class Echo:
    """A transport that answers what it is sent, eight bytes at a time."""

    address, kind = "echo", "port"

    def __init__(self) -> None:
        self.written = b""
        self.arrived = b""

    def write(self, data: bytes) -> None:
        self.written += data
        self.arrived += data

    def read(self, _timeout_s: float) -> bytes:
        piece, self.arrived = self.arrived[:8], self.arrived[8:]
        return piece

    def discard(self) -> None:
        self.arrived = b""

    def close(self) -> None:
        pass


def fault(kind: Kind, after_bytes: int = 10, size: int = 2, lasts_s: float = 1.0) -> Fault:
    return Fault(kind, after_bytes, size, lasts_s, seed=4)


@pytest.fixture
def clock() -> AcceleratedClock:
    return AcceleratedClock()


@pytest.fixture
def fault_queue() -> FaultQueue:
    return FaultQueue()


@pytest.fixture
def line(fault_queue: FaultQueue, clock: AcceleratedClock) -> FaultyTransport:
    return FaultyTransport(Echo(), fault_queue, clock, reply_end=b"ok> ")


def heard(line: FaultyTransport) -> bytes:
    """All that comes for an answer to `SENT`, nothing more for two seconds."""
    line.write(SENT)
    data = b""
    for _ in range(60):
        data += line.read(0.05)
    return data


@pytest.mark.parametrize(
    ("kind", "comes"),
    [
        (Kind.LOST, b"ABCDEFGHIJMNOPQRSTUVWXYZ"),
        (Kind.DOUBLED, b"ABCDEFGHIJKLKLMNOPQRSTUVWXYZ"),
        (Kind.PROMPT, b"ABCDEFGHIJok> KLMNOPQRSTUVWXYZ"),
        (Kind.AGAIN, b"ABCDEFGHIJKLIJKLQRSTUVWXYZ"),
        (Kind.EXCHANGED, b"ABCDEFGHMNOPIJKLQRSTUVWXYZ"),
        (Kind.LATE, SENT),
        (Kind.MERGED, SENT),
    ],
)
def test_bytes_on_their_way_in(
    line: FaultyTransport, fault_queue: FaultQueue, kind: Kind, comes: bytes
) -> None:
    fault_queue.arm(fault(kind))
    assert heard(line) == comes
    assert [each.fault.kind for each in fault_queue.strikes()] == [kind]
    assert heard(line) == SENT


def test_flipped_bits_are_as_many_as_the_fault_says(
    line: FaultyTransport, fault_queue: FaultQueue
) -> None:
    fault_queue.arm(fault(Kind.FLIPPED))
    changed = [a ^ b for a, b in zip(heard(line), SENT, strict=True)]
    assert [each.bit_count() for each in changed] == [0] * 10 + [1, 1] + [0] * 14


def test_the_reply_of_the_last_command_comes_first(
    line: FaultyTransport, fault_queue: FaultQueue
) -> None:
    heard(line)
    fault_queue.arm(fault(Kind.REPEATED, after_bytes=0))
    assert heard(line) == SENT + SENT


def test_late_bytes_are_late(
    line: FaultyTransport, fault_queue: FaultQueue, clock: AcceleratedClock
) -> None:
    fault_queue.arm(fault(Kind.LATE, after_bytes=0, lasts_s=3.0))
    line.write(SENT)
    begun_s = clock.monotonic()
    while not line.read(0.05):
        pass
    assert clock.monotonic() - begun_s == pytest.approx(3.0)
    line.discard()


def test_merged_pieces_come_as_one(line: FaultyTransport, fault_queue: FaultQueue) -> None:
    fault_queue.arm(fault(Kind.MERGED, after_bytes=0))
    line.write(SENT)
    assert line.read(0.05) == SENT


def test_a_second_program_takes_pieces_for_as_long_as_it_reads(
    line: FaultyTransport, fault_queue: FaultQueue, clock: AcceleratedClock
) -> None:
    fault_queue.arm(fault(Kind.STOLEN, after_bytes=0))
    got = b"".join(heard(line) for _ in range(20))
    assert 0.2 < len(got) / (20 * len(SENT)) < 0.8
    clock.advance(1.0)
    assert heard(line) == SENT


@pytest.mark.parametrize("kind", [Kind.LOST_COMMAND, Kind.FLIPPED_COMMAND])
def test_what_is_sent_may_not_arrive_as_it_was(
    line: FaultyTransport, fault_queue: FaultQueue, kind: Kind
) -> None:
    fault_queue.arm(fault(kind))
    answered = heard(line)
    assert answered != SENT
    assert len(answered) == len(SENT) - (2 if kind is Kind.LOST_COMMAND else 0)


@pytest.mark.parametrize(
    ("kind", "raised"),
    [
        (Kind.SERIAL_ERROR, SerialException),
        (Kind.OS_ERROR, OSError),
        (Kind.TERMINAL_ERROR, Exception),
    ],
)
def test_an_error_is_raised_and_the_port_stays_broken(
    line: FaultyTransport, fault_queue: FaultQueue, kind: Kind, raised: type[Exception]
) -> None:
    fault_queue.arm(fault(kind))
    with pytest.raises(raised):
        heard(line)
    acts: list[Callable[[], object]] = [lambda: line.read(0.1), lambda: line.write(b"?")]
    for act in [*acts, line.discard]:
        with pytest.raises(PortError), faults_named("echo"):
            act()


def made(powered_s: float) -> VirtualAnalyzer:
    return VirtualAnalyzer(VirtualBench(on_port="load"), "scan", noise=0.0, powered_s=powered_s)


def said(analyzer: FaultyAnalyzer, command: bytes, now_s: float, for_s: float = 2.0) -> bytes:
    analyzer.feed(command, now_s)
    data = b""
    for tenth in range(round(for_s * 10)):
        while piece := analyzer.take(now_s + tenth / 10):
            data += piece
    return data


def test_a_stalled_unit_says_the_same_later(fault_queue: FaultQueue) -> None:
    analyzer = FaultyAnalyzer(made, fault_queue)
    fault_queue.arm(fault(Kind.STALL, after_bytes=6, lasts_s=1.0))
    assert said(analyzer, b"who\r", 0.0, 0.9) == b"who\r\nv"
    assert analyzer.due_s() == pytest.approx(1.0)
    assert said(analyzer, b"", 1.0).startswith(b"irtual bench unit")


def test_a_unit_that_resets_itself_loses_its_reply_and_says_that_it_started(
    fault_queue: FaultQueue,
) -> None:
    analyzer = FaultyAnalyzer(made, fault_queue, banner=b"hello\r\nok> ")
    fault_queue.arm(fault(Kind.RESET, after_bytes=6, lasts_s=1.0))
    assert said(analyzer, b"who\r", 0.0, 1.0) == b"who\r\nv"
    assert said(analyzer, b"who\r", 1.0, BOOTS_S) == b""  # it takes nothing in yet
    assert said(analyzer, b"", 1.0 + BOOTS_S) == b"hello\r\nok> "


def test_an_odd_setting_ends_by_itself(fault_queue: FaultQueue) -> None:
    command = b"measure 780000000 790000000 50\r"
    for kind in (Kind.POINTS, Kind.NAN, Kind.DIGITS):
        analyzer = FaultyAnalyzer(made, fault_queue)
        right = said(analyzer, command, 0.0)
        fault_queue.arm(fault(kind, after_bytes=0, lasts_s=1.0))
        assert said(analyzer, command, 10.0) != right
        again = said(analyzer, command, 20.0)
        assert again.split()[4::3] == right.split()[4::3]
        assert b"nan" not in again


def test_a_port_comes_back_under_another_name_and_is_found(
    fault_queue: FaultQueue, clock: AcceleratedClock
) -> None:
    port = FaultyPort(FaultyAnalyzer(made, fault_queue), fault_queue, clock)
    remembered = RememberedPort(port.address, port.listing)
    line = port.open(remembered.address(), 115200)
    fault_queue.arm(fault(Kind.GONE, after_bytes=0, lasts_s=3600.0))
    line.write(b"who\r")
    with pytest.raises(SerialException):
        line.read(1.0)
    assert [each.device for each in port.listing()] == ["faulty:other"]
    with pytest.raises(PortError, match="There is no port faulty:0"):
        port.open(remembered.address(), 115200)
    clock.advance(3600.0)
    assert remembered.address() == "faulty:1"
    port.open("faulty:1", 115200)


def test_a_port_may_refuse_twice_before_it_can_be_opened(
    fault_queue: FaultQueue, clock: AcceleratedClock
) -> None:
    port = FaultyPort(FaultyAnalyzer(made, fault_queue), fault_queue, clock)
    fault_queue.arm(fault(Kind.REFUSED, after_bytes=0))
    line = port.open("faulty:0", 115200)
    line.write(b"who\r")
    with pytest.raises(SerialException):
        line.read(1.0)
    for _ in range(2):
        with pytest.raises(PortError, match="no permission to open faulty:0"):
            port.open("faulty:0", 115200)
    port.open("faulty:0", 115200)


def test_faults_are_drawn_by_their_seed_and_strike_once() -> None:
    one, other = (
        [draw(kind, 3000, 200, np.random.default_rng(5)) for kind in Kind] for _ in range(2)
    )
    assert one == other
    fault_queue = FaultQueue()
    fault_queue.arm(fault(Kind.LOST, after_bytes=5))
    met: list[Any] = [fault_queue.meets("in", ON_THE_WAY_IN, 4) for _ in range(4)]
    assert met == [None, (fault(Kind.LOST, after_bytes=5), 1), None, None]
