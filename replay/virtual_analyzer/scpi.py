"""The virtual analyzer's SCPI-1999: lines over IEEE 488.2, ASCII or definite blocks.

Written from the wire's description in docs/wiring-a-profile.md and from the standards
[memory], without a look at the dialect that is to talk to it.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acquire.sweep import FloatArray
from replay.virtual_analyzer.receiver import Receiver, Sweeping
from replay.virtual_analyzer.wire import Limits, Wire

ERROR_PLACES = 10
"""Room in the error queue; SCPI-1999 then overwrites the last with -350."""

NOT_A_NUMBER = 9.91e37
"""What SCPI-1999 sends where there is none (volume 1, 7.2.1) [memory]."""
NO_ERROR = '0,"No error"'
FORMATS: dict[str, Literal["ASC", "f4", "f8"]] = {
    "ASC": "ASC",
    "ASCII": "ASC",
    "REAL,32": "f4",
    "REAL,64": "f8",
    "REAL": "f8",
}
BYTE_ORDERS: dict[str, Literal[">", "<"]] = {
    "NORM": ">",
    "NORMAL": ">",
    "SWAP": "<",
    "SWAPPED": "<",
}
SUFFIX_HZ = {"": 1.0, "HZ": 1.0, "KHZ": 1e3, "MHZ": 1e6, "GHZ": 1e9}


@dataclass(frozen=True, slots=True)
class ScpiWords:
    """The headers of one such analyzer, in SCPI's own notation: long forms with the short one in
    capitals, optional nodes in brackets."""

    start: str
    stop: str
    points: str
    initiate: str
    continuous: str
    parameter: str
    """Choosing what is measured; takes the value in `reflection_parameter`."""
    reflection_parameter: str
    frequencies: str
    reflection: str
    format: str = "FORMat[:DATA]"
    border: str = "FORMat:BORDer"
    error: str = "SYSTem:ERRor[:NEXT]"


class ScpiError(Exception):
    """An entry for the error queue."""


class ScpiWire(Wire):
    """A SCPI parser in front of a receiver."""

    def __init__(self, receiver: Receiver, limits: Limits, words: ScpiWords, identity: str) -> None:
        super().__init__(receiver, limits)
        self._identity = identity
        self._errors: deque[str] = deque()
        self._words = words
        self._commands: list[tuple[re.Pattern[str], Callable[[str, float], None]]] = [
            (header_pattern(header), obey)
            for header, obey in {
                words.start: self._set_start,
                words.stop: self._set_stop,
                words.points: self._set_points,
                words.initiate: self._initiate,
                words.continuous: self._set_continuous,
                words.parameter: self._set_parameter,
                words.format: self._set_format,
                words.border: self._set_border,
                "*RST": lambda _argument, _at_s: self._reset(),
                "*CLS": lambda _argument, _at_s: self._errors.clear(),
                "*WAI": self._wait,
            }.items()
        ]
        self._queries: list[tuple[re.Pattern[str], Callable[[str, float], None]]] = [
            (header_pattern(header), answer)
            for header, answer in {
                "*IDN": lambda _argument, _at_s: self._send_line(self._identity),
                "*OPC": self._send_when_done,
                words.error: lambda _argument, _at_s: self._send_line(self._next_error()),
                words.start: lambda _argument, _at_s: self._send_line(f"{self._start_hz:.9E}"),
                words.stop: lambda _argument, _at_s: self._send_line(f"{self._stop_hz:.9E}"),
                words.points: lambda _argument, _at_s: self._send_line(str(self._points)),
                words.frequencies: self._send_frequencies,
                words.reflection: self._send_reflection,
            }.items()
        ]
        self._reset()
        self._repeats = True  # on power-up it sweeps by itself; *RST stops that
        self._restart(receiver.powered_s)

    def obey(self, at_s: float) -> bool:
        """Take one message analyzer: up to a semicolon or the LF that ends the message."""
        end = next((at for at, byte in enumerate(self.inbox) if byte in b";\n"), None)
        if end is None:
            return False
        message = self.inbox[:end].decode("ascii", "replace").strip()
        del self.inbox[: end + 1]
        if message:
            try:
                self._carry_out(message, at_s)
            except ScpiError as entry:
                self._complain(str(entry))
        return True

    def _carry_out(self, message: str, at_s: float) -> None:
        header, _, argument = message.partition(" ")
        asks = header.endswith("?")
        table = self._queries if asks else self._commands
        name = header.rstrip("?").removeprefix(":").upper()
        # a query's argument can belong to its words: CALC:DATA? SDATA
        whole = f"{name} {argument.strip().upper()}"
        for pattern, obey in table:
            if pattern.fullmatch(name) or (asks and pattern.fullmatch(whole)):
                obey(argument.strip(), at_s)
                return
        raise ScpiError('-113,"Undefined header"')

    def _reset(self) -> None:
        self._start_hz, self._stop_hz = self.limits.low_hz, self.limits.high_hz
        self._points = min(201, self.limits.points)
        self._format: Literal["ASC", "f4", "f8"] = "ASC"
        self._byte_order: Literal[">", "<"] = ">"
        self._repeats = False
        self._running: Sweeping | None = None
        self._held: tuple[Sweeping, int] | None = None

    def _grid_hz(self) -> FloatArray:
        return self.clamped_grid_hz(self._start_hz, self._stop_hz, self._points)

    def _set_start(self, argument: str, at_s: float) -> None:
        self._start_hz = self._in_range(frequency_hz(argument))
        self._restart(at_s)

    def _set_stop(self, argument: str, at_s: float) -> None:
        self._stop_hz = self._in_range(frequency_hz(argument))
        self._restart(at_s)

    def _in_range(self, hz: float) -> float:
        if not self.limits.low_hz <= hz <= self.limits.high_hz:
            raise ScpiError('-222,"Data out of range"')
        return hz

    def _set_points(self, argument: str, at_s: float) -> None:
        if not argument.isdigit():
            raise ScpiError('-104,"Data type error"')
        if not 2 <= int(argument) <= self.limits.points:
            raise ScpiError('-222,"Data out of range"')
        self._points = int(argument)
        self._restart(at_s)

    def _set_continuous(self, argument: str, at_s: float) -> None:
        if argument.upper() not in {"ON", "OFF", "1", "0"}:
            raise ScpiError('-224,"Illegal parameter value"')
        self._hold(at_s)
        self._repeats = argument.upper() in {"ON", "1"}
        self._running = None
        self._restart(at_s)

    def _restart(self, at_s: float) -> None:
        """After a new setting: an analyzer left alone sweeps over it at once, others wait."""
        self._hold(at_s)
        self._running = None
        if self._repeats and self._start_hz < self._stop_hz:
            self._running = self.begin(self._grid_hz(), at_s)

    def _initiate(self, _argument: str, at_s: float) -> None:
        self._hold(at_s)
        if self._repeats or at_s < self._done_s(at_s):
            raise ScpiError('-213,"Init ignored"')
        if self._start_hz >= self._stop_hz:
            raise ScpiError('-221,"Settings conflict"')
        self._running = self.begin(self._grid_hz(), at_s)

    def _hold(self, at_s: float) -> None:
        """Put the newest finished sweep into the memory that is read out."""
        if self._running is not None and (finished := self._running.finished_by(at_s)):
            self._held = (self._running, finished - 1 if self._repeats else 0)

    def _done_s(self, at_s: float) -> float:
        """When all that was begun is done; an analyzer that repeats is never waited for."""
        if self._running is None or self._repeats:
            return at_s
        return max(at_s, self._running.ends_s(0))

    def _set_parameter(self, argument: str, _at_s: float) -> None:
        if argument.strip("\"'").upper() != self._words.reflection_parameter.upper():
            raise ScpiError('-224,"Illegal parameter value"')

    def _set_format(self, argument: str, _at_s: float) -> None:
        wanted = argument.upper().replace(" ", "")
        if wanted not in FORMATS:
            raise ScpiError('-224,"Illegal parameter value"')
        self._format = FORMATS[wanted]

    def _set_border(self, argument: str, _at_s: float) -> None:
        if argument.upper() not in BYTE_ORDERS:
            raise ScpiError('-224,"Illegal parameter value"')
        self._byte_order = BYTE_ORDERS[argument.upper()]

    def _wait(self, _argument: str, at_s: float) -> None:
        self.answer_at(self._done_s(at_s), lambda: b"")

    def _send_when_done(self, _argument: str, at_s: float) -> None:
        self.answer_at(self._done_s(at_s), lambda: b"1\n")

    def _send_frequencies(self, _argument: str, _at_s: float) -> None:
        self.outbox += self._encoded(self._grid_hz())

    def _send_reflection(self, _argument: str, at_s: float) -> None:
        self._hold(at_s)
        if self._held is None:
            raise ScpiError('-230,"Data corrupt or stale"')
        self.outbox += self._encoded(self.receiver.read(*self._held).view(np.float64))

    def _encoded(self, numbers: FloatArray) -> bytes:
        numbers = np.where(np.isfinite(numbers), numbers, NOT_A_NUMBER)
        if self._format == "ASC":
            return ",".join(f"{number:.12E}" for number in numbers).encode("ascii") + b"\n"
        data = numbers.astype(self._byte_order + self._format).tobytes()
        length = str(len(data)).encode("ascii")
        return b"#%d%s%s\n" % (len(length), length, data)

    def _send_line(self, line: str) -> None:
        self.outbox += line.encode("ascii") + b"\n"

    def _complain(self, entry: str) -> None:
        if len(self._errors) == ERROR_PLACES:
            self._errors[-1] = '-350,"Queue overflow"'
        else:
            self._errors.append(entry)

    def _next_error(self) -> str:
        return self._errors.popleft() if self._errors else NO_ERROR


def header_pattern(notation: str) -> re.Pattern[str]:
    """A pattern for the short and the long form of every word, with its optional nodes.

    `[SENSe:]FREQuency:STARt` is matched by `SENS:FREQ:STAR`, `FREQUENCY:START` and so on, but
    by nothing between the short and the long form.
    """
    pattern = ""
    for word in re.findall(r"[A-Za-z]+|[^A-Za-z]", notation.replace("?", "")):
        if word == "[":
            pattern += "(?:"
        elif word == "]":
            pattern += ")?"
        elif word.isalpha():
            short = "".join(letter for letter in word if letter.isupper())
            pattern += f"(?:{short}|{word.upper()})"
        else:
            pattern += re.escape(word)
    return re.compile(pattern)


def frequency_hz(argument: str) -> float:
    """A frequency as SCPI writes it, with or without an analyzer; raises ScpiError."""
    match = re.fullmatch(r"([-+]?\d+\.?\d*(?:[eE][-+]?\d+)?)\s*([a-zA-Z]*)", argument)
    if match is None:
        raise ScpiError('-104,"Data type error"' if argument else '-109,"Missing parameter"')
    number, suffix = match.groups()
    if suffix.upper() not in SUFFIX_HZ:
        raise ScpiError('-131,"Invalid suffix"')
    return float(number) * SUFFIX_HZ[suffix.upper()]
