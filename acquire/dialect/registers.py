"""One-byte operations on little-endian registers; readings from a queue of binary records."""

from __future__ import annotations

import struct
from typing import Annotated, Literal, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from acquire.dialect import Ask, Steps
from acquire.dialect.command_templates import Table, Timing
from acquire.dialect.reply_checks import checked_reading, require_frequencies
from acquire.errors import ReplyError
from acquire.sweep import ComplexArray, Reading, SweepRequest

MOST_RECORDS = 255
"""Most records one operation can ask for."""
FEWEST_RECORDS = 16
"""A few missing points are not waited for one by one."""
MOST_SWEEPS = 3
"""How many sweeps' worth of records may go by before a missing point is given up."""
WAKE_BYTES = 16
"""So many "nothing" end any operation that was cut short; the longest wants 9 more bytes."""
QUIET_S = 0.3
"""Silence after which an analyzer is taken to wait for an operation."""

Byte = Annotated[int, Field(ge=0, le=255)]


class RecordTable(Table):
    """Where things stand in a record, in bytes from its beginning."""

    bytes: Annotated[int, Field(ge=18, le=1024)]
    reference_at: Annotated[int, Field(ge=0)]
    """Real and imaginary part, 4 bytes each."""
    reflected_at: Annotated[int, Field(ge=0)]
    """Real and imaginary part, 4 bytes each."""
    point_at: Annotated[int, Field(ge=0)]
    """The point's number, 2 bytes."""
    check: Literal["none", "xor"] = "none"
    """"xor": the last byte is the exclusive or of those before it and `check_start`."""
    check_start: Byte = 0

    @model_validator(mode="after")
    def _fits(self) -> Self:
        room = self.bytes - (self.check != "none")
        for name, size in (("reference_at", 8), ("reflected_at", 8), ("point_at", 2)):
            if getattr(self, name) + size > room:
                raise ValueError(
                    f"has no room for {name} = {getattr(self, name)} with its {size} bytes in "
                    f"{room}; correct it or bytes"
                )
        return self

    @property
    def layout(self) -> np.dtype[np.void]:
        """The same for numpy."""
        # Pairs, and not strings such as "(2,)<i4": numpy parses those anew each time, which CPython
        # 3.11 cannot do in two threads at a time ("AST constructor recursion depth mismatch").
        pair = ("<i4", (2,))
        return np.dtype(
            {
                "names": ["reference", "reflected", "point"],
                "formats": [pair, pair, "<u2"],
                "offsets": [self.reference_at, self.reflected_at, self.point_at],
                "itemsize": self.bytes,
            }
        )


class RegistersWords(Table):
    """Codes of operations, addresses of registers, the record."""

    nothing: Byte
    who: Byte
    answer: Byte
    """What the analyzer answers to `who`."""
    read_1: Byte
    read_2: Byte
    read_4: Byte
    read_queue: Byte
    write_1: Byte
    write_2: Byte
    write_8: Byte
    queue: Byte
    start: Byte
    step: Byte
    points: Byte
    values: Byte
    values_per_point: Annotated[int, Field(ge=1, le=1000)] = 1
    discard_records: Annotated[int, Field(ge=0, le=65535)] | None = None
    """How many records of the sweep before may still arrive; without it, a whole sweep of them."""
    identity: dict[str, Byte] = Field(default_factory=dict)
    """What more to say of the analyzer, by name: addresses of 1-byte registers."""
    record: RecordTable


class RegistersDialect:
    """Speaks with registers."""

    any_order = True

    def __init__(self, words: RegistersWords, timing: Timing) -> None:
        self._words = words
        self._timing = timing
        self._wake = bytes([words.nothing] * WAKE_BYTES)

    def resynchronise(self) -> Steps[None]:
        """End an operation that was cut short, hear out what still comes, ask who answers."""
        yield Ask(self._wake, quiet_s=QUIET_S, deadline_s=self._timing.reply_s, fresh=True)
        yield from self._require_answer()

    def identify(self) -> Steps[str]:
        """Return the byte the analyzer answers with, and what the profile reads beside it."""
        words, reply_s = self._words, self._timing.reply_s
        yield Ask(self._wake, count=0, fresh=True)
        yield from self._require_answer()
        identity_parts = [f"unit with registers, answers 0x{words.answer:02x}"]
        for name, address in words.identity.items():
            value = yield Ask(bytes([words.read_1, address]), count=1, deadline_s=reply_s)
            identity_parts.append(f"{name} {value[0]}")
        return ", ".join(identity_parts)

    def sweep(self, request: SweepRequest) -> Steps[Reading]:
        """Take one pass; see `Dialect.sweep`. The step is set in whole hertz."""
        words = self._words
        start_hz, step_hz = round(request.start_hz), round(request.step_hz)
        yield Ask(
            self._wake
            + self._write(words.write_8, words.start, struct.pack("<Q", start_hz))
            + self._write(words.write_8, words.step, struct.pack("<Q", step_hz))
            + self._write(words.write_2, words.points, struct.pack("<H", request.points))
            + self._write(words.write_2, words.values, struct.pack("<H", words.values_per_point)),
            count=0,
            fresh=True,
        )
        yield from self._require_answer()
        set_to = yield from self._settings()
        if set_to[2] != request.points or set_to[3] != words.values_per_point:
            raise ReplyError(
                f"The analyzer set {set_to[2]} points of {set_to[3]} values, but "
                f"{request.points} of {words.values_per_point} were requested. If it sweeps no "
                "more, set limits.points in the profile."
            )
        frequency_hz = set_to[0] + set_to[1] * np.arange(request.points, dtype=np.float64)
        require_frequencies(request, frequency_hz)
        reflection = yield from self._collect(request.points)
        yield from self._require_still(set_to)
        return checked_reading(request, frequency_hz, reflection)

    def _settings(self) -> Steps[tuple[int, int, int, int]]:
        """Read start, step, points and values back: an analyzer clamps without a word."""
        reply = yield Ask(self._reads(), count=20, deadline_s=self._timing.reply_s)
        start_hz, step_hz, points, values = struct.unpack("<QQHH", reply)
        return start_hz, step_hz, points, values

    def _require_still(self, set_to: tuple[int, int, int, int]) -> Steps[None]:
        """Read who answers and the setting once more, once all records are there.

        Only if it is the same are the replies in step, no byte was lost or added on the way, and
        the analyzer has not reset itself.
        """
        wanted = bytes([self._words.answer]) + struct.pack("<QQHH", *set_to)
        asked = bytes([self._words.who]) + self._reads()
        reply = yield Ask(asked, count=len(wanted), deadline_s=self._timing.reply_s)
        if reply != wanted:
            raise ReplyError(
                "The analyzer's settings changed during the sweep: it has reset itself, "
                "or "
                "bytes were lost on the way. Sweep again. If it happens again, check the cable."
            )

    def _reads(self) -> bytes:
        """The operations that read the setting."""
        words = self._words
        reads = b"".join(
            bytes([words.read_4, address])
            for register in (words.start, words.step)
            for address in (register, (register + 4) % 256)
        )
        return reads + bytes([words.read_2, words.points, words.read_2, words.values])

    def _collect(self, points: int) -> Steps[ComplexArray]:
        """Read records until every point has all its values; average them, shape (points,).

        Records come in any order, and those thrown away first come again: the analyzer sweeps on.
        """
        words = self._words
        sweep = points * words.values_per_point
        leftovers = sweep if words.discard_records is None else words.discard_records
        yield Ask(self._write(words.write_1, words.queue, b"\0"), count=0)
        yield from self._records(leftovers)
        total = np.zeros(points, dtype=np.complex128)
        good = np.zeros(points)
        seen = np.zeros(points, dtype=np.intp)
        wanted, taken = sweep, 0
        while wanted and taken < MOST_SWEEPS * sweep:
            records = yield from self._records(min(max(wanted, FEWEST_RECORDS), MOST_RECORDS))
            taken += records.size
            point = records["point"].astype(np.intp)
            _require_points(point, points)
            reflection = _ratio(records)
            finite = np.isfinite(reflection)
            np.add.at(total, point[finite], reflection[finite])
            np.add.at(good, point[finite], 1.0)
            np.add.at(seen, point, 1)
            wanted = int(np.maximum(words.values_per_point - seen, 0).sum())
        if wanted:
            at = int(np.argmax(seen < words.values_per_point))
            raise ReplyError(
                f"Point {at + 1} of {points} never arrived complete. Sweep again. If it happens "
                "again, check words.values_per_point and words.record in the profile."
            )
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(good > 0, total / good, complex(np.nan, np.nan))

    def _records(self, count: int) -> Steps[NDArray[np.void]]:
        """Read so many records, at most 255 at a time."""
        words, record = self._words, self._words.record
        data = b""
        for begin in range(0, count, MOST_RECORDS):
            some = min(MOST_RECORDS, count - begin)
            data += yield Ask(
                bytes([words.read_queue, words.queue, some]),
                count=some * record.bytes,
                deadline_s=self._timing.deadline_s(some),
                busy_s=self._timing.busy_s(some),
            )
        if record.check == "xor":
            table = np.frombuffer(data, np.uint8).reshape(-1, record.bytes)
            if (np.bitwise_xor.reduce(table, axis=1) != record.check_start).any():
                raise ReplyError(
                    "A record's check byte is wrong: bytes were lost or changed on the way. "
                    "Sweep again. If it happens again, replace the cable."
                )
        return np.frombuffer(data, record.layout)

    def _require_answer(self) -> Steps[None]:
        words = self._words
        reply = yield Ask(bytes([words.who]), count=1, deadline_s=self._timing.reply_s)
        if reply[0] != words.answer:
            raise ReplyError(
                f"The analyzer answered 0x{reply[0]:02x} instead of 0x{words.answer:02x}: its "
                "replies are out of step, or the profile does not fit it."
            )

    @staticmethod
    def _write(code: int, address: int, value: bytes) -> bytes:
        return bytes([code, address]) + value


def _ratio(records: NDArray[np.void]) -> ComplexArray:
    """Reflected over reference; not finite where the reference receiver saw nothing."""
    parts = {
        name: records[name][:, 0].astype(np.float64) + 1j * records[name][:, 1].astype(np.float64)
        for name in ("reference", "reflected")
    }
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(parts["reflected"] / parts["reference"], dtype=np.complex128)


def _require_points(point: NDArray[np.intp], points: int) -> None:
    wrong = point[point >= points]
    if wrong.size:
        raise ReplyError(
            f"A record of point {wrong[0] + 1} came in a sweep of {points} points: it belongs to "
            "an earlier sweep, or bytes were lost. Sweep again. If it happens again, raise "
            "words.discard_records in the profile."
        )
