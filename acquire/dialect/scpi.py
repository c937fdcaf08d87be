"""SCPI-1999 over IEEE 488.2: set, trigger, wait until done, read, ask for errors.

Sources: IEEE 488.2 sections 10.3 (*CLS), 10.14 (*IDN?), 10.19 (*OPC?), 8.7.9 (definite-length
block), 8.7.10 (indefinite); SCPI-1999 volume 2 section 21.8 (SYSTem:ERRor), volume 1 section
7.2.1 (9.91E37 stands for not a number). [memory]
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from acquire.dialect import Ask, Steps
from acquire.dialect.command_templates import PlacedCommand, Table, Timing, filled, one_line
from acquire.dialect.reply_checks import checked_reading, quoted, written_alike
from acquire.errors import NoReplyError, ReplyError
from acquire.number_text import decimals
from acquire.sweep import FloatArray, Reading, SweepRequest

LINE_ENDS = {"LF": b"\n", "CR LF": b"\r\n"}
FORMATS = {"ascii": "ASC", "real32": "REAL,32", "real64": "REAL,64"}
BYTE_ORDERS = {"normal": "NORM", "swapped": "SWAP"}
QUIET_S = 0.3
"""Silence after which an analyzer is taken to wait for a command."""
MOST_ERRORS = 40
"""An error queue has a few dozen places; one that does not end is something else."""
STAND_FOR_NO_NUMBER = (9.9e37, 9.91e37)
"""By these SCPI means infinity, and not a number."""

# An error's number is one of 16 bits [SCPI-1999, 21.8: memory]; Python refuses to read thousands.
_ENTRY = re.compile(r'\s*([+-]?[0-9]{1,6})\s*,\s*"(.*)"\s*')

Query = Annotated[str, Field(pattern=r"^[^?]+\?.*$"), one_line]


class ScpiWords(Table):
    """What to say to such an analyzer."""

    line_end: Literal["LF", "CR LF"] = "LF"
    identify: Query = "*IDN?"
    prepare: Annotated[tuple[Annotated[str, one_line], ...], Field(strict=False)] = ()
    """Sent before every sweep, in order: what is measured, and that the analyzer waits."""
    start: PlacedCommand = "SENS:FREQ:STAR {start_hz}"
    stop: PlacedCommand = "SENS:FREQ:STOP {stop_hz}"
    points: PlacedCommand = "SENS:SWE:POIN {points}"
    trigger: Annotated[str, one_line] = "INIT"
    frequencies: Query | Literal[""] = ""
    """Answers all frequencies; without it start, stop and points are asked back."""
    reflection: Query
    """Answers real and imaginary parts in turn."""
    data: Literal["ascii", "real32", "real64"] = "ascii"
    byte_order: Literal["normal", "swapped"] = "normal"
    """Of real32 and real64: most significant byte first, or least."""


class ScpiDialect:
    """Speaks SCPI."""

    any_order = False

    def __init__(self, words: ScpiWords, timing: Timing) -> None:
        self._words = words
        self._timing = timing
        self._line_end = LINE_ENDS[words.line_end]

    def resynchronise(self) -> Steps[None]:
        """End a message that was half sent, hear out what still comes, empty the error queue."""
        yield Ask(self._line_end, quiet_s=QUIET_S, deadline_s=self._timing.reply_s, fresh=True)
        yield from self._begin()

    def identify(self) -> Steps[str]:
        """Return what the analyzer says it is."""
        yield from self._begin()
        return (yield from self._query(self._words.identify, self._timing.reply_s)).strip()

    def sweep(self, request: SweepRequest) -> Steps[Reading]:
        """Take one pass; see `Dialect.sweep`."""
        words, timing = self._words, self._timing
        deadline_s = timing.deadline_s(request.points)
        yield from self._begin()
        settings = [*words.prepare, f"FORM:DATA {FORMATS[words.data]}"]
        if words.data != "ascii":
            settings.append(f"FORM:BORD {BYTE_ORDERS[words.byte_order]}")
        settings += [filled(each, request) for each in (words.start, words.stop, words.points)]
        for setting in settings:
            yield self._tell(setting)
        yield from self._require_no_error()
        # In one message, so that no answer to *OPC? comes where the trigger was lost: what is read
        # then would be the sweep before.
        trigger = f"{words.trigger};*OPC?"
        done = yield from self._query(trigger, deadline_s, timing.busy_s(request.points))
        if done.strip().removeprefix("+") != "1":
            raise ReplyError(
                f'The analyzer answered {quoted(done)} to "*OPC?", not 1: its replies are out of '
                f"step. "
                "Sweep again."
            )
        values, alike = yield from self._numbers(words.reflection, 2 * request.points, deadline_s)
        # Asked last: an analyzer that reset itself on the way sweeps something else by now.
        frequency_hz = yield from self._frequencies(request)
        yield from self._require_no_error()
        values = np.where(_is_no_number(values), np.nan, values)
        return checked_reading(request, frequency_hz, values.view(np.complex128), alike=alike)

    def _frequencies(self, request: SweepRequest) -> Steps[FloatArray]:
        """Ask the analyzer what it is set to, since some clamp what they cannot do."""
        words, reply_s = self._words, self._timing.reply_s
        if words.frequencies:
            deadline_s = self._timing.deadline_s(request.points)
            return (yield from self._numbers(words.frequencies, request.points, deadline_s))[0]
        set_to = []
        for setting in (words.start, words.stop, words.points):
            query = setting.split()[0] + "?"
            answer = yield from self._query(query, reply_s)
            set_to += _parsed(answer, query)
        if len(set_to) != 3 or not 2 <= set_to[2] <= 1e6:
            raise ReplyError("The analyzer did not report start, stop and points. Sweep again.")
        return np.linspace(set_to[0], set_to[1], int(set_to[2]))

    def _begin(self) -> Steps[None]:
        """Empty the error queue; what comes before its first entry is left over from before."""
        ask = self._ask("*CLS", "SYST:ERR?", deadline_s=self._timing.reply_s, fresh=True)
        for _ in range(MOST_ERRORS):
            entry = _ENTRY.fullmatch((yield ask).decode("ascii", "replace"))
            if entry and int(entry[1]) == 0:
                return
            if entry:
                ask = self._ask("SYST:ERR?", deadline_s=self._timing.reply_s)
            else:
                ask = Ask(until=b"\n", deadline_s=self._timing.reply_s)
        raise ReplyError("The analyzer's error queue never empties. Switch it off and on again.")

    def _require_no_error(self) -> Steps[None]:
        """Read the error queue until it is empty; raises ReplyError for what was in it."""
        complaints: list[str] = []
        for _ in range(MOST_ERRORS):
            reply = yield self._ask("SYST:ERR?", deadline_s=self._timing.reply_s)
            entry = _ENTRY.fullmatch(reply.decode("ascii", "replace"))
            if entry is None:
                raise ReplyError(
                    f"The analyzer answered {quoted(reply.decode('ascii', 'replace'))} to "
                    f'"SYST:ERR?": '
                    "its replies are out of step. Sweep again."
                )
            if int(entry[1]) == 0:
                break
            complaints.append(f"{entry[1]}, {quoted(entry[2])}")
        if complaints:
            raise ReplyError(
                f"The analyzer refused: error {'; '.join(complaints[:3])}. Correct the words or "
                f"the "
                "limits in the profile."
            )

    def _query(self, command: str, deadline_s: float, busy_s: float = 0.0) -> Steps[str]:
        """Ask one question; the answer is one line."""
        try:
            reply = yield self._ask(command, deadline_s=deadline_s, busy_s=busy_s)
        except NoReplyError:
            yield from self._require_no_error()
            raise
        return reply.decode("ascii", "replace")

    def _numbers(
        self, command: str, count: int, deadline_s: float
    ) -> Steps[tuple[FloatArray, bool]]:
        """Ask for so many numbers, in the format that was set, shape (count,); written alike?"""
        if self._words.data != "ascii":
            return (yield from self._block(command, count, deadline_s)), True
        text = yield from self._query(command, deadline_s)
        row = text.strip().replace(",", " ") + "\n"
        quickly = decimals(row.encode("ascii", "replace"), count)
        if quickly is not None and len(quickly) == 1:
            return quickly[0], True
        values = _parsed(text, command)
        if len(values) != count:
            raise ReplyError(
                f'The analyzer answered {len(values)} numbers to "{command}" instead of {count}. '
                "If it sweeps fewer points, set limits.points in the profile."
            )
        return np.array(values, dtype=np.float64), written_alike(text)

    def _block(self, command: str, count: int, deadline_s: float) -> Steps[FloatArray]:
        """Read a definite-length block: #, one digit, so many digits, so many bytes, a line end."""
        size = 4 if self._words.data == "real32" else 8
        try:
            head = yield Ask(
                command.encode("ascii") + self._line_end, count=2, deadline_s=deadline_s
            )
        except NoReplyError:
            yield from self._require_no_error()
            raise
        if head == b"#0":
            raise ReplyError(
                "The analyzer sent a block without its length (#0), whose end cannot be told from "
                "its "
                'data on a serial line. Write data = "ascii" in the profile.'
            )
        if head[:1] != b"#" or not head[1:].isdigit():
            raise ReplyError(
                f'The reply to "{command}" begins with {quoted(repr(head))}, not with a block. '
                'Sweep again. If it happens again, write data = "ascii" in the profile.'
            )
        digits = yield Ask(count=int(head[1:]), deadline_s=deadline_s)
        if not digits.isdigit() or int(digits) != count * size:
            raise ReplyError(
                f"The analyzer announced {quoted(digits.decode('ascii', 'replace'))} bytes to "
                f'"{command}" where {count} numbers of {size} bytes were due. If it sweeps fewer '
                "points, write their number as limits.points in the profile."
            )
        data = yield Ask(count=count * size, deadline_s=deadline_s)
        if (yield Ask(until=b"\n", deadline_s=deadline_s)) not in {b"\n", b"\r\n"}:
            raise ReplyError("The analyzer's block is longer than it announced. Sweep again.")
        order = ">" if self._words.byte_order == "normal" else "<"
        with np.errstate(invalid="ignore"):  # a signalling nan, made by what disturbed the line
            return np.frombuffer(data, f"{order}f{size}").astype(np.float64)

    def _tell(self, command: str) -> Ask:
        """A command that is answered by nothing."""
        return Ask(command.encode("ascii") + self._line_end, count=0)

    def _ask(
        self, *commands: str, deadline_s: float, busy_s: float = 0.0, fresh: bool = False
    ) -> Ask:
        data = b"".join(command.encode("ascii") + self._line_end for command in commands)
        return Ask(data, until=b"\n", deadline_s=deadline_s, busy_s=busy_s, fresh=fresh)


def _is_no_number(values: FloatArray) -> NDArray[np.bool_]:
    """Where an analyzer says that a point was not measured: by just these numbers, or by IEEE's
    own.

    Other large ones are what bytes lost on the way made; they are refused with the rest.
    """
    with np.errstate(invalid="ignore"):  # a signalling nan, made by what disturbed the line
        size = np.abs(values)
        stands_for_none = [np.abs(size - each) <= 1e-6 * each for each in STAND_FOR_NO_NUMBER]
    return ~np.isfinite(values) | stands_for_none[0] | stands_for_none[1]


def _parsed(line: str, command: str) -> list[float]:
    """Numbers with commas between; what is none is refused."""
    if not re.fullmatch(r"[0-9+\-.eEnaNA, \t\r\n]*", line):
        raise _no_numbers(line, command)
    try:
        return [float(word) for word in line.split(",")]
    except ValueError:
        raise _no_numbers(line, command) from None


def _no_numbers(line: str, command: str) -> ReplyError:
    return ReplyError(
        f'The analyzer answered {quoted(line)} to "{command}", which are no numbers with commas '
        "between. Sweep again. If it happens again, check the words in the profile."
    )
