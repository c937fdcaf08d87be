"""Limits on a match, each kept in the metric it was written in: 10 dB is not 2:1."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import Literal

from acceptance.bands.band_table import Link
from acceptance.errors import PlanError
from acceptance.limits.match import (
    reflection_from_return_loss,
    reflection_from_vswr,
    return_loss_db,
)

Metric = Literal["return_loss_db", "vswr"]

MOST_RETURN_LOSS_DB = 60.0
MOST_VSWR = 100.0

LEAST_WANTED_DB = 4.0
"""Nobody wants less of a cellular antenna: at VSWR 4.4 two fifths of the power come back. Limits in
use go down to 5.1 dB, a VSWR of 3.5 (`acceptance/bands/limits.csv`) [practice]."""


@dataclass(frozen=True, slots=True)
class Limit:
    """The worst match that still passes."""

    metric: Metric
    value: float
    """Return loss in dB, positive, at least which; or VSWR, at most which."""

    def __post_init__(self) -> None:
        if self.metric == "return_loss_db" and not 0 < self.value <= MOST_RETURN_LOSS_DB:
            raise PlanError(
                f"A return loss limit of {self.value:g} dB cannot be meant; write one between 0 "
                f"and {MOST_RETURN_LOSS_DB:g} dB, such as return_loss_db = 10."
            )
        if self.metric == "vswr" and not 1 < self.value <= MOST_VSWR:
            raise PlanError(
                f"A VSWR limit of {self.value:g} cannot be meant; write one between 1 and "
                f"{MOST_VSWR:g}, such as vswr = 2.0."
            )

    @classmethod
    def return_loss(cls, level_db: float) -> Limit:
        """Make a return-loss limit; -10 dB of S11 and 10 dB of return loss are the same."""
        return cls("return_loss_db", abs(level_db))

    @property
    def reflection(self) -> float:
        """The largest |reflection| that passes."""
        if self.metric == "vswr":
            return float(reflection_from_vswr(self.value))
        return float(reflection_from_return_loss(self.value))

    @property
    def return_loss_db(self) -> float:
        """The limit as return loss, dB, positive, whatever it was written in."""
        return self.value if self.metric != "vswr" else float(return_loss_db(self.reflection))

    @property
    def doubt(self) -> str:
        """Why it is hardly what was meant, and what was; a sentence, empty where it may be."""
        if self.return_loss_db >= LEAST_WANTED_DB:
            return ""
        lets = f"lets {100 * self.reflection**2:.0f} % of the power come back"
        if self.metric == "vswr":
            return (
                f"vswr = {self.value:g} {lets} ({self.return_loss_db:.1f} dB of return loss). Did "
                f"you mean return_loss_db = {self.value:g}?"
            )
        meant = f"vswr = {self.value:g}"
        if self.value < 1:  # then it is neither a ratio nor decibels
            meant = f"return_loss_db = {float(return_loss_db(self.value)):.1f}, a reflection of it"
        all_of_it = self.reflection >= 1
        ratio = "" if all_of_it else f" (VSWR {(1 + self.reflection) / (1 - self.reflection):.1f})"
        return f"return_loss_db = {self.value:g} {lets}{ratio}. Did you mean {meant}?"

    @property
    def words(self) -> str:
        """The limit as a person reads it, in its own metric."""
        if self.metric == "vswr":
            return f"VSWR at most {self.value:g}"
        return f"return loss at least {self.value:g} dB"

    def as_json(self) -> dict[str, float]:
        """The limit as the plan writes it: {"vswr": 2.0} or {"return_loss_db": 10.0}."""
        return {self.metric: self.value}


@dataclass(frozen=True, slots=True)
class Preset:
    """A limit in common use, under a name that a plan may give instead."""

    name: str
    limit: Limit
    link: Link
    note: str
    """Who uses it; no 3GPP specification sets a return loss for an antenna."""


def parse_presets(text: str) -> tuple[Preset, ...]:
    """Read presets from CSV text with a header line; one row a link where the two differ."""
    metrics: dict[str, Metric] = {"vswr_max": "vswr", "return_loss_min_db": "return_loss_db"}
    links: dict[str, Link] = {"both": "both", "uplink": "uplink", "downlink": "downlink"}
    return tuple(
        Preset(
            name=row["preset"],
            limit=Limit(metrics[row["metric"]], float(row["limit"])),
            link=links[row["link"]],
            note=row["note"],
        )
        for row in csv.DictReader(text.splitlines())
    )
