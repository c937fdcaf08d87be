"""What goes wrong between an analyzer and a program: drawn by a seed, and told once it struck.

`replay.faults.faulty_transport`, `replay.faults.faulty_analyzer` and `replay.faults.faulty_port` do
what is said here, each on its own side: to the bytes on their way, in the analyzer, and to the
port's name and rights.
"""

from __future__ import annotations

import threading
from collections import Counter
from dataclasses import dataclass
from enum import StrEnum

import numpy as np


class Kind(StrEnum):
    """One way of going wrong."""

    LOST = "bytes lost"
    AGAIN = "a piece again in place of the next"
    DOUBLED = "bytes doubled"
    FLIPPED = "bits flipped"
    LATE = "bytes late"
    MERGED = "pieces merged"
    REPEATED = "reply of the last command first"
    PROMPT = "a reply's end inside the data"
    EXCHANGED = "two pieces exchanged"
    STOLEN = "a second program reads along"
    LOST_COMMAND = "a command's bytes lost"
    FLIPPED_COMMAND = "a command's bits flipped"

    STALL = "analyzer stalls"
    RESET = "analyzer resets"
    POINTS = "wrong number of points"
    NAN = "points not measured"
    DIGITS = "frequencies off in their last digits"

    SERIAL_ERROR = "SerialException"
    OS_ERROR = "OSError"
    TERMINAL_ERROR = "termios.error"
    GONE = "port gone, back under another name"
    REFUSED = "port refused twice, then granted"


ON_THE_WAY_IN = (
    Kind.LOST,
    Kind.DOUBLED,
    Kind.FLIPPED,
    Kind.LATE,
    Kind.MERGED,
    Kind.REPEATED,
    Kind.PROMPT,
    Kind.AGAIN,
    Kind.EXCHANGED,
    Kind.STOLEN,
    Kind.SERIAL_ERROR,
    Kind.OS_ERROR,
    Kind.TERMINAL_ERROR,
    Kind.GONE,
    Kind.REFUSED,
)
ON_THE_WAY_OUT = (Kind.LOST_COMMAND, Kind.FLIPPED_COMMAND)
IN_THE_ANALYZER = (Kind.STALL, Kind.RESET)
IN_THE_SETTING = (Kind.POINTS, Kind.NAN, Kind.DIGITS)


PIECE_BYTES = (64, 128, 512)
"""What a USB serial port hands over at a time: a packet, two, or one of high speed."""
AWAY_PROBABILITIES = (0.5, 0.3, 0.19, 0.01)
"""How often an analyzer is pulled out for a moment, for seconds, for a minute, for an hour."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is to go wrong."""

    kind: Kind
    after_bytes: int
    """So many bytes pass unharmed first: of what the analyzer sends, or is sent."""
    size: int
    """How many bytes, bits or points it touches."""
    lasts_s: float
    """How long; 0 for what happens once."""
    seed: int
    """Of what is left to chance in it."""

    def rng(self) -> np.random.Generator:
        """The chance in it."""
        return np.random.default_rng(self.seed)


@dataclass(frozen=True, slots=True)
class FaultStrike:
    """A fault that came true."""

    fault: Fault
    began_s: float
    ended_s: float
    """On the clock of whoever it struck; both the same for what happens once."""


def draw(kind: Kind, bytes_in: int, bytes_out: int, rng: np.random.Generator) -> Fault:
    """Draw a fault of a kind somewhere in a sweep that takes so many bytes both ways."""
    passing = bytes_out if kind in ON_THE_WAY_OUT + IN_THE_SETTING else bytes_in
    lasts_s = {
        Kind.LATE: rng.uniform(0.05, 3.0),
        Kind.MERGED: rng.uniform(0.01, 0.3),
        Kind.STOLEN: rng.uniform(0.1, 3.0),
        Kind.STALL: rng.choice([0.2, 2.0, 30.0]) * rng.uniform(0.5, 1.5),
        Kind.RESET: rng.uniform(0.05, 3.0),
        Kind.POINTS: rng.uniform(0.1, 3.0),
        Kind.NAN: rng.uniform(0.1, 3.0),
        Kind.DIGITS: rng.uniform(0.1, 3.0),
        Kind.GONE: rng.choice([0.1, 5.0, 60.0, 3600.0], p=AWAY_PROBABILITIES)
        * rng.uniform(0.5, 1.0),
        Kind.REFUSED: rng.uniform(0.1, 1.0),
    }.get(kind, 0.0)
    most = {Kind.LOST: 64, Kind.DOUBLED: 64, Kind.FLIPPED: 3, Kind.LOST_COMMAND: 8}.get(kind, 3)
    # one byte lost is harder to notice than many, so it is drawn most often
    sizes = PIECE_BYTES if kind in (Kind.AGAIN, Kind.EXCHANGED) else (1, 2, most)
    size = int(rng.choice(sizes))
    return Fault(kind, int(rng.integers(passing)), size, float(lasts_s), int(rng.integers(2**31)))


class FaultQueue:
    """What is to go wrong next, and what has; shared by all who make it come true."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._armed: list[Fault] = []
        self._passed: Counter[str] = Counter()
        self._strikes: list[FaultStrike] = []

    def arm(self, *faults: Fault) -> None:
        """Let these come true, in place of those that have not yet; bytes count from now on."""
        with self._lock:
            self._armed = list(faults)
            self._passed.clear()

    def meets(self, way: str, kinds: tuple[Kind, ...], length: int) -> tuple[Fault, int] | None:
        """Let so many bytes pass on a way; the fault that meets them, and at which of them.

        At most one; what is due beside it meets the bytes that come next.
        """
        with self._lock:
            before = self._passed[way]
            self._passed[way] += length
            for fault in self._armed:
                if fault.kind in kinds and fault.after_bytes < before + length:
                    self._armed.remove(fault)
                    return fault, max(0, fault.after_bytes - before)
            return None

    def note(self, fault: Fault, began_s: float, ended_s: float) -> None:
        """Note that a fault came true."""
        with self._lock:
            self._strikes.append(FaultStrike(fault, began_s, ended_s))

    def strikes(self) -> list[FaultStrike]:
        """Return what came true since this was last asked."""
        with self._lock:
            strikes, self._strikes = self._strikes, []
            return strikes
