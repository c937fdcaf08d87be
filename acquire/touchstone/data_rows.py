"""Rows of numbers joined into one table row a frequency, and how many ports that makes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import FloatArray
from acquire.touchstone.lines import Lines
from acquire.touchstone.option_line import MOST_PORTS, fault, too_many_ports

MOST_POINTS = 1_000_000

_NAMES = {1: "one", 2: "two"}


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """A file's network data, one row a frequency."""

    values: FloatArray
    """Shape (points, width): the frequency as written, then pairs."""
    lines: NDArray[np.int64]
    """Shape (points,): the line each frequency begins on."""
    ports: int
    noise_lines: list[int]
    """Lines of noise data that followed the network data of a version 1 file."""


def ports_by_name(name: str) -> int | None:
    """Say how many ports a name such as mast.s1p promises; None for any other name."""
    ending = name.rpartition(".")[2].lower()
    digits = ending[1:-1]
    if (
        ending[:1] in tuple("syzhg")
        and ending[-1:] == "p"
        and digits.isascii()
        and digits.isdigit()
    ):
        return int(digits[:4])
    return None


def rows_to_table(lines: Lines, name: str, named_ports: int | None) -> Table:
    """Join the rows of each frequency.

    A row that begins a frequency holds an odd count of numbers (the frequency, then pairs), one
    that continues it an even count; so the length of the first frequency tells the ports.
    Raises TouchstoneError, with the line, where a frequency is incomplete.
    """
    counts = np.array(lines.counts, dtype=np.int64)
    at_lines = np.array(lines.numbers, dtype=np.int64)
    begins = np.flatnonzero(counts % 2 == 1)
    if begins.size == 0 or begins[0] != 0:
        raise fault(
            name,
            lines.numbers[0],
            f"{lines.counts[0]} numbers. A row begins with a frequency, and pairs follow it.",
        )
    lengths = np.add.reduceat(counts, begins)
    ports, width = _ports_and_width(lines, int(lengths[0]), name, named_ports)
    values = np.frombuffer(lines.values, dtype=np.float64)
    points = begins.size
    noise_lines: list[int] = []
    odd = np.flatnonzero(lengths != width)
    if odd.size:
        points = int(odd[0])
        firsts = values[np.concatenate(([0], np.cumsum(lengths)[:-1]))]
        if not _is_noise(lines, ports, firsts, lengths, points):
            end = begins[points + 1] if points + 1 < begins.size else counts.size
            _refuse(lines, slice(int(begins[points]), int(end)), ports, width, name)
        noise_lines = lines.numbers[int(begins[points]) :]
    if points > MOST_POINTS:
        raise fault(
            name, None, f"{points} points are more than the {MOST_POINTS} read. Export fewer."
        )
    if lines.frequencies not in (None, points):
        raise fault(
            name,
            lines.numbers[-1],
            f"[Number of Frequencies] says {lines.frequencies}, but the data ends here after "
            f"{points}. The file is incomplete: export it again.",
        )
    return Table(
        values=values[: points * width].reshape(points, width),
        lines=at_lines[begins[:points]],
        ports=ports,
        noise_lines=noise_lines,
    )


def _ports_and_width(
    lines: Lines, first: int, name: str, named_ports: int | None
) -> tuple[int, int]:
    """Tell ports, and numbers a frequency, from the keywords or from the first frequency."""
    ports = lines.ports
    if ports is None:
        ports = math.isqrt((first - 1) // 2)
        if ports == 0 or 1 + 2 * ports**2 != first:
            # Cut short within the first frequency: believe its first row, else the name.
            whole = {3: 1, 9: 2}
            ports = whole.get(lines.counts[0]) or (named_ports if named_ports in (1, 2) else 1)
    if ports > MOST_PORTS:
        raise fault(name, lines.numbers[0], too_many_ports(ports))
    if lines.matrix_format == "full":
        return ports, 1 + 2 * ports**2
    return ports, 1 + ports * (ports + 1)


def _is_noise(
    lines: Lines, ports: int, firsts: FloatArray, lengths: NDArray[np.int64], at: int
) -> bool:
    """Noise data follows a version 1 two-port's: five numbers a row, frequency begins again."""
    return bool(
        lines.version == "1.1"
        and ports == 2
        and at > 0
        and (lengths[at:] == 5).all()
        and firsts[at] <= firsts[at - 1]
        and (np.diff(firsts[at:]) > 0).all()
    )


def _refuse(lines: Lines, rows: slice, ports: int, width: int, name: str) -> None:
    """Name the row that makes a frequency too short or too long."""
    at = rows.start
    held = sum(lines.counts[rows])
    if lines.counts[at] == width:  # the row itself is whole: what follows it is not
        at += 1
        held -= width
    raise fault(
        name,
        lines.numbers[at],
        f"{held} numbers where a {_NAMES[ports]}-port file has {width} a frequency. The file is "
        "cut short or damaged: export it again.",
    )
