"""A unit's replies as text from a pseudo-terminal, through the whole driver.

One row has the replies made beforehand and sent as fast as they are read, against reading and
converting them line by line. The other has the virtual unit pace them as it sweeps, against the
same bytes pumped through the same port and looked at no further.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources

import serial

from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import Profile, parse_profile
from acquire.clock import SystemClock
from acquire.port.transport import open_port
from acquire.sweep import SweepRequest
from benchmarks.row import Goal, Row
from replay.virtual_analyzer.hosting import on_pty
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench

POINTS = 1601
PACED = 401
SWEEPS = 3
"""In one round, of the paced unit."""
PROMPT = b"ok> "


def profile_of(points: int) -> Profile:
    """The shipped profile of a text shell that answers all at once, for so many points."""
    shipped = resources.files("acquire.analyzer").joinpath("profiles", "prompted-scan.toml")
    text = shipped.read_text(encoding="utf-8").replace("points = 401", f"points = {points}")
    return parse_profile(text, "prompted-scan.toml")


def command(request: SweepRequest) -> bytes:
    """The line by which that unit sweeps."""
    return b"measure %d %d %d\r" % (request.start_hz, request.stop_hz, request.points)


def whole_reply(port: serial.Serial) -> bytes:
    """Everything up to the prompt, as it comes."""
    reply = bytearray()
    while not reply.endswith(PROMPT):
        reply += port.read(max(port.in_waiting, 1))
    return bytes(reply)


@contextmanager
def prepared(request: SweepRequest) -> Iterator[str]:
    """A port at which the answers lie ready; the path of it."""
    import pty
    import tty

    step = (request.stop_hz - request.start_hz) / (request.points - 1)
    swept = b"".join(
        b"%d %.9f %.9f\r\n" % (request.start_hz + n * step, 0.1 + n * 1e-6, -0.2)
        for n in range(request.points)
    )
    answers = {command(request): swept, b"who\r": b"a benchmark's unit\r\n"}
    unit, device = pty.openpty()
    tty.setraw(device)

    def answer() -> None:
        asked = b""
        while True:
            try:
                asked += os.read(unit, 256)
                if asked.endswith(b"\r"):
                    view = memoryview(asked + b"\n" + answers.get(asked, b"") + PROMPT)
                    asked = b""
                    while view:
                        view = view[os.write(unit, view) :]
            except OSError:
                return

    threading.Thread(target=answer, daemon=True).start()
    try:
        yield os.ttyname(device)
    finally:
        os.close(device)
        os.close(unit)


@contextmanager
def opened(path: str, points: int) -> Iterator[tuple[Analyzer, serial.Serial]]:
    """The driver at a port, and the same port plainly; theirs first, for ours asks for it alone."""
    with serial.Serial(path, timeout=10) as plain:
        unit = Analyzer(open_port(path), profile_of(points), SystemClock())
        try:
            yield unit, plain
        finally:
            unit.close()


@contextmanager
def rows() -> Iterator[list[Row]]:
    """Yield both rows, or none where there are no pseudo-terminals."""
    if os.name != "posix":
        yield []
        return
    request = SweepRequest(0.7e9, 2.7e9, POINTS)
    short = SweepRequest(0.7e9, 1.1e9, PACED)
    clock = SystemClock()
    paced = VirtualAnalyzer(
        VirtualBench(clock, on_port="antenna"), "scan", powered_s=clock.monotonic()
    )
    with (
        prepared(request) as path,
        opened(path, POINTS) as (unit, plain),
        on_pty(paced, clock) as paced_path,
        opened(paced_path, PACED) as (paced_analyzer, pumped),
    ):

        def line_by_line() -> object:
            plain.write(command(request))
            plain.readline()
            rows = []
            while len(rows) < POINTS:
                hertz, real, imaginary = plain.readline().split()
                rows.append((float(hertz), complex(float(real), float(imaginary))))
            plain.read(len(PROMPT))
            return rows

        def pump() -> object:
            replies = []
            for _ in range(SWEEPS):
                pumped.write(command(short))
                replies.append(whole_reply(pumped))
            return replies

        yield [
            Row(
                f"a text sweep to a Sweep, {POINTS} points, replies made beforehand",
                lambda: unit.sweep([request]),
                "readline() and float() a line",
                line_by_line,
                Goal(times=100),
                9,
            ),
            Row(
                f"{SWEEPS} sweeps through the driver, paced by the virtual unit, {PACED} points",
                lambda: [paced_analyzer.sweep([short]) for _ in range(SWEEPS)],
                "the bare bytes, pumped through the same port",
                pump,
                Goal(times=0.97),
                5,
            ),
        ]
