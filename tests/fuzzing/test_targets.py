"""Whatever bytes come: a value or a sentence, never a crash, a hang or a flood of memory."""

from __future__ import annotations

import re
import tracemalloc

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.counts import LONG, examples
from tests.fuzzing.corpus import CORPUS
from tests.fuzzing.targets import TARGETS

PLACES = 200 if LONG else 12
VALUE = re.compile(rb'(?<=[=:\[,\s])("(?:[^"\\\n]|\\.)*"|[-+]?\d[\w.+:-]*|true|false|null)')
ODD = (
    b"1" + b"0" * 320,
    b"-1" + b"0" * 320,
    b"1e999",
    b"1e-320",
    b"nan",
    b"NaN",
    b"-Infinity",
    b"-1",
    b"0",
    b"99999999999",
    b"null",
    b"true",
    b"[]",
    b"[[1]]",
    b'{"a":1}',
    b'""',
    b'"a\\u0000b"',
    b'"\\ud800"',
    b'"0001-01-01T00:00:00+14:00"',
    b'"9999-12-31T23:59:59-14:00"',
    b"0001-01-01T00:00:00+14:00",
    b"2026-13-45",
)
TIMES, CONSTANT = 10, 20 * 2**20
"""How much memory an input may take: so many times its size and so many bytes."""
PIECES = (b"\n", b"\r\n", b"nan", b"-", b"1e999", b"9" * 400, b"\x00", b"\xff", b"[", b"{", b'"')


@st.composite
def changed(draw: st.DrawFn, seeds: list[bytes]) -> bytes:
    """A sound input with some places cut, doubled, overwritten or filled with something odd."""
    data = draw(st.sampled_from(seeds))
    for _ in range(draw(st.integers(0, 4))):
        at = draw(st.integers(0, len(data)))
        end = draw(st.integers(at, min(len(data), at + 40)))
        twice = st.just(data[at:end] * 2)
        put = draw(st.one_of(st.binary(max_size=12), st.sampled_from(PIECES), twice))
        data = data[:at] + put + data[end:]
    return data


@pytest.mark.parametrize("name", TARGETS)
def test_a_sound_input_is_taken(name: str) -> None:
    target = TARGETS[name]
    seeds = list(target.seeds())
    assert seeds
    taken = [target.hold(seed) for seed in seeds]
    # what a unit says when it is asked who it is makes no sweep
    assert any(taken) if "-" in name or name == "registers" else all(taken)


@pytest.mark.slow
@pytest.mark.parametrize("name", TARGETS)
@examples(60, long=5000)
@given(data=st.data())
def test_a_changed_input_is_taken_or_refused_in_a_sentence(name: str, data: st.DataObject) -> None:
    target = TARGETS[name]
    target.hold(data.draw(st.one_of(changed(list(target.seeds())), st.binary(max_size=200))))


@pytest.mark.slow
@pytest.mark.parametrize("name", TARGETS)
def test_a_value_replaced_by_an_odd_one_is_taken_or_refused_in_a_sentence(name: str) -> None:
    """A number beyond all bounds, a date before the calendar, another kind of value: at every
    place of a sound input, or at so many, evenly."""
    target = TARGETS[name]
    for seed in target.seeds():
        places = list(VALUE.finditer(seed))
        for place in places[:: max(len(places) // PLACES, 1)]:
            for odd in ODD:
                target.hold(seed[: place.start()] + odd + seed[place.end() :])


@pytest.mark.parametrize(("name", "data"), CORPUS)
def test_what_once_failed_is_refused_in_a_sentence(name: str, data: bytes) -> None:
    TARGETS[name].hold(data)


@pytest.mark.slow
@pytest.mark.parametrize("name", [each for each in TARGETS if each != "feed"])
def test_a_large_input_takes_memory_in_proportion(name: str) -> None:
    target = TARGETS[name]
    seed = max(target.seeds(), key=len)
    data = seed * (2**20 // len(seed))
    target.hold(seed)
    tracemalloc.start()
    try:
        target.hold(data)
        assert tracemalloc.get_traced_memory()[1] < TIMES * len(data) + CONSTANT
    finally:
        tracemalloc.stop()
