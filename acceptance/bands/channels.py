"""Channel numbers, as a modem reports them, to frequencies and bands.

LTE: F = F_low + 0.1 MHz (N - N_offs), 3GPP TS 36.104 clause 5.7.3 with Table 5.7.3-1. N_offs is
listed here; F_low and the last number follow from the band's range. LTE 47 from TS 36.101
[secondary]; those of the satellite bands 253 to 256 are not known to us.

NR: F = F_offs + dF (N - N_offs), 3GPP TS 38.104 clause 5.4.2.1 with Table 5.4.2.1-1. The numbers
were checked row by row against the PyPI package nrarfcn 2.6.0, which cites TS 36.104 V19.2.0 and
TS 38.104 V19.4.0 [run].
"""

from __future__ import annotations

from dataclasses import dataclass

from acceptance.bands.band_table import Band, BandTable, Link, System
from acceptance.errors import BandError

LTE_STEP_HZ = 100e3

# band: (downlink, uplink) N_offs; one number on a TDD band, no uplink on a downlink-only one.
LTE_OFFSETS: dict[int, tuple[int, ...]] = {
    1: (0, 18000),
    2: (600, 18600),
    3: (1200, 19200),
    4: (1950, 19950),
    5: (2400, 20400),
    6: (2650, 20650),
    7: (2750, 20750),
    8: (3450, 21450),
    9: (3800, 21800),
    10: (4150, 22150),
    11: (4750, 22750),
    12: (5010, 23010),
    13: (5180, 23180),
    14: (5280, 23280),
    17: (5730, 23730),
    18: (5850, 23850),
    19: (6000, 24000),
    20: (6150, 24150),
    21: (6450, 24450),
    22: (6600, 24600),
    23: (7500, 25500),
    24: (7700, 25700),
    25: (8040, 26040),
    26: (8690, 26690),
    27: (9040, 27040),
    28: (9210, 27210),
    29: (9660,),
    30: (9770, 27660),
    31: (9870, 27760),
    32: (9920,),
    33: (36000,),
    34: (36200,),
    35: (36350,),
    36: (36950,),
    37: (37550,),
    38: (37750,),
    39: (38250,),
    40: (38650,),
    41: (39650,),
    42: (41590,),
    43: (43590,),
    44: (45590,),
    45: (46590,),
    46: (46790,),
    47: (54540,),
    48: (55240,),
    49: (56740,),
    50: (58240,),
    51: (59090,),
    52: (59140,),
    53: (60140,),
    54: (60255,),
    65: (65536, 131072),
    66: (66436, 131972),
    67: (67336,),
    68: (67536, 132672),
    69: (67836,),
    70: (68336, 132972),
    71: (68586, 133122),
    72: (68936, 133472),
    73: (68986, 133522),
    74: (69036, 133572),
    75: (69466,),
    76: (70316,),
    85: (70366, 134002),
    87: (70546, 134182),
    88: (70596, 134232),
    103: (70646, 134282),
    106: (70656, 134292),
    107: (70706,),
    108: (71106,),
    111: (73386, 134342),
    112: (73486,),
    113: (74866,),
}

# first number, last number, step Hz, frequency of the first Hz
NR_RASTER = (
    (0, 599_999, 5e3, 0.0),
    (600_000, 2_016_666, 15e3, 3000e6),
    (2_016_667, 3_279_165, 60e3, 24_250.08e6),
)


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel number, what it stands for, and the bands it can belong to."""

    system: System
    number: int
    frequency_hz: float
    bands: tuple[tuple[Band, Link], ...]
    """With the link the frequency lies in. One for LTE; none, one or several for NR."""


def lte_channel(earfcn: int, table: BandTable) -> Channel:
    """Return what an EARFCN stands for; raise BandError where no band has that number."""
    for number, offsets in LTE_OFFSETS.items():
        band = table.find("lte", number)
        for offset, (link, (low_hz, high_hz)) in zip(offsets, _links(band), strict=True):
            if 0 <= earfcn - offset < round((high_hz - low_hz) / LTE_STEP_HZ):
                frequency_hz = low_hz + LTE_STEP_HZ * (earfcn - offset)
                return Channel("lte", earfcn, frequency_hz, ((band, link),))
    raise BandError(
        f"No LTE band has the channel number (EARFCN) {earfcn}. Numbers run from 0 to 75785 on "
        "the downlink and from 18000 to 134441 on the uplink, with gaps; those of the satellite "
        "bands 253 to 256 are not in the table. Check what the modem says."
    )


def nr_channel(nr_arfcn: int, table: BandTable) -> Channel:
    """Return what an NR-ARFCN stands for, with every band that holds its frequency.

    Raises BandError for a number off the raster. The number alone does not say the band: most
    frequencies lie in several.
    """
    for first, last, step_hz, start_hz in NR_RASTER:
        if first <= nr_arfcn <= last:
            frequency_hz = start_hz + step_hz * (nr_arfcn - first)
            return Channel("nr", nr_arfcn, frequency_hz, table.containing(frequency_hz, "nr"))
    raise BandError(
        f"An NR channel number (NR-ARFCN) lies between 0 and {NR_RASTER[-1][1]}, not at {nr_arfcn}."
    )


def earfcn(band: Band, frequency_hz: float) -> int:
    """Return the EARFCN of the channel nearest to a frequency inside an LTE band.

    Where uplink and downlink both hold it, as on a TDD band, there is one number.
    Raises BandError where the band does not hold the frequency.
    """
    offsets = LTE_OFFSETS.get(band.number, ()) if band.system == "lte" else ()
    if offsets:
        for offset, (_, (low_hz, high_hz)) in zip(offsets, _links(band), strict=True):
            step = round((frequency_hz - low_hz) / LTE_STEP_HZ)
            if 0 <= step < round((high_hz - low_hz) / LTE_STEP_HZ):
                return offset + step
    raise BandError(f"{band.name} has no LTE channel at {frequency_hz / 1e6:.3f} MHz.")


def nr_arfcn(frequency_hz: float) -> int:
    """Return the NR-ARFCN nearest to a frequency on the global raster; raise BandError above."""
    for first, last, step_hz, start_hz in NR_RASTER:
        number = first + round((frequency_hz - start_hz) / step_hz)
        if first <= number <= last:
            return number
    raise BandError(f"{frequency_hz / 1e6:.3f} MHz lies outside the NR channel raster.")


def _links(band: Band) -> tuple[tuple[Link, tuple[float, float]], ...]:
    """A band's ranges in the order of LTE_OFFSETS: the downlink first."""
    return tuple(sorted(band.spans, key=lambda item: item[0] != "downlink"))
