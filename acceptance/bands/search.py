"""Bands and other services found by what a person types: a number, a name, or a frequency."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from acceptance.bands.band_table import Band, BandTable, Link, Service, Span, System, mhz

WRITTEN_BAND = re.compile(r"(lte|nr|band|b|n)?\s*n?(\d{1,4})", re.IGNORECASE)
SYSTEM_OF: dict[str, tuple[System, ...]] = {
    "lte": ("lte",),
    "b": ("lte",),
    "nr": ("nr",),
    "n": ("nr",),
}
"""Which systems a prefix means; any other, or none, means both."""
SERVICE_NAMES = {
    "wifi": "Wi-Fi",
    "gnss": "GNSS",
    "srd": "SRD",
    "ism": "ISM",
    "adsb": "ADS-B",
    "amateur": "Amateur",
}
OTHER_NAMES = {
    "wifi": "wlan wireless lan bluetooth",
    "gnss": "gps galileo glonass beidou satellite navigation",
    "srd": "lora lorawan sigfox short range",
    "ism": "lora lorawan zigbee",
    "adsb": "aircraft",
    "amateur": "ham radio",
}
"""What else people call a service [practice]."""
EVERYWHERE = {"most": "most countries", "world": "worldwide"}
_FREQUENCY = re.compile(r"(\d+(?:\.\d+)?)\s*(mhz|ghz)", re.IGNORECASE)
_RANGE = re.compile(
    r"(\d+(?:\.\d+)?)\s*(mhz|ghz)?\s*(?:-|\u2013|to)\s*(\d+(?:\.\d+)?)\s*(mhz|ghz)?", re.IGNORECASE
)
_LEAST_RANGE_MHZ = 100.0
"""Two bare numbers below are no range of frequencies."""
MOST_FOUND = 40


@dataclass(frozen=True, slots=True)
class Found:
    """One thing that can be put into a plan."""

    key: str
    """As "lte 20" for a band; "range NAME|LOW|HIGH", in MHz, for a range of frequencies."""
    title: str
    """As "LTE 20", "Wi-Fi 2.4 GHz", "868 to 870 MHz"."""
    also: str
    """What else it is called, and what limits its use; may be empty."""
    spans: tuple[tuple[Link, Span], ...]
    """Each link's range, Hz."""


def found_band(band: Band) -> Found:
    """A band as it is offered."""
    also = "; ".join(part for part in (band.common_name, band.note) if part)
    return Found(f"{band.system} {band.number}", band.name, also, band.spans)


def find_bands(typed: str, table: BandTable, services: Sequence[Service]) -> tuple[Found, ...]:
    """What may be meant by what was typed, likeliest first; () where nothing fits.

    typed : such as "20", "n78", "LTE 3", "850", "1800 MHz", "1.8 GHz", "868-870" or "wifi".
    """
    words = " ".join(typed.lower().split())
    if not words:
        return ()
    found: dict[str, Found] = {}
    for each in _in_order(words, table, services):
        found.setdefault(each.key, each)
    return tuple(found.values())[:MOST_FOUND]


def _in_order(words: str, table: BandTable, services: Sequence[Service]) -> Iterator[Found]:
    span = _range(words)
    if span is not None:
        yield own_range("", *span)
        yield from _reaching(span, table, services)
        return
    frequency = _FREQUENCY.fullmatch(words)
    if frequency is not None:
        hz = _hz(frequency[1], frequency[2])
        yield from map(found_band, _called(f"{hz / 1e6:g}", table))
        yield from _reaching((hz, hz), table, services)
        return
    written = WRITTEN_BAND.fullmatch(words)
    if written is not None:
        yield from _numbered(written[1] or "", written[2], table, services)
    yield from map(found_band, _called(words, table))
    yield from _services(words, services)


def _numbered(
    prefix: str, digits: str, table: BandTable, services: Sequence[Service]
) -> Iterator[Found]:
    """Bands of the number, then what is called by it, holds it in MHz, or begins with it."""
    systems = SYSTEM_OF.get(prefix)
    among = [band for band in table if systems is None or band.system in systems]
    yield from (found_band(band) for band in among if band.number == int(digits))
    if prefix == "" and float(digits) >= _LEAST_RANGE_MHZ:
        yield from map(found_band, _called(digits, table))
        yield from _reaching((mhz(digits), mhz(digits)), table, services)
    yield from (found_band(band) for band in among if str(band.number).startswith(digits))


def own_range(name: str, low_hz: float, high_hz: float) -> Found:
    """A range of one's own, as it is offered; without a name it is called by its edges."""
    low, high = f"{low_hz / 1e6:g}", f"{high_hz / 1e6:g}"
    title = name or f"{low} to {high} MHz"
    also = "" if name else "a range of your own"
    return Found(f"range {title}|{low}|{high}", title, also, (("both", (low_hz, high_hz)),))


def _service(service: Service) -> Found:
    kind = SERVICE_NAMES.get(service.service, "")
    named = not kind or kind.lower() in service.name.lower()
    title = service.name if named else f"{kind} {service.name}"
    made = own_range(title.replace("|", " "), service.low_hz, service.high_hz)
    return Found(made.key, made.title, EVERYWHERE.get(service.region, service.region), made.spans)


def _called(words: str, table: BandTable) -> Iterable[Band]:
    """Bands whose names hold every word, as "850" or "digital dividend"."""
    wanted = words.split()
    for band in table:
        names = (
            f"{band.name} {band.common_name}".lower().replace("/", " ").replace(",", " ").split()
        )
        if all(any(name.startswith(word) for name in names) for word in wanted):
            yield band


def _services(words: str, services: Sequence[Service]) -> Iterator[Found]:
    plain = words.replace("-", "")
    for each in services:
        kind = SERVICE_NAMES.get(each.service, each.service)
        names = f"{each.service} {kind} {each.name} {OTHER_NAMES.get(each.service, '')}".lower()
        known = f"{names} {names.replace('-', '')}".split()
        if all(any(name.startswith(word) for name in known) for word in plain.split()):
            yield _service(each)


def _reaching(span: Span, table: BandTable, services: Sequence[Service]) -> Iterator[Found]:
    """Bands and services that share a frequency with the range."""
    low_hz, high_hz = span
    for band in table:
        if any(low <= high_hz and high >= low_hz for _, (low, high) in band.spans):
            yield found_band(band)
    for each in services:
        if each.low_hz <= high_hz and each.high_hz >= low_hz:
            yield _service(each)


def _range(words: str) -> Span | None:
    """(low_hz, high_hz) of two frequencies; None where it is none."""
    match = _RANGE.fullmatch(words)
    if match is None:
        return None
    low_hz = _hz(match[1], match[2] or match[4] or "mhz")
    high_hz = _hz(match[3], match[4] or match[2] or "mhz")
    return (low_hz, high_hz) if _LEAST_RANGE_MHZ * 1e6 <= low_hz < high_hz <= 100e9 else None


def _hz(number: str, unit: str) -> float:
    return mhz(float(number) * (1000 if unit.lower() == "ghz" else 1))
