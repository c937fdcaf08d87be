"""A simulated analyzer: a way of talking, over a receiver with errors, over a port.

It is written from the wire's description (docs/wiring-a-profile.md) and shares no code with
the dialects that talk to it, nor their profiles, so that each checks the other. What each
virtual analyzer can do, and its words, stand in a data file beside this module.

Time is told to it (`feed`, `take`), so that a minute of sweeping can pass in no time.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any

from replay.errors import VirtualAnalyzerError
from replay.virtual_analyzer.prompted import PromptedWire, PromptedWords
from replay.virtual_analyzer.receiver import Port, Receiver
from replay.virtual_analyzer.registers import RegistersWire, RegisterWords
from replay.virtual_analyzer.scpi import ScpiWire, ScpiWords
from replay.virtual_analyzer.wire import Wire

FORMAT = 1
BENCH = "bench"
"""The virtual bench's own, which speaks words of its own."""
CHARACTERS = (BENCH, "prompted", "scan", "scpi", "registers")
"""The analyzers there are. Those after the bench's own speak the words of shipped profiles, to
prove them: a text shell, one that answers all at once, SCPI, and registers."""

Words = PromptedWords | ScpiWords | RegisterWords


@dataclass(frozen=True, slots=True)
class AnalyzerDescription:
    """What one virtual analyzer can do and how it talks."""

    character: str
    identity: tuple[str, ...]
    """What it says it is, line by line; it never poses as hardware."""
    low_hz: float
    high_hz: float
    points: int
    seconds_per_point: float
    range_steps_hz: tuple[float, ...]
    """Frequencies where it switches range and its error terms step."""
    rounding_hz: float
    """Its frequencies are whole multiples of this."""
    words: Words


class VirtualAnalyzer:
    """One simulated analyzer; give it what is on its port."""

    def __init__(
        self,
        port: Port,
        character: str = BENCH,
        *,
        seed: int = 1,
        noise: float = 1e-3,
        points: int | None = None,
        speed: float = 1.0,
        drift_per_hour: float = 0.0,
        powered_s: float = 0.0,
    ) -> None:
        """Make an analyzer.

        character : one of `CHARACTERS`. seed : of its errors and its noise. noise : rms of
        the complex noise on a reading, linear. points : most points it takes a sweep, if
        other than its own. speed : how many times faster it sweeps than its own.
        drift_per_hour : change of its tracking, in size and in radians. powered_s : when it
        was switched on, on the port's clock; before that it has swept nothing.
        Raises UnitError if there is no such analyzer, or a value makes no sense.
        """
        possible = 0 <= noise < math.inf and 0 < speed < math.inf and math.isfinite(drift_per_hour)
        if not possible or seed < 0 or (points is not None and not 2 <= points <= 65535):
            raise VirtualAnalyzerError(
                f"A virtual analyzer cannot have seed {seed}, noise {noise:g}, {points} points, "
                f"speed "
                f"{speed:g} and drift {drift_per_hour:g}: seed and noise are 0 or more, points "
                "2 to 65535, speed above 0, and all of them finite."
            )
        described = describe(character)
        self.description = replace(
            described,
            points=described.points if points is None else points,
            seconds_per_point=described.seconds_per_point / speed,
        )
        self.receiver = Receiver(
            port,
            seed=seed,
            range_steps_hz=described.range_steps_hz,
            noise=noise,
            drift_per_hour=drift_per_hour,
            powered_s=powered_s,
        )
        self._limits = self.description
        self._wire = wire(self.receiver, self.description)

    @property
    def limits(self) -> AnalyzerDescription:
        """What it does with a setting: as described, unless a fault is rehearsed."""
        return self._limits

    @limits.setter
    def limits(self, limits: AnalyzerDescription) -> None:
        self._limits = limits
        self._wire.limits = limits

    def feed(self, data: bytes, now_s: float) -> None:
        """Receive bytes from the program."""
        self._wire.feed(data, now_s)

    def take(self, now_s: float) -> bytes:
        """Return the next piece of what it has answered by now; b"" if there is none."""
        return self._wire.take(now_s)

    def due_s(self) -> float | None:
        """When its next bytes appear; None if only a command could make some appear."""
        return self._wire.due_s()


def wire(receiver: Receiver, description: AnalyzerDescription) -> Wire:
    """Put the described way of talking in front of a receiver."""
    match description.words:
        case PromptedWords() as words:
            return PromptedWire(receiver, description, words, description.identity)
        case ScpiWords() as words:
            return ScpiWire(receiver, description, words, description.identity[0])
        case RegisterWords() as words:
            return RegistersWire(receiver, description, words)


@cache
def describe(character: str) -> AnalyzerDescription:
    """Read a virtual analyzer's data file; raises UnitError if there is no such analyzer."""
    if character not in CHARACTERS:
        raise VirtualAnalyzerError(
            f"There is no virtual analyzer {character!r}: choose one of {', '.join(CHARACTERS)}."
        )
    text = (
        resources.files("replay.virtual_analyzer")
        .joinpath(f"{character}.toml")
        .read_text(encoding="utf-8")
    )
    return parse_description(text, character)


def parse_description(text: str, character: str) -> AnalyzerDescription:
    """Make a description of a data file's text; raises UnitError if it is of a newer format."""
    data = tomllib.loads(text)
    if data["format"] != FORMAT:
        raise VirtualAnalyzerError(
            f"The virtual analyzer {character!r} is described in format {data['format']}, and this "
            f"program knows format {FORMAT}: use a program as new as the file."
        )
    limits = data["limits"]
    return AnalyzerDescription(
        character=character,
        identity=tuple(data["identity"]),
        low_hz=limits["low_mhz"] * 1e6,
        high_hz=limits["high_mhz"] * 1e6,
        points=limits["points"],
        seconds_per_point=limits["seconds_per_point"],
        range_steps_hz=tuple(mhz * 1e6 for mhz in limits["range_steps_mhz"]),
        rounding_hz=limits["rounding_hz"],
        words=parse_words(data["family"], data["words"]),
    )


def parse_words(family: str, words: dict[str, Any]) -> Words:
    """The words of one family."""
    if family == "prompted":
        return PromptedWords(**words)
    if family == "scpi":
        return ScpiWords(**words)
    sized: dict[str, Any] = {
        table: {int(size): code for size, code in words[table].items()}
        for table in ("read", "write")
    }
    return RegisterWords(**{**words, **sized})
