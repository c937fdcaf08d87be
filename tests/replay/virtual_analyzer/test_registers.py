"""One-byte operations on registers, as docs/wiring-a-profile.md describes them."""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from typing import Any

import numpy as np
import pytest

from replay.virtual_analyzer.registers import RegistersWire
from replay.virtual_analyzer.simulated_analyzer import describe

WORDS = describe("registers").words
GRID_HZ = 700e6 + 100e6 * np.arange(3)
POINT_S = 0.002


def write(address: int, size: int, value: int) -> bytes:
    return bytes([WORDS.write[size], address]) + value.to_bytes(size, "little")


def setting(start_hz: int, step_hz: int, points: int, values: int = 1) -> bytes:
    return (
        write(WORDS.start_address, 8, start_hz)
        + write(WORDS.step_address, 8, step_hz)
        + write(WORDS.points_address, 2, points)
        + write(WORDS.values_address, 2, values)
    )


SET = setting(700_000_000, 100_000_000, 3)
EMPTY = write(WORDS.queue_address, 1, 0)


def read_queue(count: int) -> bytes:
    return bytes([WORDS.read_queue, WORDS.queue_address, count])


def records_in(answer: bytes) -> list[tuple[int, complex]]:
    """Point number and reflection of each record."""
    assert len(answer) % WORDS.record_bytes == 0
    found = []
    for at in range(0, len(answer), WORDS.record_bytes):
        record = answer[at : at + WORDS.record_bytes]
        reference = complex(*struct.unpack_from("<2i", record, WORDS.reference_at))
        reflected = complex(*struct.unpack_from("<2i", record, WORDS.reflected_at))
        (point,) = struct.unpack_from("<H", record, WORDS.point_at)
        found.append((point, reflected / reference))
    return found


@pytest.fixture
def analyzer(typist: Callable[..., Any]) -> Any:
    return typist("registers")


def test_it_answers_who_is_there_with_one_byte(analyzer: Any) -> None:
    assert analyzer.type(bytes([WORDS.who])) == bytes([WORDS.answer])


def test_nothing_and_unknown_operations_answer_nothing(analyzer: Any) -> None:
    assert analyzer.type(bytes([WORDS.nothing] * 5 + [0xFE])) == b""


def test_what_was_written_reads_back_little_endian_in_every_size(analyzer: Any) -> None:
    analyzer.type(write(0x40, 8, 0x0807060504030201))
    for size in (1, 2, 4):
        answer = analyzer.type(bytes([WORDS.read[size], 0x40]))
        assert answer == bytes(range(1, size + 1))


@pytest.mark.parametrize("sent", range(10))
def test_enough_nothings_end_any_operation_cut_short(analyzer: Any, sent: int) -> None:
    analyzer.type(write(0x40, 8, 0)[:sent])
    answer = analyzer.type(bytes([WORDS.nothing] * 10 + [WORDS.who]))
    assert answer == bytes([WORDS.answer])


def test_the_queue_answers_when_that_many_records_are_there(analyzer: Any) -> None:
    analyzer.type(SET)
    analyzer.type(read_queue(WORDS.leftover_records))
    assert analyzer.type(EMPTY + read_queue(3)) == b""
    assert analyzer.hear(after_s=2.9 * POINT_S) == b""
    records = dict(records_in(analyzer.hear(after_s=0.2 * POINT_S)))
    assert sorted(records) == [0, 1, 2]
    values = np.array([records[point] for point in range(3)])
    # receivers count in whole numbers: 3e7 of them make 1e-7 [derived]
    assert np.abs(values - analyzer.truth(GRID_HZ)).max() < 3e-7


def test_the_first_records_after_a_change_belong_to_the_end_of_the_sweep_before(
    analyzer: Any,
) -> None:
    analyzer.type(setting(100_000_000, 1_000_000, 50))
    analyzer.hear(after_s=10.0)
    analyzer.type(SET + EMPTY + read_queue(6))
    points = [point for point, _ in records_in(analyzer.hear(after_s=1.0))]
    assert min(points[:3]) > 30
    assert max(points[3:]) < 3


def test_records_arrive_in_any_order_and_each_point_as_often_as_asked(analyzer: Any) -> None:
    analyzer.type(setting(700_000_000, 1_000_000, 100, values=2))
    analyzer.type(read_queue(WORDS.leftover_records))
    analyzer.type(EMPTY + read_queue(200))
    points = [point for point, _ in records_in(analyzer.hear(after_s=1.0))]
    assert points != sorted(points)
    assert sorted(points) == sorted(2 * list(range(100)))


def test_several_values_a_point_carry_noise_of_their_own(typist: Callable[..., Any]) -> None:
    analyzer = typist("registers", noise=1e-3)
    analyzer.type(setting(700_000_000, 1_000_000, 2, values=100))
    analyzer.type(read_queue(WORDS.leftover_records))
    analyzer.type(EMPTY + read_queue(200))
    values = [value for point, value in records_in(analyzer.hear(after_s=1.0)) if point == 0]
    # 100 draws know their own spread to 7 % [derived]; four of that are allowed
    assert np.std(values) == pytest.approx(1e-3, rel=0.28)


def test_a_record_may_end_in_the_exclusive_or_of_its_bytes(analyzer: Any) -> None:
    checked = replace(WORDS, check="xor", check_start=0x5A)
    wire = RegistersWire(analyzer.analyzer.receiver, analyzer.analyzer.description, checked)
    wire.feed(read_queue(20), analyzer.now_s)
    answer = b""
    while piece := wire.take(analyzer.now_s):
        answer += piece
    for at in range(0, 20 * WORDS.record_bytes, WORDS.record_bytes):
        *body, check = answer[at : at + WORDS.record_bytes]
        assert reduce(int.__xor__, body, 0x5A) == check


def test_writing_any_setting_begins_the_sweep_anew(analyzer: Any) -> None:
    analyzer.type(SET)
    analyzer.type(read_queue(WORDS.leftover_records))
    analyzer.hear(after_s=1.5 * POINT_S)
    analyzer.type(write(WORDS.values_address, 2, 1))
    # one record was there, and is left over
    analyzer.type(EMPTY + read_queue(1 + 3))
    assert analyzer.hear(after_s=2.9 * POINT_S) == b""
    points = [point for point, _ in records_in(analyzer.hear(after_s=0.2 * POINT_S))]
    assert sorted(points[1:]) == [0, 1, 2]


def test_the_queue_fills_as_it_sweeps_again_and_again(analyzer: Any) -> None:
    analyzer.type(SET)
    analyzer.type(read_queue(WORDS.leftover_records))
    analyzer.type(EMPTY + read_queue(255))
    points = [point for point, _ in records_in(analyzer.hear(after_s=255 * POINT_S * 1.01))]
    assert len(points) == 255
    assert all(set(points[at : at + 3]) == {0, 1, 2} for at in range(0, 255, 3))


def test_frequencies_it_cannot_take_are_clamped_without_a_word(analyzer: Any) -> None:
    analyzer.type(setting(4_300_000_000, 100_000_000, 4))
    analyzer.type(read_queue(WORDS.leftover_records))
    analyzer.type(EMPTY + read_queue(4))
    records = dict(records_in(analyzer.hear(after_s=1.0)))
    values = np.array([records[point] for point in range(4)])
    clamped_hz = np.array([4.3e9, 4.4e9, 4.4e9, 4.4e9])
    assert np.abs(values - analyzer.truth(clamped_hz)).max() < 3e-7


def test_a_queue_that_is_not_read_loses_its_oldest(analyzer: Any) -> None:
    analyzer.type(SET)
    analyzer.type(read_queue(WORDS.leftover_records))
    analyzer.type(EMPTY)
    analyzer.hear(after_s=100.0)
    analyzer.knob.turn(-0.4, at_s=analyzer.now_s)
    analyzer.hear(after_s=50.0)
    records = records_in(analyzer.type(read_queue(3)))
    truth = analyzer.truth(GRID_HZ)
    assert all(abs(value - truth[point]) < 3e-7 for point, value in records)
