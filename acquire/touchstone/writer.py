"""Writing Touchstone, the open file format of network data: version 1.1, `# Hz S RI R 50`."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from acquire.sweep import Reading


def format_touchstone(reading: Reading, comments: Sequence[str] = ()) -> str:
    """Write a reading as a Touchstone 1.1 one-port file, every digit kept.

    comments : put above the data, each line after "! "; what is not ASCII is escaped, as the
        format allows nothing else.
    A point that was not measured is written as `nan nan`, which the format does not know; a
    comment says so. Leaving it out would hide it from whoever reads the file next.
    """
    lines = [f"! {line}".rstrip() for comment in comments for line in _ascii_lines(comment)]
    if not np.isfinite(reading.reflection).all():
        lines.append("! nan: this point was not measured")
    lines.append("# Hz S RI R 50")
    for frequency, value in zip(
        reading.frequency_hz.tolist(), reading.reflection.tolist(), strict=True
    ):
        whole = frequency.is_integer() and frequency < 1e15
        measured = math.isfinite(value.real) and math.isfinite(value.imag)
        lines.append(
            f"{int(frequency) if whole else repr(frequency)} "
            + (f"{value.real!r} {value.imag!r}" if measured else "nan nan")
        )
    return "\n".join(lines) + "\n"


def _ascii_lines(comment: str) -> list[str]:
    plain = "".join(c if c.isprintable() or c in "\r\n" else " " for c in comment)
    return plain.encode("ascii", "backslashreplace").decode("ascii").splitlines() or [""]


# -- a table to reflection -----------------------------------------------------------------
