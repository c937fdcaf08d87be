"""The virtual analyzer's registers: one-byte operations, little-endian values, a queue of records.

Written from the wire's description in docs/wiring-a-profile.md, without a look at the dialect
that is to talk to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import ComplexArray, FloatArray
from replay.virtual_analyzer.receiver import TOP_HZ, Receiver, Sweeping
from replay.virtual_analyzer.wire import Limits, Wire

REFERENCE_COUNTS = 3e7
"""What the reference receiver reads at low frequency, of the 2.1e9 that 32 bits hold."""
SHUFFLE_SPAN = 8
"""Records arrive in some order within so many neighbours."""
QUEUE_PLACES = 4096
"""Room in the queue; when it is full, the oldest record is lost."""


@dataclass(frozen=True, slots=True)
class RegisterWords:
    """Codes, addresses and the layout of a record of one such analyzer."""

    nothing: int
    who: int
    answer: int
    """The byte that says who answers."""
    read: dict[int, int]
    """Code of "read so many bytes", by how many."""
    write: dict[int, int]
    """Code of "write so many bytes", by how many."""
    read_queue: int
    queue_address: int
    start_address: int
    step_address: int
    points_address: int
    values_address: int
    record_bytes: int
    reference_at: int
    reflected_at: int
    transmitted_at: int
    point_at: int
    check: Literal["", "xor"] = ""
    check_start: int = 0
    leftover_records: int = 0
    """How many records of the sweep before still arrive after a change."""


class RegistersWire(Wire):
    """An interpreter of one-byte operations in front of a receiver."""

    def __init__(self, receiver: Receiver, limits: Limits, words: RegisterWords) -> None:
        super().__init__(receiver, limits)
        self._words = words
        self._memory = bytearray(256)
        self._reads = {code: size for size, code in words.read.items()}
        self._writes = {code: size for size, code in words.write.items()}
        self._leftover: list[bytes] = []
        step_hz = (limits.high_hz - limits.low_hz) / 100.0
        self._put(words.start_address, 8, round(limits.low_hz))
        self._put(words.step_address, 8, round(step_hz))
        self._put(words.points_address, 2, min(101, limits.points))
        self._put(words.values_address, 2, 1)
        self._sweeping = self._begin_as_set(receiver.powered_s)
        self._read_records = 0

    def obey(self, at_s: float) -> bool:
        """Take one operation with its arguments, once all of them are there."""
        if not self.inbox:
            return False
        words, code = self._words, self.inbox[0]
        if code == words.who:
            del self.inbox[0]
            self.outbox.append(words.answer)
        elif code in self._reads:
            arguments = self._arguments(1)
            if arguments is None:
                return False
            at = arguments[0]
            self.outbox += (self._memory + bytes(8))[at : at + self._reads[code]]
        elif code == words.read_queue:
            arguments = self._arguments(2)
            if arguments is None:
                return False
            self._give_records(arguments[1], at_s)
        elif code in self._writes:
            arguments = self._arguments(1 + self._writes[code])
            if arguments is None:
                return False
            self._write(arguments[0], arguments[1:], at_s)
        else:
            del self.inbox[0]  # "nothing", or no operation: passed over
        return True

    def _arguments(self, count: int) -> bytes | None:
        """Take an operation with so many bytes behind it; None if they are not there yet."""
        if len(self.inbox) < 1 + count:
            return None
        arguments = bytes(self.inbox[1 : 1 + count])
        del self.inbox[: 1 + count]
        return arguments

    def _write(self, address: int, value: bytes, at_s: float) -> None:
        words = self._words
        if address == words.queue_address:
            self._read_records = self._filled_by(at_s)
            return
        self._memory[address : address + len(value)] = value[: 256 - address]
        touched = range(address, address + len(value))
        if any(
            at in touched
            for start, size in (
                (words.start_address, 8),
                (words.step_address, 8),
                (words.points_address, 2),
                (words.values_address, 2),
            )
            for at in range(start, start + size)
        ):
            self._change(at_s)

    def _change(self, at_s: float) -> None:
        """Begin the sweep anew; the last records of the one before are still on their way."""
        ended = self._filled_by(at_s)
        if ended:
            first = max(0, ended - self._words.leftover_records)
            self._leftover = self._records(first, ended)
        self._sweeping = self._begin_as_set(at_s)
        self._read_records = 0

    def _begin_as_set(self, at_s: float) -> Sweeping:
        words, limits = self._words, self.limits
        start_hz = self._get(words.start_address, 8)
        step_hz = self._get(words.step_address, 8)
        points = min(max(self._get(words.points_address, 2), 1), limits.points)
        # in floating point: what a disturbed line writes is larger than any integer of numpy's
        grid = np.clip(start_hz + float(step_hz) * np.arange(points), limits.low_hz, limits.high_hz)
        values = min(max(self._get(words.values_address, 2), 1), 64)
        self._points_of_records = np.repeat(np.arange(points), values)
        begun = self.begin(grid.astype(np.float64)[self._points_of_records], at_s)
        self._each_s = begun.seconds_per_point / values
        return Sweeping(begun.number, begun.frequency_hz, at_s, self._each_s)

    def _filled_by(self, at_s: float) -> int:
        """How many records the present sweep and its repetitions have brought by then."""
        return max(0, int((at_s - self._sweeping.begun_s) / self._each_s + 1e-6))

    def _give_records(self, count: int, at_s: float) -> None:
        old = self._leftover[:count]
        del self._leftover[:count]
        first = max(self._read_records, self._filled_by(at_s) - QUEUE_PLACES)
        end = first + count - len(old)
        self._read_records = end
        due_s = max(at_s, self._sweeping.begun_s + end * self._each_s)

        def answer() -> bytes:
            return b"".join([*old, *self._records(first, end)])

        self.answer_at(due_s, answer)

    def _records(self, first: int, end: int) -> list[bytes]:
        """Records counted from the beginning of the present setting, `end` left out."""
        a_sweep = self._points_of_records.size
        records: list[bytes] = []
        while first < end:
            sweep, begin = divmod(first, a_sweep)
            part = slice(begin, min(a_sweep, begin + end - first))
            order = shuffled(a_sweep, np.random.default_rng([self._sweeping.number, sweep]))
            in_order = replace(self._sweeping, frequency_hz=self._sweeping.frequency_hz[order])
            records += self._encoded(
                self._points_of_records[order][part],
                in_order.frequency_hz[part],
                self.receiver.read(in_order, sweep, part),
            )
            first += part.stop - begin
        return records

    def _encoded(
        self, points: NDArray[np.int64], frequency_hz: FloatArray, reading: ComplexArray
    ) -> list[bytes]:
        words = self._words
        size = REFERENCE_COUNTS * (1.0 - 0.5 * np.minimum(frequency_hz / TOP_HZ, 1.0))
        seen = np.isfinite(reading)
        reading = np.where(seen, reading, 0.0)
        reference: ComplexArray = np.rint(seen * size * np.exp(2j * np.pi * points / 7.0))
        reflected: ComplexArray = np.rint(reading * reference)
        transmitted: ComplexArray = np.full(points.size, 900.0 - 400.0j)
        records = np.zeros((points.size, words.record_bytes), dtype=np.uint8)
        for at, value in (
            (words.reference_at, reference),
            (words.reflected_at, reflected),
            (words.transmitted_at, transmitted),
        ):
            both = np.stack([value.real, value.imag], axis=1).astype("<i4")
            records[:, at : at + 8] = both.view(np.uint8)
        records[:, words.point_at : words.point_at + 2] = (
            points.astype("<u2").reshape(-1, 1).view(np.uint8)
        )
        if words.check == "xor":
            records[:, -1] = words.check_start ^ np.bitwise_xor.reduce(records[:, :-1], axis=1)
        return [bytes(record) for record in records]

    def _get(self, address: int, size: int) -> int:
        return int.from_bytes(self._memory[address : address + size], "little")

    def _put(self, address: int, size: int, value: int) -> None:
        self._memory[address : address + size] = value.to_bytes(size, "little")


def shuffled(count: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """An order in which neighbours have changed places."""
    return np.argsort(np.arange(count) + rng.uniform(0.0, SHUFFLE_SPAN, size=count))
