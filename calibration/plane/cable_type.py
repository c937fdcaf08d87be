"""Cables by type: what each is called, its velocity factor and what it loses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from acquire.files.toml_file import first_fault, toml_table
from calibration.errors import PlaneError
from calibration.plane.loss import LossLaw

METRES_OF_UNIT = {"m": 1.0, "100 m": 100.0, "100 ft": 30.48}

VELOCITY_FACTORS: dict[str, tuple[float, float]] = {
    "solid PE": (0.66, 0.01),
    "foam PE": (0.81, 0.03),
    "PTFE": (0.695, 0.01),
    "air": (1.0, 0.01),
}
"""Velocity factor by dielectric and how far it may be off: a coax maker's sheet has .66, .78 to
.84, .69 to .70 [read]; 1/sqrt(eps) [derived]."""


@dataclass(frozen=True, slots=True)
class CableType:
    """One row of the table."""

    name: str
    """As it is typed."""
    words: str
    """As it is said."""
    velocity_factor: float
    velocity_tolerance: float
    loss: LossLaw
    """Of one metre."""
    source: str
    """Where the loss comes from."""
    certainty: str
    """How sure the loss is: "read", "in part memory" or "memory"."""

    @property
    def velocity_words(self) -> str:
        """The velocity factor and its spread: "0.78 to 0.84"."""
        low, high = (self.velocity_factor + part * self.velocity_tolerance for part in (-1, 1))
        return f"{low:.3g} to {min(high, 1.0):.3g}"

    @property
    def label(self) -> str:
        """As it is offered to choose: in words, and by name where that is another."""
        same = self.words.casefold() == self.name
        return self.words if same else f"{self.words} ({self.name})"


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9.\-]{0,39}$", description="small letters")]
    words: Annotated[str, Field(min_length=1, max_length=60, description="as it is said")]
    dielectric: Annotated[
        Literal["solid PE", "foam PE", "PTFE", "air"], Field(description="one of the known ones")
    ]
    at_mhz: Annotated[tuple[float, float], Field(description="two frequencies, MHz, rising")]
    loss_db: Annotated[tuple[float, float], Field(description="the loss at each, dB, positive")]
    per: Annotated[Literal["m", "100 m", "100 ft"], Field(description="the length it is for")]
    certainty: Annotated[
        Literal["read", "in part memory", "memory"], Field(description="how sure the loss is")
    ]
    source: Annotated[str, Field(min_length=1, description="where it comes from")]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    format: Annotated[Literal[1], Field(description="1, the only layout this version reads")]
    cable: Annotated[list[_Row], Field(min_length=1, description="one [[cable]] each")]


def parse_cable_types(text: str, origin: str) -> dict[str, CableType]:
    """Read a table of cables, by name. Raises PlaneError, naming the field and the cure."""
    content = toml_table(text, f"The table {origin}", PlaneError)
    try:
        table = _Table.model_validate(content)
    except ValidationError as error:
        raise PlaneError(first_fault(origin, error, _Row)) from error
    found = {}
    for row in table.cable:
        velocity, tolerance = VELOCITY_FACTORS[row.dielectric]
        whole = LossLaw.through(row.at_mhz, row.loss_db)
        law = whole.times(1 / METRES_OF_UNIT[row.per])
        found[row.name] = CableType(
            row.name, row.words, velocity, tolerance, law, row.source, row.certainty
        )
    return found
