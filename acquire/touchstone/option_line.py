"""Touchstone's option line, and how the format writes a number."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.errors import TouchstoneError

UNITS_HZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
PARAMETERS = ("s", "y", "z", "h", "g")
FORMATS = ("db", "ma", "ri")

MOST_PORTS = 2

_KINDS = {
    **dict.fromkeys(UNITS_HZ, "unit"),
    **dict.fromkeys(PARAMETERS, "parameter"),
    **dict.fromkeys(FORMATS, "format"),
}
_DEFAULTS = (("unit", "GHz"), ("parameter", "S"), ("format", "MA"))
_BEGINS_A_NUMBER = frozenset("0123456789+-.")
_PRINTED_NOT_A_NUMBER = re.compile(r"[+-]?1\.#(qnan|snan|inf|ind)\d*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class OptionLine:
    """What the line that begins with # says, in lower case."""

    line: int = 0
    unit: str = "ghz"
    parameter: str = "s"
    number_format: str = "ma"
    reference_ohm: tuple[float, ...] = (50.0,)
    """One resistance for all ports, or (since version 2.1 of the format) one a port."""
    defaulted: tuple[str, ...] = ()
    """What the line leaves out, in words, with the format's default."""


def parse_option_line(body: str, name: str, line: int) -> OptionLine | None:
    """Read a line that begins with #, its items in any order.

    Returns None where none of its words belongs into an option line: the line is no data.
    Raises TouchstoneError where some do and some do not, or where one is given twice.
    """
    words = body[1:].split()
    lowered = [word.lower() for word in words]
    if words and not any(word in _KINDS or word == "r" for word in lowered):
        return None
    chosen: dict[str, str] = {}
    reference: list[float] = []
    at = 0
    while at < len(words):
        word = lowered[at]
        at += 1
        kind = "reference" if word == "r" else _KINDS.get(word)
        if kind is None:
            raise fault(
                name,
                line,
                f"the option line says {excerpt(words[at - 1])}, which is no unit (Hz, kHz, MHz, "
                "GHz), no parameter (S, Y, Z, H, G), no format (DB, MA, RI) and no R.",
            )
        if kind in chosen:
            raise fault(name, line, f"the option line gives its {kind} twice. Keep one.")
        chosen[kind] = word
        if kind == "reference":
            while at < len(words) and (value := number(words[at])) is not None:
                reference.append(resistance(value, name, line))
                at += 1
            if not reference:
                given = excerpt(words[at]) if at < len(words) else "nothing"
                raise fault(
                    name,
                    line,
                    f"after R the option line gives {given}, not a resistance in ohm. Only a real "
                    "reference can be used: export the data referred to 50 ohm.",
                )
    defaulted = [f"{kind} {value}" for kind, value in _DEFAULTS if kind not in chosen]
    return OptionLine(
        line=line,
        unit=chosen.get("unit", "ghz"),
        parameter=chosen.get("parameter", "s"),
        number_format=chosen.get("format", "ma"),
        reference_ohm=tuple(reference) or (50.0,),
        defaulted=tuple(defaulted if reference else [*defaulted, "reference 50 ohm"]),
    )


def number(word: str) -> float | None:
    """Read one number; nan and infinity as programs print them; None where it is no number."""
    if "_" in word or not word.isascii():  # float() would take 1_000, and digits of any script
        return None
    try:
        return float(word)
    except ValueError:
        return math.nan if _PRINTED_NOT_A_NUMBER.fullmatch(word) else None


def like_a_row(pieces: Sequence[str]) -> bool:
    """True where most of a line's pieces begin as numbers do."""
    return 2 * sum(piece[:1] in _BEGINS_A_NUMBER for piece in pieces) > len(pieces)


def numbers(fields: list[str], body: str) -> list[float] | None:
    """Read a row, or None where any of it is no number."""
    if "_" not in body and body.isascii():
        try:
            return [float(word) for word in fields]
        except ValueError:
            pass
    row = [number(word) for word in fields]
    return None if None in row else [value for value in row if value is not None]


def resistance(value: float, name: str, line: int) -> float:
    """Return a reference resistance, ohm, if it can be meant; raise TouchstoneError if not."""
    if not 1e-3 <= value <= 1e6:
        raise fault(name, line, f"a reference of {value:g} ohm cannot be meant. 50 is usual.")
    return value


def too_many_ports(ports: int) -> str:
    """Say why a file of so many ports is refused."""
    return (
        f"the file has {ports} ports. Only one-port and two-port files are read: export the "
        "antenna's port alone."
    )


def fault(name: str, line: int | None, sentence: str) -> TouchstoneError:
    """Build the error that names file and line."""
    place = name if line is None else f"{name}, line {line}"
    return TouchstoneError(f"{place}: {sentence}")


def excerpt(text: str, length: int = 32) -> str:
    """Quote a piece of a file: printable characters only, cut to length."""
    clean = "".join(c if c.isprintable() else "?" for c in text.strip())
    return f'"{clean if len(clean) <= length else clean[: length - 3] + "..."}"'
