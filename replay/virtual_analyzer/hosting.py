"""Where a virtual analyzer can be reached: in process, at a pseudo-terminal, at a socket."""

from __future__ import annotations

import contextlib
import os
import select
import socket
import threading
from collections.abc import Iterator
from typing import Literal, Protocol

from acquire.clock import Clock, SystemClock
from acquire.errors import PortError


class HostedAnalyzer(Protocol):
    """A simulated analyzer, to which time is told."""

    def feed(self, data: bytes, now_s: float) -> None: ...
    def take(self, now_s: float) -> bytes: ...
    def due_s(self) -> float | None: ...


class InProcess:
    """A transport (as `acquire.port.transport` wants one) straight to a virtual analyzer.

    Waits on the clock it is given, so with an `AcceleratedClock` no sweep takes real time.
    """

    kind: Literal["port", "virtual", "replay"] = "virtual"

    def __init__(
        self, analyzer: HostedAnalyzer, clock: Clock | None = None, address: str = "virtual:"
    ) -> None:
        self.address = address
        self._analyzer = analyzer
        self._clock = SystemClock() if clock is None else clock
        self._lock = threading.Lock()
        self._stirred = threading.Event()
        self._gone = ""

    def write(self, data: bytes) -> None:
        """Send bytes; raises PortError once the analyzer is gone."""
        with self._lock:
            self._raise_if_gone()
            self._analyzer.feed(data, self._clock.monotonic())
        self._stirred.set()

    def read(self, timeout_s: float) -> bytes:
        """Return what has arrived, at least one byte, or b"" once so many seconds have passed.

        Raises PortError once the analyzer is gone.
        """
        deadline_s = self._clock.monotonic() + timeout_s
        while True:
            with self._lock:
                self._raise_if_gone()
                self._stirred.clear()
                now_s = self._clock.monotonic()
                piece = self._analyzer.take(now_s)
                due_s = self._analyzer.due_s()
            if piece or now_s >= deadline_s:
                return piece
            until_s = deadline_s if due_s is None else min(due_s, deadline_s)
            self._clock.wait(self._stirred, until_s - now_s)

    def discard(self) -> None:
        """Throw away what has arrived."""
        with self._lock:
            self._raise_if_gone()
            while self._analyzer.take(self._clock.monotonic()):
                pass

    def close(self) -> None:
        """Let go of the analyzer; closing twice does no harm."""
        self._leave(f"{self.address} has been closed: open it again.")

    def unplug(self) -> None:
        """Pull the analyzer's cable: from now on the port is gone."""
        self._leave(f"{self.address} went away: plug the analyzer in again.")

    def _leave(self, why: str) -> None:
        with self._lock:
            self._gone = self._gone or why
        self._stirred.set()

    def _raise_if_gone(self) -> None:
        if self._gone:
            raise PortError(self._gone)


class Channel(Protocol):
    """One end of a stream of bytes that the operating system can wait for."""

    def fileno(self) -> int: ...
    def recv(self, size: int, /) -> bytes: ...
    def send(self, data: bytes, /) -> int: ...


class Host:
    """A virtual analyzer at an address of the operating system, until it is closed.

    Two threads: one listens, one answers when answers are due. Neither polls.
    """

    def __init__(self, analyzer: HostedAnalyzer, clock: Clock | None) -> None:
        self._analyzer = analyzer
        self._clock = SystemClock() if clock is None else clock
        self._lock = threading.Lock()
        self._stirred = threading.Event()
        self._closed = threading.Event()
        self._bell, self._ring = socket.socketpair()

    def close(self) -> None:
        """Stop answering and let the address go; closing twice does no harm."""
        if not self._closed.is_set():
            self._closed.set()
            self._ring.send(b"x")
            self._stirred.set()

    def serve(self, channel: Channel) -> None:
        """Answer on a channel until the other end leaves or the host is closed."""
        left = threading.Event()
        answering = threading.Thread(
            target=self._answer, args=(channel, left), name="virtual analyzer answers", daemon=True
        )
        answering.start()
        try:
            while self.wait_for(channel):
                data = channel.recv(4096)
                if not data:
                    break
                with self._lock:
                    self._analyzer.feed(data, self._clock.monotonic())
                self._stirred.set()
        except OSError:
            pass  # the other end is gone
        finally:
            left.set()
            self._stirred.set()
            answering.join()

    def wait_for(self, channel: Channel | socket.socket) -> bool:
        """Wait until there is something to receive; False once the host is closed."""
        ready, _, _ = select.select([channel, self._bell], [], [])
        return self._bell not in ready

    def release(self) -> None:
        """Close the bell; called last, by whoever served."""
        self._bell.close()
        self._ring.close()

    def _answer(self, channel: Channel, left: threading.Event) -> None:
        while not (left.is_set() or self._closed.is_set()):
            self._stirred.clear()
            with self._lock:
                now_s = self._clock.monotonic()
                piece = self._analyzer.take(now_s)
                due_s = self._analyzer.due_s()
            if piece:
                if not self._send(channel, piece):
                    return
            elif left.is_set() or self._closed.is_set():
                return
            elif due_s is None:
                self._stirred.wait()
            else:
                self._clock.wait(self._stirred, due_s - now_s)

    def _send(self, channel: Channel, piece: bytes) -> bool:
        """Send a piece, even to one who reads slowly; False if it cannot be sent any more."""
        while piece:
            closing, _, _ = select.select([self._bell], [channel], [])
            if closing:
                return False
            try:
                piece = piece[channel.send(piece) :]
            except OSError:
                return False
        return True


class PseudoTerminal:
    """The analyzer's end of a pseudo-terminal, as a channel."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor

    def fileno(self) -> int:
        return self._descriptor

    def recv(self, size: int, /) -> bytes:
        return os.read(self._descriptor, size)

    def send(self, data: bytes, /) -> int:
        return os.write(self._descriptor, data)


@contextlib.contextmanager
def on_pty(analyzer: HostedAnalyzer, clock: Clock | None = None) -> Iterator[str]:
    """Host an analyzer at a pseudo-terminal; gives the path a serial library opens. POSIX only.

    Leaving the block is like pulling the cable: whoever has it open is told so.
    """
    import pty  # noqa: PLC0415 - POSIX alone has it
    import tty  # noqa: PLC0415 - likewise

    ours, theirs = pty.openpty()
    tty.setraw(theirs)
    # Kept open, so that the path outlives a program that closes it and opens it again.
    path = os.ttyname(theirs)
    host = Host(analyzer, clock)
    thread = threading.Thread(
        target=host.serve,
        args=(PseudoTerminal(ours),),
        name="virtual analyzer listens",
        daemon=True,
    )
    thread.start()
    try:
        yield path
    finally:
        host.close()
        thread.join()
        host.release()
        os.close(theirs)
        os.close(ours)


@contextlib.contextmanager
def on_socket(analyzer: HostedAnalyzer, clock: Clock | None = None) -> Iterator[str]:
    """Host an analyzer at a free TCP port of this machine alone; gives a `socket://` URL.

    One program at a time; when it leaves, the next may come.
    """
    host = Host(analyzer, clock)
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def accept() -> None:
            while host.wait_for(listener):
                caller, _ = listener.accept()
                with caller:
                    host.serve(caller)

        thread = threading.Thread(target=accept, name="virtual analyzer listens", daemon=True)
        thread.start()
        try:
            yield f"socket://127.0.0.1:{listener.getsockname()[1]}"
        finally:
            host.close()
            thread.join()
            host.release()
