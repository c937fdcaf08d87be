"""A sweep as text from a pseudo-terminal, against reading and converting it line by line."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import serial

from acquire.clock import SystemClock
from acquire.dialect import Ask
from acquire.transport import Line, open_port

POINTS = 1601
PROMPT = b"ok> "


@contextmanager
def rows() -> Iterator[list[tuple[Any, ...]]]:
    """Yield the comparison; the replies are made beforehand, and sent as fast as they are read."""
    if os.name != "posix":
        yield []
        return
    import pty
    import tty

    body = b"".join(b"%.9f %.9f\r\n" % (0.1 + n * 1e-6, -0.2) for n in range(POINTS))
    unit, device = pty.openpty()
    tty.setraw(device)
    going = threading.Event()

    def answer() -> None:
        while not going.is_set():
            try:
                asked = os.read(unit, 64)
            except OSError:
                return
            if asked.endswith(b"\r"):
                view = memoryview(body + PROMPT)
                while view:
                    view = view[os.write(unit, view) :]

    threading.Thread(target=answer, daemon=True).start()
    name = os.ttyname(device)
    # theirs first: ours asks the system for the port alone
    plain = serial.Serial(name, timeout=10)
    line = Line(open_port(name), SystemClock())

    def ours() -> object:
        def steps() -> Any:
            reply = yield Ask(write=b"go\r", until=PROMPT, deadline_s=10, fresh=True)
            return np.array(reply.removesuffix(PROMPT).split(), dtype=float)

        return line.converse(steps())

    def line_by_line() -> object:
        plain.write(b"go\r")
        pairs = []
        while len(pairs) < POINTS:
            real, imaginary = plain.readline().split()
            pairs.append(complex(float(real), float(imaginary)))
        plain.read(len(PROMPT))
        return pairs

    try:
        yield [
            (
                f"a text sweep to arrays, {POINTS} points",
                ours,
                "readline() and float() a line",
                line_by_line,
                100,
                9,
            )
        ]
    finally:
        going.set()
        line.transport.close()
        plain.close()
        os.close(device)
        os.close(unit)
