"""The one function that moves bytes, and opening the ports it moves them over."""

from __future__ import annotations

import contextlib
import errno
import itertools
import os
import socket
import threading
from collections.abc import Iterator
from typing import Any

import pytest
import serial

from acquire.clock import SystemClock
from acquire.dialect import Ask, Steps
from acquire.errors import NoReplyError, PortError, ReplyError
from acquire.port import serial_transport
from acquire.port.transport import Line, StoppedError, converse, open_port
from acquire.sweep import SweepRequest

posix_only = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX only")


def one(ask: Ask) -> Steps[bytes]:
    return (yield ask)


def both(first: Ask, second: Ask) -> Steps[tuple[bytes, bytes]]:
    return ((yield first), (yield second))


def test_what_lies_beyond_the_end_of_a_reply_is_kept_for_the_next(wired: Any, clock: Any) -> None:
    wire = wired(lambda _data: b"one;two;three")
    asks = both(Ask(b"?", until=b";"), Ask(count=3))
    assert converse(wire, asks, clock) == (b"one;", b"two")


@pytest.mark.parametrize("size", range(1, 9))
def test_an_end_cut_by_the_pieces_it_comes_in_is_found(wired: Any, clock: Any, size: int) -> None:
    wire = wired(lambda _data: b"a\r\nc\r\nch> ch> rest")
    wire.pieces = itertools.repeat(size)
    asks = both(Ask(b"?", until=b"\nch> "), Ask(until=b"ch> "))
    assert converse(wire, asks, clock) == (b"a\r\nc\r\nch> ", b"ch> ")


def test_a_fresh_ask_throws_away_what_arrived_before(wired: Any, clock: Any) -> None:
    wire = wired(lambda data: data)
    wire.arrived += b"left over;"
    assert converse(wire, one(Ask(b"new;", until=b";", fresh=True)), clock) == b"new;"


def test_a_late_reply_is_thrown_into_the_conversation_with_what_came(
    wired: Any, clock: Any
) -> None:
    def steps() -> Steps[bytes]:
        try:
            yield Ask(b"?", until=b";", deadline_s=2.0)
        except NoReplyError as fault:
            return fault.received
        return b"not this"

    assert converse(wired(lambda _data: b"half a rep"), steps(), clock) == b"half a rep"
    assert clock.monotonic() == pytest.approx(2.0)


def test_a_unit_that_trickles_for_ever_meets_the_overall_deadline(wired: Any, clock: Any) -> None:
    wire = wired(lambda _data: b"")

    def trickle(timeout_s: float) -> bytes:
        clock.advance(timeout_s)
        return b"."

    wire.read = trickle
    with pytest.raises(NoReplyError, match=r"within 2 s; \d\d bytes came"):
        converse(wire, one(Ask(b"?", until=b";", deadline_s=2.0)), clock)
    with pytest.raises(NoReplyError, match="kept sending for 2 s"):
        converse(wire, one(Ask(b"?", quiet_s=0.3, deadline_s=2.0)), clock)
    assert clock.monotonic() < 5.0


def test_a_unit_that_never_ends_its_reply_is_cut_off(wired: Any, clock: Any) -> None:
    wire = wired(lambda _data: b"." * 5000)
    with pytest.raises(ReplyError, match="more than 1000 bytes without an end"):
        Line(wire, clock, most_reply_bytes=1000).converse(one(Ask(b"?", until=b";")))


def test_silence_ends_a_reply_of_unknown_length(wired: Any, clock: Any) -> None:
    wire = wired(lambda _data: b"any length")
    wire.pieces = itertools.repeat(3)
    assert converse(wire, one(Ask(b"?", quiet_s=0.3)), clock) == b"any length"
    assert converse(wire, one(Ask(quiet_s=0.3)), clock) == b""
    assert clock.monotonic() == pytest.approx(0.6)


def test_a_reply_is_searched_once_over_however_many_pieces_it_comes(wired: Any, clock: Any) -> None:
    class Counting(bytearray):
        searched = 0

        def find(self, sub: bytes, start: int = 0) -> int:
            Counting.searched += len(self) - start
            return super().find(sub, start)

    reply = b"0.123456789 -0.987654321\r\n" * 1601 + b"ch> "
    wire = wired(lambda _data: reply)
    wire.pieces = itertools.repeat(64)
    line = Line(wire, clock)
    line._held = Counting()
    assert line.converse(one(Ask(b"?", until=b"\nch> "))) == reply
    assert Counting.searched < 1.2 * len(reply)


def test_an_interrupted_conversation_ends_at_the_next_read(wired: Any, clock: Any) -> None:
    interrupted = threading.Event()
    wire = wired(lambda _data: interrupted.set() or b"")
    with pytest.raises(StoppedError):
        Line(wire, clock, interrupted).converse(one(Ask(b"?", until=b";", deadline_s=60.0)))
    assert clock.monotonic() == 0.0


class NamedLikeTheUnpluggedError(Exception):
    pass


NamedLikeTheUnpluggedError.__module__ = "termios"
NamedLikeTheUnpluggedError.__name__ = "error"


@pytest.mark.parametrize(
    "fault", [serial.SerialException("gone"), OSError(5, "gone"), NamedLikeTheUnpluggedError(5)]
)
@pytest.mark.parametrize("method", ["write", "read", "discard"])
def test_an_unplugged_port_is_named_with_its_cure(
    wired: Any, clock: Any, fault: Exception, method: str
) -> None:
    wire = wired(lambda _data: b"")

    def fail(*_args: object) -> bytes:
        raise fault

    setattr(wire, method, fail)
    with pytest.raises(PortError, match=r"wire went away .* Plug the analyzer in again"):
        converse(wire, one(Ask(b"?", until=b";", fresh=True)), clock)


def test_a_fault_of_the_program_is_not_taken_for_one_of_the_port(wired: Any, clock: Any) -> None:
    wire = wired(lambda _data: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        converse(wire, one(Ask(b"?", until=b";")), clock)


# -- opening -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (serial.SerialException(errno.EBUSY, "busy"), "in use by another program"),
        (serial.SerialException(errno.EAGAIN, "Could not exclusively lock"), "in use by another"),
        (serial.SerialException("PermissionError(13, 'Access is denied.')"), "in use by another"),
        (serial.SerialException(errno.EACCES, "Permission denied"), r"dialout \$USER"),
        (serial.SerialException(errno.ENOENT, "No such file"), "There is no port /dev/unit"),
        (serial.SerialException("FileNotFoundError(2, 'x')"), "There is no port /dev/unit"),
        (NamedLikeTheUnpluggedError(errno.ENOTTY, "no tty"), "is not a serial port"),
        (serial.SerialException("something else"), r"cannot be opened \(something else\)"),
        (ValueError("invalid URL"), "is not a port or a URL"),
    ],
)
def test_busy_forbidden_and_absent_ports_are_told_apart(
    monkeypatch: pytest.MonkeyPatch, fault: Exception, words: str
) -> None:
    def fail(*_args: object, **_options: object) -> None:
        raise fault

    monkeypatch.setattr(serial_transport.serial, "serial_for_url", fail)
    with pytest.raises(PortError, match=words):
        open_port("/dev/unit")


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("/nowhere/at/all", "There is no port /nowhere/at/all"),
        ("teleport://unit", "is not a port or a URL"),
        ("socket://127.0.0.1:99999", "cannot be opened"),
    ],
)
def test_an_address_where_nothing_is_says_so(address: str, words: str) -> None:
    with pytest.raises(PortError, match=words):
        open_port(address)


@pytest.mark.skipif(os.name != "posix", reason="devices have names of their own elsewhere")
def test_a_device_that_is_no_serial_port_says_so() -> None:
    with pytest.raises(PortError, match="/dev/null is not a serial port"):
        open_port("/dev/null")


def test_an_opener_of_the_callers_is_given_its_scheme(wired: Any) -> None:
    wire = wired(lambda _data: b"")
    asked = []
    openers = {"virtual": lambda address, baud: asked.append((address, baud)) or wire}
    assert open_port("virtual:seven", openers=openers, baud_rate=9600) is wire
    assert open_port("virtual://seven", openers=openers) is wire
    assert asked == [("virtual:seven", 9600), ("virtual://seven", 115200)]


@contextlib.contextmanager
def opened(address: str) -> Iterator[Any]:
    port = open_port(address)
    try:
        yield port
    finally:
        port.close()
        port.close()


def test_a_loop_gives_back_what_it_was_given() -> None:
    with opened("loop://") as port:
        port.write(b"there and back")
        assert port.read(1.0) == b"there and back"
        assert port.read(0.0) == b""
        port.write(b"not wanted")
        port.discard()
        assert port.read(0.0) == b""
        assert (port.kind, port.address) == ("port", "loop://")


@contextlib.contextmanager
def listening(answer: Any) -> Iterator[str]:
    """A listener that answers one caller; its address."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            caller, _ = server.accept()
            with caller:
                while data := caller.recv(4096):
                    caller.sendall(answer(data))

        thread = threading.Thread(target=serve)
        thread.start()
        yield f"socket://127.0.0.1:{server.getsockname()[1]}"
        thread.join()
        assert not thread.is_alive()


def test_a_unit_at_a_socket_is_swept(family: Any, swept: Any, monkeypatch: Any) -> None:
    with listening(family.unit()) as address, opened(address) as port:
        reads = 0
        receive = port.read

        def counted(timeout_s: float) -> bytes:
            nonlocal reads
            reads += 1
            return receive(timeout_s)

        monkeypatch.setattr(port, "read", counted)
        swept(family, port)
        assert reads < 60, "whatever waits is taken at once, not byte by byte"


def test_a_caller_that_hangs_up_is_a_lost_port() -> None:
    with (
        socket.create_server(("127.0.0.1", 0)) as server,
        opened(f"socket://127.0.0.1:{server.getsockname()[1]}") as port,
    ):
        caller, _ = server.accept()
        caller.close()
        with pytest.raises(PortError, match="went away"):
            Line(port, SystemClock()).converse(one(Ask(until=b";", deadline_s=9.0)))


@contextlib.contextmanager
def at_a_terminal(unit: Any) -> Iterator[str]:
    """A unit behind the master side of a pseudo-terminal; the other side's name."""
    import pty
    import tty

    master, slave = pty.openpty()
    tty.setraw(slave)
    bell, ring = os.pipe()

    def serve() -> None:
        import select

        while True:
            ready, _, _ = select.select([master, bell], [], [])
            if bell in ready:
                return
            reply = unit(os.read(master, 4096))
            while reply:
                reply = reply[os.write(master, reply) :]

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield os.ttyname(slave)
    finally:
        os.write(ring, b"x")
        thread.join()
        for each in (master, slave, bell, ring):
            os.close(each)
        assert not thread.is_alive()


@posix_only
def test_a_unit_at_a_pseudo_terminal_is_swept_through_pyserial(family: Any, swept: Any) -> None:
    with at_a_terminal(family.unit()) as address, opened(address) as port:
        for _ in range(3):
            swept(family, port)
        assert port.kind == "port"


@posix_only
def test_a_port_that_is_open_already_is_in_use() -> None:
    with (
        at_a_terminal(lambda data: data) as address,
        opened(address),
        pytest.raises(PortError, match="is in use by another program"),
    ):
        open_port(address)


@posix_only
def test_a_large_sweep_crosses_a_pseudo_terminal(family_named: Any) -> None:
    family = family_named("prompted-scan")
    request = SweepRequest(700e6, 900e6, 1601)
    with at_a_terminal(family.unit()) as address, opened(address) as port:
        line = Line(port, SystemClock())
        assert line.converse(family.dialect().sweep(request)).frequency_hz.size == 1601
