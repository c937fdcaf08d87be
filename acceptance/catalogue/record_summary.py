"""What a catalogue knows of one record."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import datetime

from acceptance.bands.band_table import Link
from acceptance.limits.decision import State
from acceptance.limits.limit import Limit


@dataclass(frozen=True, slots=True)
class Judged:
    """What is judged: a band and link under a limit."""

    name: str
    link: Link
    low_hz: float
    high_hz: float
    limit: Limit

    @property
    def title(self) -> str:
        """Name, and link where the band has two."""
        return self.name if self.link == "both" else f"{self.name} {self.link}"


@dataclass(frozen=True, slots=True)
class BandResult:
    """One band and link of one condition, as the record tells it."""

    judged: Judged
    state: State
    worst_return_loss_db: float | None
    worst_frequency_hz: float | None
    margin_or_bound_db: float | None
    """Margin to the limit, dB; what is proven of it where the reading lies beyond the floor."""
    margin_is_bound: bool
    """True where `margin_or_bound_db` is a bound: it is that much or better."""


@dataclass(frozen=True, slots=True)
class DipResult:
    """One dip of one condition, as the record tells it."""

    frequency_hz: float
    return_loss_db: float
    bandwidth_hz: float
    beyond: str
    """"above" or "below" where it lies beyond what was swept; else empty."""


@dataclass(frozen=True, slots=True)
class ConditionResult:
    """One condition of an antenna, as the record tells it."""

    name: str
    label: str
    judged: bool
    overall: State
    words: str
    bands: tuple[BandResult, ...]
    dips: tuple[DipResult, ...]
    """In order of frequency."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueEntry:
    """One line of a catalogue."""

    bench: str
    """Whose folder it is, where several benches share a catalogue; else empty."""
    folder: str
    """The record's folder by its name."""
    antenna: str
    operator: str
    note: str
    recipe: str
    """Its name; empty where the record names none."""
    plan: str
    kind: str
    invented: bool
    software: str
    at: datetime
    """When it was signed off, in the bench's own time zone."""
    overall: State
    words: str
    margin_or_bound_db: float | None
    """Least margin of the bands that decide, dB; None where it is not known."""
    least_margin_band: str
    """The band it is of."""
    caveat: str
    """Why to look closer: what of the files read is not as it was when the sums were made, or that
    it was not signed off; empty where nothing is the matter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSummary:
    """All that a catalogue keeps of one record."""

    entry: CatalogueEntry
    conditions: tuple[ConditionResult, ...]
    sizes_mm: dict[str, float]
    """Finished sizes by their names."""
    recipe_checksum: str
    """SHA-256 of the recipe's text; empty where there is none."""

    @property
    def deciding(self) -> tuple[ConditionResult, ...]:
        """The conditions that decide."""
        return tuple(each for each in self.conditions if each.judged)

    def condition(self, name: str = "") -> ConditionResult | None:
        """One condition by its name, the last one that decides without; None: it was not swept."""
        if not name:
            return self.deciding[-1] if self.deciding else None
        return next((each for each in self.conditions if each.name == name), None)


def folded(text: str) -> str:
    """A text as it is searched by: whatever its case, its width or its accents are made of."""
    return unicodedata.normalize("NFKC", text).casefold().strip()


def band_key(name: str) -> str:
    """A band's name as it is searched by: "LTE 20" is "lte20"."""
    return folded(name).replace(" ", "")


def band_keys(wanted: str) -> frozenset[str]:
    """The keys that what a person writes may mean: "20" is LTE 20, NR n20, or a band called so."""
    key = band_key(wanted)
    number = key.removeprefix("b")
    found = {key, f"nr{key}", f"nrn{key}", f"lte{key}"}
    return frozenset(found | ({f"lte{number}"} if number.isdecimal() else set()))
