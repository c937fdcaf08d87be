"""Adapters of a kit: short lines between connectors, with their delay, gender and doubt.

An adapter put on after calibrating is undone like a pigtail. One that stood in the way while
calibrating, and was taken off, is put back in: the same line the other way round.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import ConfigDict, Field, model_validator
from pydantic.dataclasses import dataclass

from calibration.plane.loss import LossLaw
from calibration.plane.reference_plane import SKIN_SHARE, DeclaredLine, Joints

_Decibels = Annotated[float, Field(ge=0, le=3, description="one way, dB, 0 to 3")]
_Connector = Annotated[
    str,
    Field(min_length=1, max_length=40, description="connector and gender, such as 'type N socket'"),
]
GENDERS = ("plug", "socket")


@dataclass(
    frozen=True,
    slots=True,
    kw_only=True,
    config=ConfigDict(extra="forbid", strict=True, allow_inf_nan=False),
)
class Adapter:
    """One adapter, as a kit file describes it."""

    near: _Connector
    """The end that is screwed on where the standards were: of their connector and gender."""
    far: _Connector
    """The end that the antenna is screwed on to."""
    delay_ps: Annotated[float, Field(ge=0, le=2000, description="one way, ps, 0 to 2000")]
    delay_tolerance_ps: Annotated[float, Field(ge=0, le=500, description="ps, 0 to 500")] = 5.0
    """How far that may be off; 1.5 mm of air without a statement [practice]."""
    loss_db: _Decibels = 0.05
    """One way at loss_at_mhz."""
    loss_at_mhz: Annotated[float, Field(gt=0, le=100_000, description="MHz, above 0")] = 1000.0
    loss_tolerance_db: _Decibels = 0.05
    """How far that may be off; as much as it is, where nothing is stated."""
    joints_db: Annotated[
        float | None, Field(ge=6, le=80, description="what either end reflects, 6 to 80 dB")
    ] = None
    """What it reflects at either end, as return loss; 30 dB assumed where nothing is stated."""

    @model_validator(mode="after")
    def _has_a_gender_at_either_end(self) -> Self:
        for name in ("near", "far"):
            if gender(getattr(self, name)) is None:
                raise ValueError(f"{name} names no gender: write plug or socket behind it")
        return self

    def line(self, *, removed: bool) -> DeclaredLine:
        """What lies between the calibrated connector and the antenna.

        removed : True where it stood in the way while calibrating and is gone now.
        """
        how = "the taken-off adapter" if removed else "the adapter"
        law = LossLaw.at_one(self.loss_db, self.loss_at_mhz, SKIN_SHARE)
        return DeclaredLine(
            words=f"{how} {self.near} to {self.far}",
            delay_s=self.delay_ps * 1e-12,
            delay_tolerance_s=self.delay_tolerance_ps * 1e-12,
            loss=law,
            loss_tolerance=self.loss_tolerance_db / max(self.loss_db, 1e-3),
            joints=Joints() if self.joints_db is None else Joints(self.joints_db, "stated"),
            removed=removed,
        )


def gender(connector: str) -> str | None:
    """Plug or socket, by the last word that says so; None where none does."""
    words = connector.lower().replace(",", " ").split()
    return next(
        (each for word in reversed(words) for each in GENDERS if word.rstrip("s") == each), None
    )
