"""Operating bands, the regions that use them, and other services: tables read from text.

LTE: 3GPP TS 36.104 V19.2.0 Table 5.5-1. NR: 3GPP TS 38.101-1 Release 19 Table 5.2-1 with its
notes. Both [read]; LTE 47 is corroborated only, and the satellite bands 253 to 256 are from memory:
every row says how sure it is. What a region uses is a suggestion to edit, and never a statement of
what is licensed where.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from acceptance.errors import BandError

System = Literal["lte", "nr"]
Link = Literal["uplink", "downlink", "both"]
Span = tuple[float, float]
"""(low_hz, high_hz)."""

SYSTEMS: dict[System, str] = {"lte": "LTE", "nr": "NR"}


def band_name(system: System, number: int) -> str:
    """Return a band's name as the trade writes it: "LTE 20", "NR n78"."""
    return f"LTE {number}" if system == "lte" else f"NR n{number}"


@dataclass(frozen=True, slots=True)
class Band:
    """One operating band. The uplink is what the modem sends on, the downlink what it hears."""

    system: System
    number: int
    uplink: Span | None
    """None where the band is for reception only."""
    downlink: Span | None
    """None where the band is for transmission only."""
    duplex: str
    """"FDD", "TDD" (one range for both), "SDL" or "SDO" (downlink only), "SUL" (uplink only)."""
    common_name: str
    """A label of the trade, not 3GPP's wording."""
    note: str
    """What limits the band's use, by country or by kind."""
    certainty: str = ""
    """How sure the row is: "specification read", "third-party transcription", "from memory"."""
    source: str = ""
    """Which table it is from."""

    @property
    def name(self) -> str:
        """The band's name: "LTE 20", "NR n78"."""
        return band_name(self.system, self.number)

    @property
    def spans(self) -> tuple[tuple[Link, Span], ...]:
        """The ranges an antenna must serve, each with its link; one, "both", on a TDD band."""
        if self.duplex == "TDD" and self.uplink is not None:
            return (("both", self.uplink),)
        links: tuple[tuple[Link, Span | None], ...] = (
            ("uplink", self.uplink),
            ("downlink", self.downlink),
        )
        return tuple((link, span) for link, span in links if span is not None)


class BandTable:
    """All bands, found by system and number."""

    def __init__(self, bands: Sequence[Band]) -> None:
        self._bands = {(band.system, band.number): band for band in bands}

    def __iter__(self) -> Iterator[Band]:
        return iter(self._bands.values())

    def __len__(self) -> int:
        return len(self._bands)

    def find(self, system: System, number: int) -> Band:
        """Return a band; raise BandError, naming the nearest, where there is none."""
        band = self._bands.get((system, number))
        if band is not None:
            return band
        numbers = sorted(n for s, n in self._bands if s == system)
        below = [n for n in numbers if n < number][-1:]
        above = [n for n in numbers if n > number][:1]
        near = " and ".join(str(n) for n in below + above)
        verb = "are" if below and above else "is"
        other: System = "nr" if system == "lte" else "lte"
        elsewhere = (
            f" {SYSTEMS[other]} has one: write {other} = {number}."
            if (other, number) in self._bands
            else ""
        )
        raise BandError(
            f"There is no band {band_name(system, number)}; the nearest {verb} {near}.{elsewhere}"
        )

    def containing(self, frequency_hz: float, system: System) -> tuple[tuple[Band, Link], ...]:
        """Return every band of a system that holds the frequency, edges included, and the link."""
        return tuple(
            (band, link)
            for band in self
            if band.system == system
            for link, (low_hz, high_hz) in band.spans
            if low_hz <= frequency_hz <= high_hz
        )


@dataclass(frozen=True, slots=True)
class Region:
    """Which bands of one system a part of the world uses, as a suggestion."""

    name: str
    system: System
    numbers: tuple[int, ...]
    evidence: str
    """What of it is how sure, in words."""
    certainty: str = ""
    """Of the whole row: "read", "secondary", "in part memory" or "memory"."""
    source: str = ""
    """Whose text, and of when; "none" where there is none but memory."""
    looked_at: str = ""
    """Day on which the row was last looked at, as 2026-11-30."""


@dataclass(frozen=True, slots=True)
class Service:
    """A service other than cellular, for an overlay or a band of one's own."""

    service: str
    """"wifi", "gnss", "srd", "ism", "adsb", "amateur" or "other"."""
    name: str
    low_hz: float
    high_hz: float
    region: str
    evidence: str
    """How sure the range is: a text read, or memory."""
    source: str
    note: str


def parse_bands(text: str) -> BandTable:
    """Read the band table from CSV text with a header line, frequencies in MHz.

    Raises BandError, with the row, for a table that is damaged.
    """
    bands = []
    for at, row in enumerate(_rows(text), 2):
        try:
            band = Band(
                system=_system(row["system"]),
                number=int(row["band"]),
                uplink=_span(row["uplink_low_mhz"], row["uplink_high_mhz"]),
                downlink=_span(row["downlink_low_mhz"], row["downlink_high_mhz"]),
                duplex=row["duplex"],
                common_name=row["common_name"],
                note=row["note"],
                certainty=row["certainty"],
                source=row["source"],
            )
        except (KeyError, ValueError) as error:
            raise BandError(f"The band table's line {at} is damaged: {error}.") from error
        bands.append(band)
    return BandTable(bands)


def parse_regions(text: str) -> tuple[Region, ...]:
    """Read the regions from CSV text with a header line; band numbers with blanks between."""
    return tuple(
        Region(
            name=row["region"],
            system=_system(row["system"]),
            numbers=tuple(int(number) for number in row["bands"].split()),
            evidence=row["evidence"],
            certainty=row["certainty"],
            source=row["source"],
            looked_at=row["looked_at"],
        )
        for row in _rows(text)
    )


def parse_services(text: str) -> tuple[Service, ...]:
    """Read the other services from CSV text with a header line, frequencies in MHz."""
    return tuple(
        Service(
            service=row["service"],
            name=row["name"],
            low_hz=mhz(row["low_mhz"]),
            high_hz=mhz(row["high_mhz"]),
            region=row["region"],
            evidence=row["evidence"],
            source=row["source"],
            note=row["note"],
        )
        for row in _rows(text)
    )


def mhz(value: str | float) -> float:
    """Return Hz of a frequency in MHz, to the nearest Hz: 1749.9 MHz is 1749900000."""
    return float(round(float(value) * 1e6))


def _rows(text: str) -> Iterator[dict[str, str]]:
    yield from csv.DictReader(text.splitlines())


def _system(text: str) -> System:
    if text == "lte":
        return "lte"
    if text == "nr":
        return "nr"
    raise ValueError(f'the system "{text}" is neither lte nor nr')


def _span(low_mhz: str, high_mhz: str) -> Span | None:
    return (mhz(low_mhz), mhz(high_mhz)) if low_mhz else None
