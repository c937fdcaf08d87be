"""Cables by type: velocity factor, and loss by the law A = k1 sqrt(f) + k2 f.

Skin effect goes with the square root of frequency, the dielectric's loss with frequency itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from acquire.settings import first_fault, toml_table
from acquire.sweep import FloatArray
from calibration.errors import PlaneError
from calibration.standard import MM_PER_PS

M_PER_S = MM_PER_PS * 1e9
METRES = {"m": 1.0, "100 m": 100.0, "100 ft": 30.48}

VELOCITY: dict[str, tuple[float, float]] = {
    "solid PE": (0.66, 0.01),
    "foam PE": (0.81, 0.03),
    "PTFE": (0.695, 0.01),
    "air": (1.0, 0.01),
}
"""Velocity factor by dielectric and how far it may be off: a coax maker's sheet has .66, .78 to
.84, .69 to .70 [read]; 1/sqrt(eps) [derived]."""


@dataclass(frozen=True, slots=True)
class LossLaw:
    """A loss one way: k1 sqrt(f) + k2 f, dB, f in MHz."""

    k1: float
    """dB per square root of a megahertz."""
    k2: float
    """dB per megahertz."""

    @classmethod
    def through(cls, at_mhz: tuple[float, float], loss_db: tuple[float, float]) -> LossLaw:
        """The law through two figures.

        Raises PlaneError where no cable has those: its loss must rise, more slowly than frequency
        and no more slowly than its root.
        """
        (f1, f2), (a1, a2) = at_mhz, loss_db
        k1 = (a1 * f2 - a2 * f1) / (f2 * np.sqrt(f1) - f1 * np.sqrt(f2))
        k2 = (a2 - k1 * np.sqrt(f2)) / f2
        if k1 < 0 or k2 < -1e-3 * a2 / f2:
            raise PlaneError(
                f"No coax loses {a1:g} dB at {f1:g} MHz and {a2:g} dB at {f2:g} MHz: loss rises "
                "faster than the root of frequency and more slowly than frequency. Correct a "
                "figure."
            )
        return cls(float(k1), float(max(k2, 0.0)))

    @classmethod
    def at_one(cls, loss_db: float, at_mhz: float, skin_share: float) -> LossLaw:
        """The law through one figure.

        skin_share : which part of the loss there goes with the root of frequency, 0 to 1.
        """
        return cls(
            loss_db * skin_share / float(np.sqrt(at_mhz)), loss_db * (1 - skin_share) / at_mhz
        )

    def db(self, frequency_hz: FloatArray) -> FloatArray:
        """One way, dB, positive, shape as frequency_hz."""
        mhz = np.asarray(frequency_hz, dtype=np.float64) / 1e6
        loss: FloatArray = self.k1 * np.sqrt(mhz) + self.k2 * mhz
        return loss

    def times(self, factor: float) -> LossLaw:
        """The law of so many times the length."""
        return LossLaw(self.k1 * factor, self.k2 * factor)


NO_LOSS = LossLaw(0.0, 0.0)


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
    """Where the loss comes from, and how sure that is."""

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
    source: Annotated[str, Field(min_length=1, description="where it comes from, how sure")]


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
        velocity, tolerance = VELOCITY[row.dielectric]
        whole = LossLaw.through(row.at_mhz, row.loss_db)
        law = whole.times(1 / METRES[row.per])
        found[row.name] = CableType(row.name, row.words, velocity, tolerance, law, row.source)
    return found
