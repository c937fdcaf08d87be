"""Units made of a few lines, one a family, that can misbehave; a clock that only waiting moves.

They are written apart from the virtual analyzer, so that these tests need nothing above acquire.
"""

from __future__ import annotations

import struct
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib import resources
from typing import Any

import numpy as np
import pytest

from acquire.analyzer.profile import Profile, load_profiles, parse_profile
from acquire.clock import SystemClock
from acquire.dialect import Dialect
from acquire.port.transport import Line
from acquire.sweep import Reading, SweepRequest

PROFILES = load_profiles()
REQUEST = SweepRequest(700e6, 800e6, 5)


def seen(frequency_hz: np.ndarray) -> np.ndarray:
    """What every unit here has on its port: half reflected, behind a nanosecond of cable."""
    return 0.5 * np.exp(-4j * np.pi * frequency_hz * 1e-9)


class WaitedClock:
    """Time that passes only while someone waits."""

    def __init__(self) -> None:
        self.seconds = 0.0
        self._lock = threading.Lock()

    def now(self) -> datetime:
        return datetime(2030, 1, 1, tzinfo=UTC) + timedelta(seconds=self.monotonic())

    def monotonic(self) -> float:
        with self._lock:
            return self.seconds

    def wait(self, event: threading.Event, seconds: float) -> bool:
        self.advance(seconds)
        return event.is_set()

    def advance(self, seconds: float) -> None:
        with self._lock:
            self.seconds += seconds


class Wire:
    """A transport to one of the units below; what it does to the bytes can be set."""

    kind = "port"

    def __init__(self, unit: Callable[[bytes], bytes], clock: WaitedClock) -> None:
        self.address = "wire"
        self.unit = unit
        self.clock = clock
        self.arrived = bytearray()
        self.sent = bytearray()
        """All the unit has sent."""
        self.spoil: Callable[[int, bytes], bytes] = lambda _at, data: data
        """Is given where in all that was sent a reply begins, and the reply."""
        self.pieces: Iterator[int] | None = None
        """Sizes of what each read returns; everything at once without it."""
        self.closed = False

    def write(self, data: bytes) -> None:
        reply = self.unit(data)
        self.arrived += self.spoil(len(self.sent), reply)
        self.sent += reply

    def read(self, timeout_s: float) -> bytes:
        if not self.arrived:
            self.clock.advance(timeout_s)
        size = len(self.arrived) if self.pieces is None else next(self.pieces, 1)
        piece = bytes(self.arrived[:size])
        del self.arrived[:size]
        return piece

    def discard(self) -> None:
        self.arrived.clear()

    def close(self) -> None:
        self.closed = True


class Unit:
    """What the units share: settings, and ways to misbehave."""

    def __init__(self) -> None:
        self.start_hz, self.stop_hz, self.points = 50e6, 900e6, 7
        self.clamp_hz = np.inf
        """Highest frequency it can do; it goes no higher, without a word."""
        self.fewer_points = 0
        """How many points fewer than it was told it sweeps."""
        self.off_hz = 0.0
        """How far its frequencies are from where they should be."""
        self.received = bytearray()

    @property
    def frequency_hz(self) -> np.ndarray:
        stop_hz = min(self.stop_hz, self.clamp_hz)
        points = max(self.points - self.fewer_points, 1)
        return np.linspace(self.start_hz, stop_hz, points) + self.off_hz

    def __call__(self, data: bytes) -> bytes:
        raise NotImplementedError


class Shell(Unit):
    """A text shell: echo, lines, prompt."""

    def __init__(self) -> None:
        super().__init__()
        self.echo = True
        self.prompt = b"ch> "
        self.unknown: set[str] = set()
        self.missing: set[int] = set()
        """Points it answers with nan."""

    def __call__(self, data: bytes) -> bytes:
        reply = b""
        for byte in data:
            if byte == ord("\n"):
                continue
            if byte != ord("\r"):
                self.received.append(byte)
                reply += bytes([byte]) if self.echo else b""
                continue
            line = self.received.decode("ascii", "replace")
            self.received.clear()
            reply += b"\r\n" if self.echo else b""
            answer = self.answer(line) if line else []
            reply += b"".join(each.encode() + b"\r\n" for each in answer) + self.prompt
        return reply

    def answer(self, line: str) -> list[str]:
        word, *rest = line.split()
        if word in self.unknown or (word in {"sweep", "measure"} and len(rest) != 3):
            return [f"{word}?"]
        if word in {"sweep", "measure"}:
            self.start_hz, self.stop_hz, self.points = float(rest[0]), float(rest[1]), int(rest[2])
        frequencies = [f"{hz:.0f}" for hz in self.frequency_hz]
        values = [
            "nan nan" if at in self.missing else f"{value.real:.9f} {value.imag:.9f}"
            for at, value in enumerate(seen(self.frequency_hz))
        ]
        answers = {
            "info": ["a shell of five lines,", "for\x1b[2J tests"],
            "who": ["a shell with one command, for tests"],
            "sweep": [],
            "frequencies": frequencies,
            "data": values,
            "measure": [f"{hz} {value}" for hz, value in zip(frequencies, values, strict=True)],
        }
        return answers.get(word, [f"{word}?"])


class ScpiUnit(Unit):
    """SCPI: lines ended by LF, an error queue, blocks."""

    def __init__(self) -> None:
        super().__init__()
        self.errors: list[str] = []
        self.format, self.order = "ASC", ">"
        self.unknown: set[str] = set()
        self.values: dict[int, float] = {}
        """Numbers it answers in place of its own, by their place in the data."""
        self.indefinite = False

    def __call__(self, data: bytes) -> bytes:
        self.received += data
        reply = b""
        while (end := self.received.find(b"\n")) >= 0:
            line = self.received[:end].decode("ascii", "replace").strip()
            del self.received[: end + 1]
            reply += b"".join(self.answer(each) for each in line.split(";") if each)
        return reply

    def answer(self, line: str) -> bytes:
        header, _, argument = line.partition(" ")
        settings: dict[str, Callable[[], object]] = {
            "*CLS": self.errors.clear,
            "FORM:DATA": lambda: setattr(self, "format", argument),
            "FORM:BORD": lambda: setattr(self, "order", {"NORM": ">", "SWAP": "<"}[argument]),
            "SENS:FREQ:STAR": lambda: setattr(self, "start_hz", float(argument)),
            "SENS:FREQ:STOP": lambda: setattr(self, "stop_hz", float(argument)),
            "SENS:SWE:POIN": lambda: setattr(self, "points", int(argument)),
            "INIT": lambda: None,
            "INIT:CONT": lambda: None,
            "CALC:PAR:DEF": lambda: None,
        }
        queries: dict[str, Callable[[], bytes]] = {
            "*IDN?": lambda: b"tests,unit of a few lines,0,1\n",
            "*OPC?": lambda: b"1\n",
            "SYST:ERR?": lambda: (self.errors or ['0,"No error"']).pop(0).encode() + b"\n",
            "SENS:FREQ:STAR?": lambda: b"%.6E\n" % self.frequency_hz[0],
            "SENS:FREQ:STOP?": lambda: b"%.6E\n" % self.frequency_hz[-1],
            "SENS:SWE:POIN?": lambda: b"%d\n" % self.frequency_hz.size,
            "SENS:FREQ:DATA?": lambda: self.encoded(self.frequency_hz),
            "CALC:DATA?": lambda: self.encoded(self.numbers()),
        }
        if header in settings and header not in self.unknown:
            settings[header]()
            return b""
        if header in queries and header not in self.unknown:
            return queries[header]()
        self.errors.append('-113,"Undefined header"')
        return b""

    def numbers(self) -> np.ndarray:
        numbers = seen(self.frequency_hz).view(np.float64)
        numbers[list(self.values)] = list(self.values.values())
        return numbers

    def encoded(self, numbers: np.ndarray) -> bytes:
        if self.format == "ASC":
            return ",".join(f"{number:.12E}" for number in numbers).encode() + b"\n"
        size = {"REAL,32": 4, "REAL,64": 8}[self.format]
        data = numbers.astype(f"{self.order}f{size}").tobytes()
        length = b"%d" % len(data)
        head = b"#0" if self.indefinite else b"#%d%s" % (len(length), length)
        return head + data + b"\n"


class RegisterUnit(Unit):
    """Registers and a queue, with the codes of the shipped profile; records of 32 bytes."""

    def __init__(self) -> None:
        super().__init__()
        self.memory = bytearray(256)
        self.queue: list[bytes] = []
        self.at = 0
        self.leftovers = 3
        self.order: Callable[[list[int]], list[int]] = lambda points: points
        self.lost_points: set[int] = set()
        self.dead_points: set[int] = set()
        """Points at which its reference receiver sees nothing."""
        self.check_start: int | None = None

    def __call__(self, data: bytes) -> bytes:
        self.received += data
        reply = b""
        lengths = {0x0D: 1, 0x10: 2, 0x11: 2, 0x12: 2, 0x18: 3, 0x20: 3, 0x21: 4, 0x23: 10}
        while self.received and len(self.received) >= lengths.get(self.received[0], 1):
            size = lengths.get(self.received[0], 1)
            operation = bytes(self.received[:size])
            del self.received[:size]
            reply += self.obey(operation)
        return reply

    def obey(self, operation: bytes) -> bytes:
        code, address = operation[0], operation[1] if len(operation) > 1 else 0
        if code == 0x0D:
            return b"\x32"
        if code in {0x10, 0x11, 0x12}:
            return bytes(self.memory[address : address + (1, 2, 4)[code - 0x10]])
        if code == 0x18:
            return b"".join(self.record() for _ in range(operation[2]))
        if code == 0x20 and address == 0x30:
            self.queue = self.queue[-self.leftovers :] if self.leftovers else []
        elif code in {0x20, 0x21, 0x23}:
            self.memory[address : address + len(operation) - 2] = operation[2:]
            if address == 0x20:
                self.memory[0x20] -= self.fewer_points
            self.clamp()
            self.queue = [self.made(-0.9j, at) for at in range(self.points)]
        return b""

    def clamp(self) -> None:
        self.start_hz, step_hz = struct.unpack("<Q8xQ", self.memory[:24])
        self.points = struct.unpack("<H", self.memory[0x20:0x22])[0]
        self.stop_hz = self.start_hz + step_hz * (self.points - 1)
        if self.stop_hz > self.clamp_hz:
            step_hz = int((self.clamp_hz - self.start_hz) / max(self.points - 1, 1))
            self.memory[0x10:0x18] = struct.pack("<Q", max(step_hz, 0))

    def record(self) -> bytes:
        if not self.queue:
            values = max(struct.unpack("<H", self.memory[0x22:0x24])[0], 1)
            start_hz, step_hz = struct.unpack("<Q8xQ", self.memory[:24])
            truth = seen(start_hz + step_hz * np.arange(self.points, dtype=float))
            self.queue = [
                self.made(truth[at], at)
                for at in self.order(list(range(self.points)))
                for _ in range(values)
                if at not in self.lost_points
            ]
        return self.queue.pop(0)

    def made(self, reflection: complex, at: int) -> bytes:
        reference = 0 if at in self.dead_points else 30_000_000 + 4_000_000j * (at % 3)
        reflected = reflection * reference
        parts = [reference.real, reference.imag, reflected.real, reflected.imag, 7, 7]
        record = struct.pack("<6iH", *(round(part) for part in parts), at).ljust(31, b"\x55")
        check = 0x55
        if self.check_start is not None:
            check = self.check_start
            for byte in record:
                check ^= byte
        return record + bytes([check])


@dataclass(frozen=True)
class Family:
    """A profile, a unit that talks so, and how exactly it tells."""

    profile: Profile
    unit: Callable[[], Unit]
    exact_to: float

    def dialect(self) -> Dialect:
        return self.profile.dialect()


def edited(name: str, *changes: tuple[str, str]) -> Profile:
    """A shipped profile with words changed."""
    text = (resources.files("acquire.analyzer") / "profiles" / f"{name}.toml").read_text(
        encoding="utf-8"
    )
    for before, after in changes:
        assert before in text
        text = text.replace(before, after)
    return parse_profile(text, f"{name}.toml")


def made(kind: Callable[[], Unit], **settings: object) -> Callable[[], Unit]:
    """Makes units of a kind with some settings."""

    def make() -> Unit:
        unit = kind()
        for name, value in settings.items():
            assert hasattr(unit, name)
            setattr(unit, name, value)
        return unit

    return make


NO_ECHO = ("echo = true", "echo = false")
FAMILIES = {
    "prompted-pairs": Family(PROFILES["prompted-pairs"], Shell, 1e-9),
    "prompted-pairs, no echo": Family(
        edited("prompted-pairs", NO_ECHO), made(Shell, echo=False), 1e-9
    ),
    "prompted-scan": Family(PROFILES["prompted-scan"], made(Shell, prompt=b"ok> "), 1e-9),
    "prompted-scan, no echo": Family(
        edited("prompted-scan", NO_ECHO), made(Shell, prompt=b"ok> ", echo=False), 1e-9
    ),
    "scpi-ascii": Family(PROFILES["scpi-ascii"], ScpiUnit, 1e-12),
    "scpi-ascii, limits asked back": Family(
        edited("scpi-ascii", ('frequencies = "SENS:FREQ:DATA?"', "")), ScpiUnit, 1e-12
    ),
    "scpi-real64": Family(PROFILES["scpi-real64"], ScpiUnit, 1e-15),
    "scpi-real32-swapped": Family(PROFILES["scpi-real32-swapped"], ScpiUnit, 1e-7),
    "registers-queue": Family(PROFILES["registers-queue"], RegisterUnit, 1e-7),
    "registers-queue, checked": Family(
        edited("registers-queue", ('check = "none"', 'check = "xor"\ncheck_start = 0x46')),
        made(RegisterUnit, check_start=0x46),
        1e-7,
    ),
}


@pytest.fixture
def clock() -> WaitedClock:
    return WaitedClock()


@pytest.fixture(params=FAMILIES)
def family(request: pytest.FixtureRequest) -> Family:
    return FAMILIES[request.param]


@pytest.fixture
def family_named() -> Callable[[str], Family]:
    return FAMILIES.__getitem__


@pytest.fixture
def wired(clock: WaitedClock) -> Callable[[Callable[[bytes], bytes]], Wire]:
    """A wire to a unit."""
    return lambda unit: Wire(unit, clock)


@pytest.fixture
def swept() -> Callable[[Family, Any], Reading]:
    """One pass over a wire, or a real port in real time, without retries; what comes back is
    right, or it fails here."""

    def sweep(family: Family, wire: Any, *, exact_to: float | None = None) -> Reading:
        clock = wire.clock if isinstance(wire, Wire) else SystemClock()
        reading = Line(wire, clock).converse(family.dialect().sweep(REQUEST))
        assert reading.frequency_hz == pytest.approx(REQUEST.grid_hz(), abs=REQUEST.step_hz / 20)
        right = seen(REQUEST.grid_hz())
        measured = np.isfinite(reading.reflection)
        assert np.abs(reading.reflection - right)[measured].max() < (exact_to or family.exact_to)
        return reading

    return sweep
