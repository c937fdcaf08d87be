"""What every reply is held against, so that no wrong number gets through.

An analyzer that clamps, stops short or answers another question does not say so. Frequencies are
compared to what was asked for, points are counted, and a value no receiver can see is refused.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from acquire.coverage.spans import ROUNDING_STEPS, span_words
from acquire.errors import ReplyError
from acquire.number_text import decimals, headed_decimals
from acquire.sweep import ComplexArray, FloatArray, Reading, SweepRequest

LARGEST_REFLECTION = 100.0
"""Raw readings lie near 1; a lost decimal point does not."""

SMALLEST_PART = 1e-30
"""No receiver tells a smaller number from 0; bytes of a block read out of step do."""

_NUMBERS = re.compile(r"[0-9+\-.eEnaifNAIF \t]*")
_ONLY_FORM = str.maketrans("123456789,", "000000000 ", "+-")


def quoted(text: str) -> str:
    """An analyzer's words for a message: one line, printable, cut short."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return f'"{line[:60]}..."' if len(line) > 60 else f'"{line}"'


def pairs(
    lines: Sequence[str], points: int, command: str, *, placed: bool = False
) -> tuple[FloatArray, ComplexArray, bool]:
    """Read a real and an imaginary part a line, and where `placed` the frequency before them.

    Returns frequencies, Hz, shape (points,), empty where not placed; the pairs, complex, shape
    (points,); and whether they are written alike. Raises ReplyError as `numbers`.
    """
    text = "".join(f"{line}\n" for line in lines).encode("ascii", "replace")
    quickly: tuple[FloatArray, FloatArray] | None
    if placed:
        quickly = headed_decimals(text, 2)
    else:
        values = decimals(text, 2)
        quickly = None if values is None else (np.empty(0), values)
    if quickly is not None and len(quickly[1]) == points == len(lines):
        return quickly[0], quickly[1].view(np.complex128)[:, 0], True
    table = numbers(lines, 2 + placed, points, command)
    values = np.ascontiguousarray(table[:, -2:])
    alike = written_alike(" ".join(line.partition(" ")[2] if placed else line for line in lines))
    return table[:, : int(placed)].ravel(), values.view(np.complex128)[:, 0], alike


def numbers(lines: Sequence[str], columns: int, points: int, command: str) -> FloatArray:
    """Read so many numbers a line from so many lines; shape (points, columns).

    "nan" stays nan: a point the analyzer did not measure. Raises ReplyError for anything else.
    """
    if len(lines) == 1 and points > 1 and not _NUMBERS.fullmatch(lines[0]):
        raise ReplyError(
            f'The analyzer answered {quoted(lines[0])} to "{command}": it does not '
            "accept that command. Correct the words in the profile, or choose another profile."
        )
    rows = [line.split() for line in lines]
    for at, row in enumerate(rows, 1):
        if len(row) != columns or not _NUMBERS.fullmatch(lines[at - 1]):
            raise ReplyError(
                f'Line {at} of the reply to "{command}" is {quoted(lines[at - 1])}, not {columns} '
                f"number{'s' if columns > 1 else ''}. Sweep again. If it happens again, check the "
                "cable and the profile."
            )
    require_count(len(rows), points)
    try:
        return np.array(rows, dtype=np.float64)
    except ValueError as fault:
        raise ReplyError(
            f'The reply to "{command}" holds something that is not a number '
            f"({fault}). Sweep again. If it happens again, check the cable and the profile."
        ) from fault


def written_alike(text: str) -> bool:
    """True where all numbers in a text have as many digits before and behind the point, and in
    the exponent. Where bytes were lost or came twice they have not.

    text : numbers with commas or white space between; what has no digit ("nan") is passed over.
    """
    forms = set(text.translate(_ONLY_FORM).split())
    return len([form for form in forms if "0" in form]) <= 1


def require_count(received: int, points: int) -> None:
    """Refuse another number of points than was asked for."""
    if received != points:
        raise ReplyError(
            f"The analyzer sent {received} points, but {points} were requested. If it sweeps "
            "no more, set limits.points in the profile."
        )


def checked_reading(
    request: SweepRequest,
    frequency_hz: FloatArray,
    reflection: ComplexArray,
    *,
    alike: bool = True,
) -> Reading:
    """Make a reading of what the analyzer said, once it is what was asked for.

    frequency_hz : as the analyzer gives them, shape (points,), Hz. Each must lie within a twentieth
        of a step from where it was asked for (analyzers round, and divide in whole hertz).
    reflection : complex, shape (points,), linear.
    alike : as `written_alike` tells of what came as text.
    Raises ReplyError, with the frequencies, where the analyzer swept something else, and where a
    reflection exceeds 100 or one of its parts is nothing but not 0.
    """
    require_frequencies(request, frequency_hz)
    require_count(reflection.size, request.points)
    size = np.abs(reflection)
    largest = float(np.max(size, initial=0.0, where=np.isfinite(size)))
    if largest > LARGEST_REFLECTION:
        raise ReplyError(
            f"The analyzer answered a reflection of {largest:.3g}, which no receiver sees. Sweep "
            "again. If it happens again, check the profile."
        )
    parts = np.abs(np.ascontiguousarray(reflection).view(np.float64))
    if ((parts > 0) & (parts < SMALLEST_PART)).any():
        raise ReplyError(
            f"The analyzer answered a number of {parts[parts > 0].min():.3g}, which no receiver "
            f"sees: "
            "bytes were lost or added on the way. Sweep again. If it happens again, check the "
            "cable."
        )
    return Reading(frequency_hz, reflection, alike)


def require_frequencies(request: SweepRequest, frequency_hz: FloatArray) -> None:
    """Refuse frequencies that are not those asked for; see `checked_reading`."""
    require_count(frequency_hz.size, request.points)
    asked = request.grid_hz()
    if not np.isfinite(frequency_hz).all():
        raise ReplyError("The analyzer sent a frequency that is not a number. Sweep again.")
    off = np.abs(frequency_hz - asked)
    allowed = request.step_hz * ROUNDING_STEPS
    if (off <= allowed).all():
        return
    span = (float(frequency_hz[0]), float(frequency_hz[-1]))
    if off[0] > allowed or off[-1] > allowed:
        raise ReplyError(
            f"The analyzer swept {span_words(span)} but "
            f"{span_words((request.start_hz, request.stop_hz))} was requested. If it cannot do "
            "more, set limits.low_mhz and limits.high_mhz in the profile."
        )
    at = int(np.argmax(off))
    raise ReplyError(
        f"Point {at + 1} came at {frequency_hz[at] / 1e6:.7g} MHz where {asked[at] / 1e6:.7g} MHz "
        "was asked for: the analyzer's points are not equally spaced. Set it to a linear sweep."
    )
