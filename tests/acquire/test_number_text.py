"""Numbers of a whole reply at once: to the last bit what float() makes of each, or not at all."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.number_text import decimals, headed_decimals

FORMS = ["{:.9f}", "{:+.9f}", "{:.12E}", "{:+.6e}", "{:.5f}", "{:.0f}", "{:.14e}"]


def text_of(rows: list[list[float]], form: str) -> bytes:
    return "".join(" ".join(form.format(each) for each in row) + "\n" for row in rows).encode()


def as_float(text: bytes) -> list[list[float]]:
    """Python's own conversion is the reference."""
    return [[float(word) for word in row.split()] for row in text.splitlines()]


def same(found: np.ndarray, wanted: list[list[float]]) -> bool:
    """To the last bit, the sign of zero included."""
    return bool(
        np.array_equal(found, wanted)
        and np.array_equal(np.signbit(found), np.signbit(np.array(wanted)))
    )


def garbled(text: bytes, at: int, letter: int, change: str) -> bytes:
    """The text with one letter put in place of another, inserted or removed."""
    made = bytearray(text)
    at %= len(made)
    if change == "put":
        made[at] = letter
    elif change == "insert":
        made.insert(at, letter)
    elif change == "remove":
        del made[at]
    return bytes(made)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("columns", [1, 2, 3])
def test_it_is_what_float_makes_of_each(form: str, columns: int) -> None:
    rng = np.random.default_rng(4)
    rows = rng.uniform(0.1, 1, (400, columns)) * rng.choice([-1, 1], (400, columns))
    rows *= 10.0 ** -rng.integers(0, 6, (400, 1))
    text = text_of([*rows.tolist(), [0.0] * columns, [-0.0] * columns], form)
    found = decimals(text, columns)
    assert found is not None
    assert same(found, as_float(text))


@given(
    rows=st.lists(st.lists(st.floats(-9.9, 9.9), min_size=2, max_size=2), min_size=1, max_size=9),
    form=st.sampled_from(FORMS),
    at=st.integers(0, 400),
    letter=st.sampled_from(b"0123456789+-.eE \n#"),
    change=st.sampled_from(["none", "put", "insert", "remove"]),
)
def test_whatever_comes_it_is_that_or_nothing(
    rows: list[list[float]], form: str, at: int, letter: int, change: str
) -> None:
    text = garbled(text_of(rows, form), at, letter, change)
    found = decimals(text, 2)
    if found is not None:
        wanted = as_float(text)
        assert all(len(row) == 2 for row in wanted)
        assert all(map(math.isfinite, np.ravel(wanted)))
        assert same(found, wanted)


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"0.1 0.2",
        b"0.1  0.2\n",
        b"0.1 0.25\n",
        b"0.1 nan\n",
        b"0.1,0.2\n",
        b"0.1 0.2\n0.3\n",
        b"1234567890123456 1234567890123457\n",
        b"1.5E+40 1.5E+39\n",
        b"1.5E+400 1.5E+399\n",
        b"--1 1\n",
        b"1-1 111\n",
        b"1e5e5 1e5e5\n",
        b"1.2.3 1.2.3\n",
        b". .\n",
        b"e1 e1\n",
    ],
)
def test_what_is_not_alike_is_left_to_others(text: bytes) -> None:
    assert decimals(text, 2) is None


@given(
    rows=st.lists(
        st.tuples(st.integers(0, 10**15 - 1), st.floats(-9.9, 9.9), st.floats(-9.9, 9.9)),
        min_size=1,
        max_size=9,
    ),
    form=st.sampled_from(FORMS),
    at=st.integers(0, 400),
    letter=st.sampled_from(b"0123456789+-.eE \n#"),
    change=st.sampled_from(["none", "put", "insert", "remove"]),
)
def test_rows_that_begin_with_a_whole_number_likewise(
    rows: list[tuple[int, float, float]], form: str, at: int, letter: int, change: str
) -> None:
    whole = "".join(f"{a} {form.format(b)} {form.format(c)}\n" for a, b, c in rows)
    text = garbled(whole.encode(), at, letter, change)
    found = headed_decimals(text, 2)
    assert found is not None or change != "none" or not decimals_of(rows, form)
    if found is not None:
        wanted = as_float(text)
        assert all(len(row) == 3 for row in wanted)
        assert same(np.column_stack(found), wanted)


def decimals_of(rows: list[tuple[int, float, float]], form: str) -> bool:
    """Whether the rows without their heads can be read at once."""
    return decimals(text_of([list(row[1:]) for row in rows], form), 2) is not None
