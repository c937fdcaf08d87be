"""The same unit in process, at a pseudo-terminal and at a socket."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterator

import pytest
import serial

from acquire.errors import PortError
from replay.clock import AcceleratedClock, FastClock
from replay.virtual_analyzer.hosting import InProcess, on_pty, on_socket
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.counts import PATIENCE_S

INFO = b"info\r\nvirtual bench unit, prompted, not hardware\r\nch> "
HOSTS = [
    pytest.param(
        on_pty,
        id="pty",
        marks=pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX only"),
    ),
    pytest.param(on_socket, id="socket"),
]


@pytest.fixture
def analyzer() -> VirtualAnalyzer:
    return VirtualAnalyzer(VirtualBench(on_port="load"), "prompted", noise=0.0)


def read_until(port: serial.SerialBase, end: bytes) -> bytes:
    heard = b""
    while not heard.endswith(end):
        piece = port.read(max(1, port.in_waiting))
        assert piece, f"nothing came after {heard[-40:]!r}"
        heard += piece
    return heard


def use_for_ever(port: serial.SerialBase) -> None:
    while True:
        port.write(b"info\r")
        port.read(1)


@contextlib.contextmanager
def opened(address: str) -> Iterator[serial.SerialBase]:
    port = serial.serial_for_url(address, timeout=PATIENCE_S)
    try:
        yield port
    finally:
        port.close()


@pytest.mark.parametrize("host", HOSTS)
def test_pyserial_talks_to_it_through_the_operating_system(host, analyzer: VirtualAnalyzer) -> None:
    with host(analyzer, FastClock(100.0)) as address, opened(address) as port:
        port.write(b"info\r")
        assert read_until(port, b"ch> ") == INFO
        port.write(b"sweep 700000000 900000000 101\r")
        read_until(port, b"ch> ")
        for _ in range(3):
            port.write(b"data 0\r")
            answer = read_until(port, b"ch> ")
            assert answer.count(b"\r\n") == 1 + 101


@pytest.mark.parametrize("host", HOSTS)
def test_a_program_may_leave_and_the_next_one_come(host, analyzer: VirtualAnalyzer) -> None:
    with host(analyzer) as address:
        for _ in range(3):
            with opened(address) as port:
                port.write(b"info\r")
                assert read_until(port, b"ch> ") == INFO


@pytest.mark.parametrize("host", HOSTS)
def test_closing_it_is_like_pulling_the_cable(host, analyzer: VirtualAnalyzer) -> None:
    with host(analyzer) as address:
        port = serial.serial_for_url(address, timeout=PATIENCE_S)
    with pytest.raises((serial.SerialException, OSError)):
        use_for_ever(port)
    # pyserial 3.5 leaves a socket open whose other end is gone, so that is closed here
    getattr(port, "_socket", port).close()
    port.close()


@pytest.mark.parametrize("host", HOSTS)
def test_it_leaves_no_thread_behind(host, analyzer: VirtualAnalyzer) -> None:
    with host(analyzer) as address, opened(address) as port:
        port.write(b"info\r")
        read_until(port, b"ch> ")
    assert not [t.name for t in threading.enumerate() if t.name.startswith("virtual analyzer")]


@pytest.mark.parametrize("host", HOSTS)
def test_it_can_be_closed_while_nobody_reads_what_it_answers(
    host, analyzer: VirtualAnalyzer
) -> None:
    with host(analyzer) as address, opened(address) as port:
        for _ in range(300):
            port.write(b"frequencies\r")
        assert port.read(1) == b"f"


def test_in_process_a_sweep_on_an_accelerated_clock_takes_simulated_time_alone(
    analyzer: VirtualAnalyzer,
) -> None:
    clock = AcceleratedClock()
    port = InProcess(analyzer, clock)
    port.write(b"data 0\rdata 0\r")
    heard = b""
    while heard.count(b"ch> ") < 2:
        piece = port.read(5.0)
        assert piece
        heard += piece
    assert clock.monotonic() == pytest.approx(2 * 101 * 0.004)


def test_in_process_nothing_comes_before_the_time_to_wait_is_over(
    analyzer: VirtualAnalyzer,
) -> None:
    clock = AcceleratedClock()
    port = InProcess(analyzer, clock)
    assert port.read(0.25) == b""
    assert clock.monotonic() == 0.25
    port.write(b"data 0\r")
    assert port.read(1.0) == b"data 0\r\n"
    assert port.read(0.1) == b""
    assert clock.monotonic() == pytest.approx(0.35)


def test_in_process_what_arrived_can_be_thrown_away(analyzer: VirtualAnalyzer) -> None:
    port = InProcess(analyzer, AcceleratedClock())
    port.write(b"frequencies\r")
    port.discard()
    port.write(b"info\r")
    assert port.read(1.0) == INFO


def test_in_process_a_waiting_reader_hears_what_another_thread_asks_for(
    analyzer: VirtualAnalyzer,
) -> None:
    port = InProcess(analyzer)
    heard: list[bytes] = []
    reader = threading.Thread(target=lambda: heard.append(port.read(PATIENCE_S)))
    reader.start()
    port.write(b"info\r")
    reader.join()
    assert heard == [INFO]


@pytest.mark.parametrize(
    ("go", "said"),
    [
        ("unplug", "went away: plug the analyzer in again"),
        ("close", "has been closed: open it again"),
    ],
)
def test_in_process_a_unit_that_is_gone_says_so_to_a_waiting_reader(
    analyzer: VirtualAnalyzer, go: str, said: str
) -> None:
    port = InProcess(analyzer)
    caught: list[PortError] = []

    def read() -> None:
        try:
            port.read(PATIENCE_S)
        except PortError as error:
            caught.append(error)

    reader = threading.Thread(target=read)
    reader.start()
    getattr(port, go)()
    reader.join()
    assert said in str(caught[0])
    with pytest.raises(PortError, match=said):
        port.write(b"info\r")
    port.close()


def test_in_process_it_says_that_it_is_no_port(analyzer: VirtualAnalyzer) -> None:
    assert InProcess(analyzer).kind == "virtual"
