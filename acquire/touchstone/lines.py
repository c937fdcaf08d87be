"""Touchstone text, line by line: option line, keywords, rows of numbers, and what is neither.

Nothing here knows what the numbers mean; `touchstone.py` makes reflection of them.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NoReturn

import numpy as np

from acquire.number_text import headed_decimals
from acquire.touchstone.option_line import (
    MOST_PORTS,
    OptionLine,
    excerpt,
    fault,
    like_a_row,
    number,
    numbers,
    parse_option_line,
    resistance,
    too_many_ports,
)

VERSIONS = ("2.0", "2.1")
KEYWORDS = (
    "version",
    "number of ports",
    "two-port data order",
    "number of frequencies",
    "number of noise frequencies",
    "reference",
    "matrix format",
    "mixed-mode order",
    "begin information",
    "end information",
    "network data",
    "noise data",
    "end",
)
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+(e[+-]?\d+)?", re.IGNORECASE)
_IMPEDANCE_COMMENT = re.compile(r"!\s*port\s+impedance\s*([-+.\d].*)", re.IGNORECASE)
_KEYWORD = re.compile(r"\[([^\]]*)\](.*)")


@dataclass(slots=True)
class Lines:
    """A file taken apart; filled line by line."""

    option: OptionLine = field(default_factory=OptionLine)
    version: str = "1.1"
    ports: int | None = None
    """From [Number of Ports]; None in a version 1 file."""
    reference_ohm: tuple[float, ...] = ()
    """From [Reference]; empty where the option line's holds."""
    matrix_format: str = "full"
    frequencies: int | None = None
    """From [Number of Frequencies]."""
    values: array[float] = field(default_factory=lambda: array("d"))
    """Every number of every row, one after the other."""
    counts: list[int] = field(default_factory=list)
    """How many numbers each row holds."""
    numbers: list[int] = field(default_factory=list)
    """The line number of each row."""
    passed_over: list[int] = field(default_factory=list)
    noise: list[int] = field(default_factory=list)
    ignored_options: list[int] = field(default_factory=list)
    foreign_impedance: list[int] = field(default_factory=list)
    """Comments that give a port impedance other than the reference."""
    ended: bool = False
    """[End] was seen."""


def in_words(numbers: Sequence[int]) -> str:
    """Say which lines: "line 3", "lines 1-2 and 166"."""
    runs: list[list[int]] = []
    for at in numbers:
        if runs and at == runs[-1][1] + 1:
            runs[-1][1] = at
        else:
            runs.append([at, at])
    words = [f"{first}" if first == last else f"{first}-{last}" for first, last in runs[:4]]
    if len(runs) > 4:
        words[3:] = [f"{len(runs) - 3} more places"]
    listed = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
    return f"line {listed}" if len(numbers) == 1 else f"lines {listed}"


def take_apart(text: str, name: str) -> Lines:
    """Sort a file's lines; raise TouchstoneError, with the line, where that cannot be done."""
    return sorted_out(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), name)


def sorted_out(lines: Sequence[str], name: str) -> Lines:
    """The same of lines without their ends; each is looked at a few times, at most."""
    scanner = _Scanner(name)
    for at, line in enumerate(lines, 1):
        scanner.line(at, line)
        if scanner.rows_may_follow() and scanner.only_rows_follow(lines[at:]):
            break
    scanner.finish()
    return scanner.found


class _Scanner:
    """Where in the file the scan stands, and what it has found."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.found = Lines()
        self.at = 0
        self.seen_version = False
        self.seen_option = False
        self.section = ""  # version 2: "", "reference", "network", "noise", "information"
        self.data_broken_at: int | None = None
        self.first_numbers: int | None = None
        self.damaged: tuple[int, str] | None = None
        """The first line below rows that looks like one, and what stands in it."""

    def refuse(self, sentence: str) -> NoReturn:
        raise fault(self.name, self.at, sentence)

    def line(self, at: int, line: str) -> None:
        self.at = at
        body = line
        if "!" in line:
            body, _, comment = line.partition("!")
            if "mpedance" in comment:
                self.impedance_comment("!" + comment)
        fields = body.split()
        if not fields:
            return
        first = fields[0][0]
        if self.section == "information" and not body.strip().lower().startswith("[end info"):
            return
        if first == "#":
            self.option_line(body.strip())
        elif first == "[":
            self.keyword_line(body.strip())
        else:
            row = numbers(fields, body)
            if row is None:
                self.no_data(fields, body)
            else:
                self.row(row)

    # -- rows ------------------------------------------------------------------------------

    def rows_may_follow(self) -> bool:
        """Right below the option line of version 1, all the rest may be rows."""
        return self.seen_option and not self.seen_version and self.at == self.found.option.line

    def only_rows_follow(self, lines: Sequence[str]) -> bool:
        """Take all the rest at once, if it is rows."""
        if self.alike_rows_follow(lines):
            return True
        rest = "\n".join(lines)
        if "_" in rest or not rest.isascii():  # float() would take these
            return False
        try:
            values = list(map(float, rest.split()))
        except ValueError:
            return False
        counts = [len(line.split()) for line in lines]
        self.found.values.fromlist(values)
        self.found.counts += filter(None, counts)
        self.found.numbers += [at for at, count in enumerate(counts, self.at + 1) if count]
        return True

    def alike_rows_follow(self, lines: Sequence[str]) -> bool:
        """The same where every row is a whole frequency and one pair, all pairs written alike."""
        rows = lines[:-1] if lines and not lines[-1] else lines
        text = "".join(f"{row}\n" for row in rows).encode("ascii", "replace")
        found = headed_decimals(text, 2)
        if found is None or len(found[0]) != len(rows):
            return False
        self.found.values.frombytes(np.column_stack(found).tobytes())
        self.found.counts += [3] * len(rows)
        self.found.numbers += range(self.at + 1, self.at + 1 + len(rows))
        return True

    def row(self, row: list[float]) -> None:
        found = self.found
        if self.section == "reference":
            found.reference_ohm += tuple(resistance(value, self.name, self.at) for value in row)
            self.reference_complete()
        elif self.section == "noise":
            found.noise.append(self.at)
        elif not self.seen_option:
            if self.first_numbers is None and len(row) >= 3:
                self.first_numbers = self.at
            found.passed_over.append(self.at)
        elif self.data_broken_at is not None:
            self.refuse(
                f"the data goes on after line {self.data_broken_at}, which is no data. "
                "Something is missing or was put in between: export the file again.",
            )
        elif self.seen_version and self.section != "network":
            self.refuse("numbers stand before [Network Data]. Put that keyword above the data.")
        else:
            found.values.extend(row)
            found.counts.append(len(row))
            found.numbers.append(self.at)

    def no_data(self, fields: list[str], body: str) -> None:
        pieces = re.split(r"[,;\s]+", body.strip(" \t,;"))
        if self.seen_option and all(number(piece) is not None for piece in pieces):
            if all(_DECIMAL_COMMA.fullmatch(f) or number(f) is not None for f in fields):
                self.refuse(
                    f"{excerpt(body)} holds decimal commas. The format has decimal points: "
                    "export the file with English number settings."
                )
            self.refuse(
                f"{excerpt(body)} has commas or semicolons between its numbers. The format has "
                "blanks: export the file as Touchstone, not as CSV."
            )
        # A header or a footer is words. A row with a digit spoilt is not: to pass over it would
        # lose a point without a word. One within the data is told by the rows that follow it.
        in_data = self.seen_option and (not self.seen_version or self.section == "network")
        if in_data and like_a_row(pieces):
            if not self.found.counts:
                self.refuse_damaged(self.at, body)
            self.damaged = self.damaged or (self.at, body)
        self.passed_over()

    def refuse_damaged(self, at: int, body: str) -> NoReturn:
        raise fault(
            self.name,
            at,
            f"{excerpt(body)} is a row with something in it that is no number. Export the file "
            "again; if the line is no data, put a ! before it.",
        )

    def passed_over(self) -> None:
        self.found.passed_over.append(self.at)
        if self.found.counts and self.data_broken_at is None:
            self.data_broken_at = self.at

    # -- the option line -------------------------------------------------------------------

    def option_line(self, body: str) -> None:
        option = parse_option_line(body, self.name, self.at)
        if option is None:
            self.passed_over()
        elif self.seen_option:
            self.found.ignored_options.append(self.at)
        elif self.first_numbers is not None:
            self.refuse(
                "the option line comes after numbers, which would be read without it "
                f"(line {self.first_numbers}). Move it above the data."
            )
        else:
            self.found.option = option
            self.seen_option = True

    def impedance_comment(self, comment: str) -> None:
        match = _IMPEDANCE_COMMENT.match(comment)
        if match is None:
            return
        parts = [number(word) for word in match[1].split()]
        reference = self.found.option.reference_ohm[0]
        if parts and any(
            part is None or not math.isclose(part, (reference, 0.0)[at % 2], abs_tol=1e-6)
            for at, part in enumerate(parts)
        ):
            self.found.foreign_impedance.append(self.at)

    # -- version 2's keywords --------------------------------------------------------------

    def keyword_line(self, body: str) -> None:
        match = _KEYWORD.match(body)
        keyword = " ".join(match[1].lower().split()) if match else ""
        if match is None or (keyword not in KEYWORDS and not self.seen_version):
            self.passed_over()
            return
        value = match[2].strip()
        label = f"[{match[1].strip()}]"
        if keyword == "version":
            self.version(value)
            return
        if not self.seen_version:
            self.refuse(
                f"{label} belongs to Touchstone 2, but no [Version] line stands above it. "
                'Write "[Version] 2.0" as the first line.'
            )
        if keyword not in KEYWORDS:
            self.refuse(f"{excerpt(label)} is no keyword of Touchstone 2.0 or 2.1.")
        if self.section == "reference":
            self.refuse("[Reference] gives fewer resistances than there are ports.")
        self.keyword(keyword, label, value)

    def version(self, value: str) -> None:
        if self.seen_version:
            self.refuse("[Version] stands twice. Two files were joined: take them apart.")
        if self.seen_option:
            self.refuse("[Version] must stand above the option line. Move it there.")
        if value not in VERSIONS:
            self.refuse(
                f"[Version] {excerpt(value)} is not known. Versions 1 (without this line), 2.0 "
                "and 2.1 can be read."
            )
        self.found.version = value
        self.seen_version = True

    def keyword(self, keyword: str, label: str, value: str) -> None:
        found = self.found
        match keyword:
            case "number of ports":
                found.ports = self.whole_number(label, value)
                if found.ports > MOST_PORTS:
                    self.refuse(too_many_ports(found.ports))
            case "number of frequencies":
                found.frequencies = self.whole_number(label, value)
            case "number of noise frequencies":
                self.whole_number(label, value)
            case "two-port data order":
                # S11 comes first either way, and only the product of S12 and S21 is used.
                self.one_of(label, value, ("12_21", "21_12"))
            case "matrix format":
                self.one_of(label, value.lower(), ("full", "lower", "upper"))
                found.matrix_format = value.lower()
            case "reference":
                self.reference(value)
            case "mixed-mode order":
                self.refuse("mixed-mode data is no plain reflection. Export single-ended data.")
            case _:
                self.begin_section(keyword)

    def begin_section(self, keyword: str) -> None:
        if keyword == "network data" and not (self.seen_option and self.found.ports):
            self.refuse(
                "[Network Data] stands above the option line or [Number of Ports]. Move it below."
            )
        if keyword == "end":
            self.found.ended = True
            self.data_broken_at = self.at
        self.section = {
            "network data": "network",
            "noise data": "noise",
            "begin information": "information",
        }.get(keyword, "")

    def one_of(self, label: str, value: str, allowed: tuple[str, ...]) -> None:
        if value not in allowed:
            self.refuse(f"{label} must be {' or '.join(allowed)}, not {excerpt(value)}.")

    def reference(self, value: str) -> None:
        if self.found.ports is None:
            self.refuse("[Reference] stands above [Number of Ports].")
        self.section = "reference"
        for word in value.split():
            value_ohm = number(word)
            if value_ohm is None:
                self.refuse(
                    f"[Reference] gives {excerpt(word)}, not a resistance in ohm. Only a real "
                    "reference can be used: export the data referred to 50 ohm."
                )
            self.found.reference_ohm += (resistance(value_ohm, self.name, self.at),)
        self.reference_complete()

    def reference_complete(self) -> None:
        given = len(self.found.reference_ohm)
        if given > (self.found.ports or 0):
            self.refuse(f"[Reference] gives {given} resistances for {self.found.ports} port(s).")
        if given == self.found.ports:
            self.section = ""

    def whole_number(self, label: str, value: str) -> int:
        if not re.fullmatch(r"[0-9]{1,9}", value) or int(value) == 0:
            self.refuse(f"{label} needs a whole number above zero, not {excerpt(value)}.")
        return int(value)

    # -- the end ---------------------------------------------------------------------------

    def finish(self) -> None:
        found = self.found
        if not self.seen_option:
            raise fault(
                self.name,
                self.first_numbers,
                "no option line was found, so unit and format of the numbers are unknown. If "
                'you know them, add a line such as "# MHz S RI R 50" above the data.',
            )
        if not found.counts:
            raise fault(
                self.name, found.option.line, "no rows of data were found below the option line."
            )
        if self.damaged:
            self.refuse_damaged(*self.damaged)
