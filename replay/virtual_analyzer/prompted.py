"""The virtual analyzer's text shell: commands echoed, answered in lines, closed by a prompt.

Written from the wire's description in docs/wiring-a-profile.md, without a look at the dialect
that is to talk to it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from replay.virtual_analyzer.receiver import Receiver
from replay.virtual_analyzer.wire import Limits, Sweeper, Wire

LINE_END = b"\r\n"
LONGEST_LINE = 120
"""What the shell has room for; the rest of a longer line is dropped."""


@dataclass(frozen=True, slots=True)
class PromptedWords:
    """The words of one such analyzer; an empty one is a command it does not have."""

    prompt: str
    identify: str
    echo: bool = True
    set_sweep: str = ""
    frequencies: str = ""
    reflection: str = ""
    all_at_once: str = ""
    leftovers: bool = True
    """Whether the first reading after a setting is still the sweep before."""


class PromptedWire(Wire):
    """A text shell in front of a receiver."""

    def __init__(
        self, receiver: Receiver, limits: Limits, words: PromptedWords, identity: tuple[str, ...]
    ) -> None:
        super().__init__(receiver, limits)
        self._words = words
        self._identity = identity
        self._line = bytearray()
        grid_hz = self.clamped_grid_hz(limits.low_hz, limits.high_hz, limits.points)
        at_power_up = self.begin(grid_hz, receiver.powered_s)
        self._sweeper = Sweeper(receiver, at_power_up, leftovers=words.leftovers)

    def obey(self, at_s: float) -> bool:
        """Take one character: echo it, and at CR carry out the line."""
        if not self.inbox:
            return False
        character = self.inbox.pop(0)
        if character == ord("\n"):
            return True  # of a CR LF; the line was carried out at its CR
        if character == ord("\r"):
            line = self._line.decode("latin-1").strip()
            self._line.clear()
            if self._words.echo:
                self.outbox += LINE_END
            self._carry_out(line, at_s)
        elif len(self._line) < LONGEST_LINE:
            self._line.append(character)
            if self._words.echo:
                self.outbox.append(character)
        return True

    def _carry_out(self, line: str, at_s: float) -> None:
        words = self._words
        if not line:
            self._answer([])
        elif line == words.identify:
            self._answer(list(self._identity))
        elif words.frequencies and line == words.frequencies:
            self._answer([f"{hz:.0f}" for hz in self._sweeper.sweeping.frequency_hz])
        elif words.reflection and line == words.reflection:
            due_s = self._sweeper.next_s(at_s)
            self.answer_at(due_s, lambda: self._closed(pairs(self._sweeper.take(due_s))))
        elif (numbers := numbers_of(words.set_sweep, line)) is not None:
            grid = self._grid_hz(numbers)
            if grid is None:
                self._answer([refusal(words.set_sweep)])
                return
            self._sweeper.set(self.begin(grid, at_s), at_s)
            self._answer([])
        elif (numbers := numbers_of(words.all_at_once, line)) is not None:
            grid = self._grid_hz(numbers)
            if grid is None:
                self._answer([refusal(words.all_at_once)])
                return
            once = self.begin(grid, at_s)
            self.answer_at(
                once.ends_s(0), lambda: self._closed(triples(grid, self.receiver.read(once, 0)))
            )
        else:
            self._answer([f"{line.split(maxsplit=1)[0]}?"])

    def _grid_hz(self, numbers: list[int]) -> FloatArray | None:
        if len(numbers) != 3:
            return None
        grid = self.clamped_grid_hz(numbers[0], numbers[1], numbers[2])
        return grid if np.diff(grid).min() > 0 else None

    def _answer(self, lines: list[str]) -> None:
        self.outbox += self._closed(lines)

    def _closed(self, lines: list[str]) -> bytes:
        body = b"".join(line.encode("latin-1") + LINE_END for line in lines)
        return body + self._words.prompt.encode("ascii")


def numbers_of(template: str, line: str) -> list[int] | None:
    """The whole numbers behind a command's word; None if the line is another command.

    An empty list means that it is this command, but not as the analyzer wants it.
    """
    if not template or template.split(maxsplit=1)[0] != line.split(maxsplit=1)[0]:
        return None
    pattern = re.sub(r"\\\{\w+\\\}", r"(\\d{1,12})", re.escape(template))
    match = re.fullmatch(pattern, line)
    return [] if match is None else [int(number) for number in match.groups()]


def refusal(template: str) -> str:
    """What the analyzer says to a command it knows but cannot carry out so."""
    return re.sub(r"\{(\w+)\}", r"\1", template) + "?"


def pairs(reflection: ComplexArray) -> list[str]:
    """One `real imaginary` pair a line."""
    return [f"{value.real:.9f} {value.imag:.9f}" for value in reflection]


def triples(frequency_hz: FloatArray, reflection: ComplexArray) -> list[str]:
    """One `frequency real imaginary` a line."""
    return [f"{hz:.0f} {pair}" for hz, pair in zip(frequency_hz, pairs(reflection), strict=True)]
