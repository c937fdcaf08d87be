"""A calibration kit: which standards there are, and what is believed about them."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from acquire.files.doubtful_figure import doubtful_figures
from calibration.plane.adapter import Adapter
from calibration.standards.papers import Papers
from calibration.standards.standard import (
    CoefficientStandard,
    Standard,
)


@dataclass(frozen=True, slots=True, eq=False)
class Kit:
    """Standards that belong together, with the plane they define."""

    name: str
    """Short name, as given to `--kit`."""
    label: str
    """One line for a person."""
    connector: str
    """Connector and gender of the standards; fits into "onto ..., the standards are ..."."""
    source: str
    """Where the definitions come from, and how sure that is."""
    standards: Mapping[str, Standard]
    """By name, in the order they are asked for; at least an open, a short and a load."""
    load_return_loss_db: float | None = None
    """What the load's maker states, dB, positive; None is unknown, and unknown is not zero."""
    adapters: Mapping[str, Adapter] = field(default_factory=dict)
    """By name; what may be screwed on where the standards were."""
    papers: Mapping[str, Papers] = field(default_factory=dict)
    """By standard: what tells this very piece from another, where anything is stated."""
    load_source: str = ""
    """Where the load's return loss comes from, such as "certificate 123"; empty: nobody said."""

    @property
    def warnings(self) -> tuple[str, ...]:
        """Which of its figures are hardly what was meant; a sentence each."""
        parts = {**self.standards, **{f"adapter {name}": a for name, a in self.adapters.items()}}
        return tuple(
            sentence
            for name, part in parts.items()
            if isinstance(part, CoefficientStandard | Adapter)
            for sentence in doubtful_figures(
                dataclasses.asdict(part), f"Kit {self.name}, the {name}"
            )
        )

    def expired(self, on: date, measured: Iterable[str]) -> tuple[str, ...]:
        """Which of the standards that were measured were out of date on a day; a sentence each."""
        return tuple(
            sentence
            for name in measured
            if name in self.papers and (sentence := self.papers[name].expired(name, on))
        )
