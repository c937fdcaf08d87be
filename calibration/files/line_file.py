"""What a person says of a line that is looked along: its type or its own figures, and a section.

Typed in one line: a name of the table of cables or a velocity factor, and the loss of a metre where
it is known better, such as "ptfe-2.5mm", "0.7", "0.7 0.85@2600". Kept with a record in figures, so
that a later table changes nothing:

    format = 1
    words = "ptfe-2.5mm"
    velocity_factor = 0.695
    velocity_tolerance = 0.01
    loss_k1 = 0.015               # one way, of one metre: k1 sqrt(f) + k2 f, dB, f in MHz
    loss_k2 = 0.00004
    loss_tolerance = 0.2          # as a part of it
    beta = 6.0                    # of the Kaiser window
    gate_m = [0.5, 1.5]           # a section to be taken out, if any
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from acquire.files.toml_file import first_fault, toml_table
from calibration.cable.distance_domain import KAISER_BETA, Line
from calibration.errors import FaultError
from calibration.files.plane_file import TABLE_LOSS_TOLERANCE, TYPED_VELOCITY_TOLERANCE
from calibration.plane.cable_type import CableType
from calibration.plane.loss import NO_LOSS, LossLaw
from calibration.plane.reference_plane import LOSS_TOLERANCE, SKIN_SHARE

MOST_LOSS_DB = 100.0
_SECTION = re.compile(r"\s*(-?\d{1,6}(?:\.\d+)?)\s*-\s*(\d{1,6}(?:\.\d+)?)\s*")


@dataclass(frozen=True, slots=True)
class LineToInspect:
    """A line to look along."""

    line: Line
    words: str
    """As it was said."""
    beta: float = KAISER_BETA
    gate_m: tuple[float, float] | None = None
    """A section to take out, m."""

    @property
    def toml(self) -> str:
        """Its table, as it is kept."""
        line = self.line
        figures = {
            "velocity_factor": line.velocity_factor,
            "velocity_tolerance": line.velocity_tolerance,
            "loss_k1": line.loss.k1,
            "loss_k2": line.loss.k2,
            "loss_tolerance": line.loss_tolerance,
            "beta": self.beta,
        }
        words = "".join(each for each in self.words if each.isprintable() and each not in '"\\')
        rows = ["format = 1", f'words = "{words}"']
        rows += [f"{key} = {float(value)!r}" for key, value in figures.items()]
        if self.gate_m is not None:
            rows.append(f"gate_m = [{self.gate_m[0]!r}, {self.gate_m[1]!r}]")
        return "".join(f"{row}\n" for row in rows)


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    format: Annotated[Literal[1], Field(description="1, the only layout this version reads")]
    words: Annotated[str, Field(max_length=80, description="what it is")] = ""
    velocity_factor: Annotated[float, Field(ge=0.3, le=1, description="0.3 to 1")]
    velocity_tolerance: Annotated[float, Field(ge=0, le=0.5, description="0 to 0.5")] = 0.0
    loss_k1: Annotated[float, Field(ge=0, le=MOST_LOSS_DB, description="dB, not negative")] = 0.0
    loss_k2: Annotated[float, Field(ge=0, le=MOST_LOSS_DB, description="dB, not negative")] = 0.0
    loss_tolerance: Annotated[float, Field(ge=0, le=1, description="0 to 1")] = 0.0
    beta: Annotated[float, Field(ge=0, le=20, description="0 to 20")] = KAISER_BETA
    gate_m: Annotated[
        tuple[float, float] | None, Field(description="two distances, the nearer one first")
    ] = None


def parse_line(text: str, origin: str) -> LineToInspect:
    """Read a line as it was kept. Raises FaultError, naming the field and the cure."""
    content = toml_table(text, f"The line {origin}", FaultError)
    try:
        table = _Table.model_validate(content)
    except ValidationError as error:
        raise FaultError(first_fault(origin, error, _Table)) from error
    line = Line(
        table.velocity_factor,
        LossLaw(table.loss_k1, table.loss_k2),
        table.velocity_tolerance,
        table.loss_tolerance,
    )
    return LineToInspect(line, table.words, table.beta, table.gate_m)


def parse_typed_line(
    typed: str, types: Mapping[str, CableType], beta: float = KAISER_BETA, gate: str | None = None
) -> LineToInspect:
    """The line that a person described; see the head of this file.

    types : the table of cables. gate : a section, such as "0.5-1.5", metres.
    Raises FaultError, with what can be written.
    """
    velocity, tolerance, law, loss_off = 0.0, TYPED_VELOCITY_TOLERANCE, NO_LOSS, 0.0
    for word in typed.split():
        if "@" in word:
            law, loss_off = _loss(word), LOSS_TOLERANCE
        elif word in types:
            kind = types[word]
            velocity, tolerance = kind.velocity_factor, kind.velocity_tolerance
            law, loss_off = kind.loss, TABLE_LOSS_TOLERANCE
        else:
            velocity, tolerance = _velocity(word, types), TYPED_VELOCITY_TOLERANCE
    if velocity == 0:
        raise FaultError(
            "Distance takes the cable's speed: its type in the table "
            f"({', '.join(types)}), or a velocity factor such as 0.695."
        )
    if not 0 <= beta <= 20:
        raise FaultError(f"A window's beta lies between 0 and 20, not {beta:g}.")
    section = None if not gate else parse_section(gate)
    return LineToInspect(
        Line(velocity, law, tolerance, loss_off), " ".join(typed.split()), beta, section
    )


def parse_section(text: str) -> tuple[float, float]:
    """Read "0.5-1.5", two distances in metres. Raises FaultError."""
    found = _SECTION.fullmatch(text.replace(",", "."))
    if found is None:
        raise FaultError(f'"{text}" is no section. Write two distances in metres, such as 0.5-1.5.')
    return float(found[1]), float(found[2])


def _velocity(word: str, types: Mapping[str, CableType]) -> float:
    try:
        velocity = float(word.replace(",", "."))
    except ValueError:
        raise FaultError(
            f'The table has no cable "{word}". It has {", ".join(types)}; or write a velocity '
            "factor, such as 0.695."
        ) from None
    if not 0.3 <= velocity <= 1:
        raise FaultError(f"A velocity factor lies between 0.3 and 1, not at {velocity:g}.")
    return velocity


def _loss(word: str) -> LossLaw:
    decibels, _, mhz = word.replace(",", ".").partition("@")
    try:
        law = LossLaw.at_one(float(decibels), float(mhz), SKIN_SHARE)
    except (ValueError, ZeroDivisionError):
        law = LossLaw(-1.0, 0.0)
    if not 0 <= law.k1 < MOST_LOSS_DB:
        raise FaultError(
            f'"{word.rstrip("@")}" is no loss. Write what one metre loses one way, and at how many '
            "MHz: 0.85@2600."
        )
    return law
