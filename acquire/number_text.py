"""Numbers in text, a whole reply at once: to the last bit what float() makes of each.

An analyzer writes the numbers of a reply alike: as many digits before and behind the point, and in
exponent. Then all of them are one table of digits. A number of up to 15 digits is a whole number
below 2^53 times or over a power of ten up to 10^22; both are exact in double precision, so the one
multiplication or division rounds correctly (Clinger 1990, "How to read floating point numbers
accurately" [memory]).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import FloatArray

MOST_DIGITS, MOST_EXPONENT_DIGITS, MOST_POWER = 15, 3, 22
LONGEST_NUMBER = 40
"""Letters of a number."""
Letters = NDArray[np.uint8]
_BLANK, _END, _PLUS, _MINUS, _POINT, _ZERO = b" \n+-.0"
_EXPONENT = tuple(b"eE")


def decimals(text: bytes, columns: int) -> FloatArray | None:
    """Rows of numbers written alike, shape (rows, columns); None where they are not.

    text : one blank between the numbers of a row, and a line feed behind each row.
    """
    written = np.frombuffer(text, dtype=np.uint8)
    signs = np.flatnonzero((written == _PLUS) | (written == _MINUS))
    table = _laid_out(np.delete(written, signs) if signs.size else written, columns)
    if table is None:
        return None
    digits, behind_point, exponent_at = _digits(table)
    # each sign stands before a number, or before its exponent
    places = signs - np.arange(signs.size)
    rows, within = np.divmod(places, table.shape[1])
    of_exponent = within == exponent_at + 1
    leading = exponent_at - (behind_point is not None)
    if (
        (digits > 9).any()
        or not 1 <= leading <= MOST_DIGITS
        or digits.shape[1] - leading > MOST_EXPONENT_DIGITS
        or not (of_exponent | (within == 0)).all()
        or (np.diff(places) == 0).any()
    ):
        return None
    below = rows[written[signs] == _MINUS], of_exponent[written[signs] == _MINUS]
    power = _whole(digits[:, leading:]).astype(np.int64)
    power[below[0][below[1]]] *= -1
    power -= behind_point or 0
    if (np.abs(power) > MOST_POWER).any():
        return None
    values, scale = _whole(digits[:, :leading]), 10.0 ** np.abs(power)
    values = np.where(power < 0, values / scale, values * scale)
    values[below[0][~below[1]]] *= -1
    return values.reshape(-1, columns)


def headed_decimals(text: bytes, columns: int) -> tuple[FloatArray, FloatArray] | None:
    """The same where a whole number of any length stands before each row: those, shape (rows,),
    and the rows, shape (rows, columns); None where it is anything else.

    text : one blank between the numbers of a row, and a line feed behind each row.
    """
    written = np.frombuffer(text, dtype=np.uint8)
    ends = np.flatnonzero(written == _END)
    blanks = np.flatnonzero(written == _BLANK)
    if ends.size == 0 or ends[-1] != written.size - 1 or blanks.size != columns * ends.size:
        return None
    begins, head_ends = np.concatenate(([0], ends[:-1] + 1)), blanks[::columns]
    lengths = head_ends - begins
    if not 1 <= lengths.min() <= lengths.max() <= MOST_DIGITS or (head_ends > ends).any():
        return None
    # where every digit of every head stands, and how many are still to come behind it
    first = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    at = np.arange(int(lengths.sum())) + np.repeat(begins - first, lengths)
    digits = written[at] - np.uint8(_ZERO)
    if (digits > 9).any():
        return None
    to_come = np.repeat(head_ends, lengths) - at - 1
    heads = np.add.reduceat(digits * 10.0**to_come, first)
    behind = np.ones(written.size, dtype=bool)
    behind[at] = behind[head_ends] = False
    rows = decimals(written[behind].tobytes(), columns)
    return None if rows is None or len(rows) != len(heads) else (heads, rows)


def _laid_out(body: Letters, columns: int) -> Letters | None:
    """A number a row, with what ends it; None where the numbers differ in length."""
    ends = np.flatnonzero((body[:LONGEST_NUMBER] == _BLANK) | (body[:LONGEST_NUMBER] == _END))
    width = 1 if ends.size == 0 else int(ends[0]) + 1
    if width < 2 or body.size % (width * columns):
        return None
    table = body.reshape(-1, width)
    behind = table[:, -1].reshape(-1, columns)
    sound = (behind[:, :-1] == _BLANK).all() and (behind[:, -1] == _END).all()
    return table if sound else None


def _digits(table: Letters) -> tuple[Letters, int | None, int]:
    """All digits, what is none being more than 9; how many stand behind the point, if there is
    one; and where the exponent's letter stands, or the number ends."""
    form = table[0, :-1].tolist()
    end = len(form)
    exponent_at = next((at for at, each in enumerate(form) if each in _EXPONENT), end)
    point_at = form.index(_POINT) if _POINT in form[:exponent_at] else None
    marks = [each for each in (point_at, exponent_at) if each is not None and each < end]
    digits = np.delete(table[:, :-1], marks, axis=1) - np.uint8(_ZERO)
    if digits.size and any((table[:, each] != form[each]).any() for each in marks):
        digits[0, 0] = 255
    return digits, None if point_at is None else exponent_at - point_at - 1, exponent_at


def _whole(digits: Letters) -> FloatArray:
    """Whole numbers of their digits, exact up to 15 of them; shape (rows,)."""
    numbers: FloatArray = digits @ 10.0 ** np.arange(digits.shape[1] - 1, -1, -1)
    return numbers
