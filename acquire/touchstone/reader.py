"""Reading Touchstone, the open file format of network data: text in, values out.

Read: version 1 (1.0, 1.1) and 2.0, 2.1, one- and two-port, every unit, parameter and format.
Strict, because verdicts rest on it: what cannot be
certain is refused with its line, what is certain but odd is read and remarked.

Source: Touchstone File Format Specification, IBIS Open Forum, 1.1 (page 4 read), 2.0 of 2009
and 2.1 of 2024 (both from memory and secondary texts).
"""

from __future__ import annotations

import codecs
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acquire.errors import TouchstoneError
from acquire.sweep import SYSTEM_OHM, ComplexArray, FloatArray, Reading
from acquire.touchstone.data_rows import Table, ports_by_name, rows_to_table
from acquire.touchstone.format_doubts import PASSIVE, SMALL_ANGLE_DEG, format_doubt
from acquire.touchstone.lines import Lines, in_words, take_apart
from acquire.touchstone.network_parameters import (
    denormalised,
    reflection_from_immittance,
    reflection_from_scattering,
)
from acquire.touchstone.option_line import UNITS_HZ, OptionLine, excerpt, fault

MOST_BYTES = 64 * 2**20

HIGHEST_HZ = 1e12
"""A file that reaches higher names the wrong unit and is refused."""
UNUSUAL_ABOVE_HZ = 120e9
UNUSUAL_BELOW_HZ = 100e3
LOWEST_HZ = 1e3
"""A file that stays lower names the wrong unit and is refused."""
LARGEST_REFLECTION = 100.0
"""40 dB of gain into the port: such numbers are no reflection, and are refused."""
PASSIVE_REFLECTION = 1.1
"""Above this a passive antenna is remarked; a raw reading of one may reach 1.1."""


@dataclass(frozen=True, slots=True, eq=False)
class TouchstoneFile:
    """What a Touchstone file says of its port 1."""

    reading: Reading
    """Reflection into port 1, referred to 50 ohm; not finite where the file has no number."""
    ports: int
    """1 or 2, as in the file."""
    reference_ohm: tuple[float, ...]
    """The resistance the file's data is referred to, one a port."""
    version: str
    """"1.1", "2.0" or "2.1"."""
    unit: Literal["Hz", "kHz", "MHz", "GHz"]
    parameter: str
    """"S", "Y", "Z", "H" or "G"."""
    number_format: str
    """"RI" real and imaginary, "MA" magnitude and degrees, "DB" decibel and degrees."""
    remarks: tuple[str, ...]
    """What a person should know before relying on the data; one sentence each."""
    doubts: tuple[str, ...] = ()
    """Those of the remarks that say that the data may be another one than was read: no verdict on
    it is better than conditional."""


def parse_touchstone(content: bytes | str, name: str) -> TouchstoneFile:
    """Read a Touchstone file's reflection.

    content : the file's bytes (UTF-8, UTF-16 with its mark, or Latin-1), or its text.
    name : the file's name, for messages; an ending .s1p or .s2p must agree with the rows.
    Raises TouchstoneError, one sentence with the line number, for anything that cannot be
    read with certainty.
    """
    title, lines, table = _taken_apart(content, name)
    option, ports = lines.option, table.ports
    reference = _reference(lines, option, ports, title)
    frequency = _frequency(table, option, title)
    pairs = _complex_pairs(table, option, title)
    reflection = _reflection(pairs, ports, lines, option, reference)
    reflection[~np.isfinite(reflection)] = complex(math.nan, math.nan)
    _check_size(reflection, table, option, title)
    doubts = _doubts(lines, reflection, table, option)
    return TouchstoneFile(
        reading=Reading(frequency, reflection),
        ports=ports,
        reference_ohm=reference,
        version=lines.version,
        unit=_UNIT_NAMES[option.unit],
        parameter=option.parameter.upper(),
        number_format=option.number_format.upper(),
        remarks=(
            *_remarks_on_lines(lines, table, ports_by_name(name)),
            *_remarks_on_data(frequency, reflection, table, option),
            *_remarks_on_reference(option, reference),
            *doubts,
        ),
        doubts=tuple(doubts),
    )


@dataclass(frozen=True, slots=True, eq=False)
class TwoPortFile:
    """A two-port's scattering parameters, referred to 50 ohm."""

    frequency_hz: FloatArray
    """Shape (points,), strictly increasing."""
    matrix: ComplexArray
    """Shape (points, 2, 2), linear; S21 and S12 as the file orders them."""


def parse_two_port(content: bytes | str, name: str) -> TwoPortFile:
    """Read all four scattering parameters of a two-port file.

    content, name : as `parse_touchstone`. Raises TouchstoneError for anything that cannot be read
    with certainty, for another parameter than S, another reference than 50 ohm, another number of
    ports than two, and for a point without a number.
    """
    title, lines, table = _taken_apart(content, name)
    option = lines.option
    reference = _reference(lines, option, table.ports, title)
    if table.ports != 2 or option.parameter != "s" or any(ohm != SYSTEM_OHM for ohm in reference):
        raise fault(
            title,
            option.line,
            f"it holds {option.parameter.upper()} parameters of {table.ports} port(s), referred to "
            f"{reference[0]:g} ohm. Export the two-port's S parameters referred to 50 ohm.",
        )
    frequency = _frequency(table, option, title)
    matrix = _matrix(_complex_pairs(table, option, title), 2)
    bad = np.flatnonzero(~np.isfinite(matrix).all(axis=(1, 2)))
    if bad.size:
        raise fault(
            title,
            int(table.lines[bad[0]]),
            "a value is not a number. Remove the row, or measure the two-port again.",
        )
    return TwoPortFile(frequency, matrix)


def _taken_apart(content: bytes | str, name: str) -> tuple[str, Lines, Table]:
    """A file's title for messages, its lines, and its rows."""
    title = excerpt(name, 60)[1:-1] or "Touchstone data"
    if len(content) > MOST_BYTES:
        raise fault(
            title,
            None,
            f"{len(content) / 2**20:.0f} MB is more than the {MOST_BYTES // 2**20} MB that are "
            "read. Export fewer points.",
        )
    lines = take_apart(_decoded(content), title)
    return title, lines, rows_to_table(lines, title, ports_by_name(name))


_UNIT_NAMES: dict[str, Literal["Hz", "kHz", "MHz", "GHz"]] = {
    "hz": "Hz",
    "khz": "kHz",
    "mhz": "MHz",
    "ghz": "GHz",
}


def _decoded(content: bytes | str) -> str:
    if isinstance(content, str):
        return content.removeprefix("\ufeff")
    for mark in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        if content.startswith(mark):
            return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")


def _reference(lines: Lines, option: OptionLine, ports: int, name: str) -> tuple[float, ...]:
    given = lines.reference_ohm or option.reference_ohm
    if len(given) == 1:
        return given * ports
    if len(given) != ports:
        raise fault(
            name,
            option.line,
            f"{len(given)} reference resistances for {ports} port(s). Give one, or one a port.",
        )
    return given


def _frequency(table: Table, option: OptionLine, name: str) -> FloatArray:
    column, at_lines = table.values[:, 0], table.lines
    unit = _UNIT_NAMES[option.unit]
    bad = np.flatnonzero(~np.isfinite(column) | (column < 0))
    if bad.size:
        raise fault(
            name,
            int(at_lines[bad[0]]),
            f"a frequency of {column[bad[0]]:g} {unit} cannot be. Correct or remove the row.",
        )
    scale = UNITS_HZ[option.unit]
    # Scaling leaves crumbs (1.1 * 1e9 is not 1100000000): a millihertz is fine enough.
    with np.errstate(over="ignore"):  # refused below
        frequency = column.copy() if scale == 1 else np.round(column * scale, 3)
    stuck = np.flatnonzero(np.diff(frequency) <= 0)
    if stuck.size:
        at = int(stuck[0]) + 1
        what = "repeats" if column[at] == column[at - 1] else "does not rise above"
        raise fault(
            name,
            int(at_lines[at]),
            f"{column[at]:g} {unit} {what} the frequency before it, {column[at - 1]:g} {unit}. "
            "Frequencies must rise: sort the rows, and keep one of each.",
        )
    if frequency[-1] > HIGHEST_HZ or frequency[-1] < LOWEST_HZ:
        raise fault(
            name,
            option.line,
            f"the highest frequency is {column[-1]:g} {unit}, which cannot be meant. "
            "Correct the unit in the option line.",
        )
    return frequency


def _complex_pairs(table: Table, option: OptionLine, name: str) -> ComplexArray:
    first, second = table.values[:, 1::2], table.values[:, 2::2]
    if option.number_format == "ri":
        pairs = np.empty(first.shape, dtype=np.complex128)
        pairs.real, pairs.imag = first, second  # first + 1j * second would make nan of inf
        return pairs
    with np.errstate(all="ignore"):
        if option.number_format == "ma":
            negative = np.flatnonzero((first < 0).any(axis=1))
            if negative.size:
                parts = np.abs(first).max() <= PASSIVE and np.abs(second).max() <= SMALL_ANGLE_DEG
                numbers = "real and imaginary parts, write RI" if parts else "decibels, write DB"
                raise fault(
                    name,
                    int(table.lines[negative[0]]),
                    f"a magnitude is below zero. If the numbers are {numbers} instead of MA in the "
                    "option line.",
                )
            magnitude = first
        else:
            # -inf dB is how programs print a zero they never measured.
            magnitude = 10 ** (np.where(np.isneginf(first), np.nan, first) / 20)
        return np.asarray(magnitude * np.exp(1j * np.deg2rad(second)), dtype=np.complex128)


def _reflection(
    pairs: ComplexArray, ports: int, lines: Lines, option: OptionLine, reference: tuple[float, ...]
) -> ComplexArray:
    matrix = _matrix(pairs, ports)
    kind = option.parameter.upper()
    if kind == "S":
        return reflection_from_scattering(matrix, reference).copy()
    if lines.version == "1.1":
        matrix = denormalised(matrix, kind, reference)
    return reflection_from_immittance(matrix, kind)


def _matrix(pairs: ComplexArray, ports: int) -> ComplexArray:
    """Shape (points, ports, ports), of the rows' pairs."""
    if ports == 2 and pairs.shape[1] == 3:  # lower or upper triangle: 11, 12 or 21, 22
        pairs = pairs[:, [0, 1, 1, 2]]
    return pairs.reshape(-1, ports, ports)


def _check_size(reflection: ComplexArray, table: Table, option: OptionLine, name: str) -> None:
    large = np.flatnonzero(np.abs(reflection) > LARGEST_REFLECTION)
    if large.size:
        raise fault(
            name,
            int(table.lines[large[0]]),
            f"a reflection of {abs(reflection[large[0]]):.4g} cannot be meant. Check that the "
            f"format in the option line ({option.number_format.upper()}) is the data's.",
        )


# -- remarks -------------------------------------------------------------------------------


def _remarks_on_lines(lines: Lines, table: Table, named_ports: int | None) -> list[str]:
    remarks = []
    if lines.passed_over:
        remarks.append(f"Passed over, being no data: {in_words(lines.passed_over)}.")
    if lines.option.defaulted:
        remarks.append(
            "The option line leaves out what the format then takes as: "
            f"{', '.join(lines.option.defaulted)}."
        )
    if lines.ignored_options:
        remarks.append(
            "Ignored, as the format asks: a further option line "
            f"({in_words(lines.ignored_options)})."
        )
    noise = lines.noise or table.noise_lines
    if noise:
        remarks.append(f"Passed over, being noise data: {in_words(noise)}.")
    if lines.version != "1.1" and not lines.ended:
        remarks.append("[End] is missing, so the file may be cut short.")
    if named_ports is not None and named_ports != table.ports:
        remarks.append(
            f"The name says {named_ports} port(s), the rows say {table.ports}; the rows were used."
        )
    if table.ports == 2:
        remarks.append("Of the two-port data only the reflection into port 1 was taken.")
    return remarks


def _doubts(lines: Lines, reflection: ComplexArray, table: Table, option: OptionLine) -> list[str]:
    """What says that the data may be another one than was read."""
    doubts = []
    if lines.foreign_impedance:
        doubts.append(
            f"Comments give a port impedance other than the reference "
            f"({in_words(lines.foreign_impedance)}). Comments have no meaning in the format, so it "
            "was not used; if it is right, these readings are not: export the file referred to "
            "50 ohm."
        )
    size = np.abs(reflection[np.isfinite(reflection)])
    if size.size and size.max() > PASSIVE_REFLECTION:
        doubts.append(
            f"|S11| reaches {size.max():.4g}. A passive antenna cannot exceed 1: the data is "
            "raw, mislabelled, or return loss written without its sign."
        )
    if doubt := format_doubt(table, option):
        doubts.append(doubt)
    return doubts


def _remarks_on_reference(option: OptionLine, reference: tuple[float, ...]) -> list[str]:
    if option.parameter == "s" and all(ohm == SYSTEM_OHM for ohm in reference):
        return []
    given = " and ".join(f"{ohm:g}" for ohm in dict.fromkeys(reference))
    return [
        f"{option.parameter.upper()} parameters referred to {given} ohm were converted to "
        "reflection referred to 50 ohm."
    ]


def _remarks_on_data(
    frequency: FloatArray, reflection: ComplexArray, table: Table, option: OptionLine
) -> list[str]:
    remarks = []
    missing = np.flatnonzero(~np.isfinite(reflection))
    if missing.size:
        remarks.append(
            f"{missing.size} of {frequency.size} points hold no finite reflection (the first in "
            f"line {table.lines[missing[0]]}) and count as not measured."
        )
    if option.number_format == "db" and np.isneginf(table.values[:, 1]).any():
        remarks.append(
            "A level of -inf dB would be a perfect match, which nobody measures; it counts as "
            "not measured."
        )
    if frequency[-1] > UNUSUAL_ABOVE_HZ or frequency[-1] < UNUSUAL_BELOW_HZ:
        remarks.append(
            f"The highest frequency is {table.values[-1, 0]:g} {_UNIT_NAMES[option.unit]}. Check "
            "the unit in the option line."
        )
    return remarks


__all__ = [
    "TouchstoneError",
    "TouchstoneFile",
    "TwoPortFile",
    "parse_touchstone",
    "parse_two_port",
]
