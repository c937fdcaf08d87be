"""The band table against nrarfcn, which cites TS 36.104 V19.2.0 and TS 38.104 V19.4.0 [run]."""

from __future__ import annotations

from datetime import date

import nrarfcn
import pytest
from nrarfcn.tables import get_table

from acceptance.bands.band_table import Band, parse_bands
from acceptance.bands.load import load_bands, load_regions, load_services
from acceptance.errors import BandError
from acceptance.plan.load import load_presets
from tests.wording import missing_words

RELEASE = 19
SATELLITE = {(system, number) for system in ("lte", "nr") for number in range(253, 257)}
NOT_IN_THE_ORACLE = {("lte", 47), ("nr", 47)} | SATELLITE
"""The vehicle bands, in TS 36.101 and TS 38.101-1 only, and those of the satellites, in TS 36.102
and TS 38.101-5: the package carries neither."""
TABLE = load_bands()


def oracle_name(band: Band) -> str:
    return f"{'B' if band.system == 'lte' else 'n'}{band.number}"


def oracle_span(band: Band, direction: str):
    low, high = nrarfcn.get_frequency_range(oracle_name(band), direction, release_3gpp=RELEASE)
    return None if low == "N/A" else (low * 1e6, high * 1e6)


def test_there_are_74_lte_and_71_nr_bands_and_four_of_either_for_satellites():
    assert len(TABLE) == 145 + 8
    assert sum(band.system == "lte" for band in TABLE) == 74 + 4


@pytest.mark.parametrize(
    ("number", "uplink_mhz", "downlink_mhz"),
    [
        (253, (1668, 1675), (1518, 1525)),
        (254, (1610, 1626.5), (2483.5, 2500)),
        (255, (1626.5, 1660.5), (1525, 1559)),
        (256, (1980, 2010), (2170, 2200)),
    ],
)
def test_the_satellite_bands_stand_as_remembered_and_say_so(number, uplink_mhz, downlink_mhz):
    # TS 36.102 and TS 38.101-5, neither opened [memory]
    for system in ("lte", "nr"):
        band = TABLE.find(system, number)
        assert band.uplink == tuple(each * 1e6 for each in uplink_mhz)
        assert band.downlink == tuple(each * 1e6 for each in downlink_mhz)
        assert band.certainty == "from memory"
        assert "satellite" in band.note


def test_every_row_says_how_sure_it_is_and_where_from():
    assert all(band.certainty and band.source for band in TABLE)
    for region in load_regions():
        assert region.certainty in {"read", "secondary", "in part memory", "memory"}
        assert region.source
        assert date.fromisoformat(region.looked_at)
        if region.source == "none" or "not opened" in region.source:
            assert region.certainty == "memory"


def test_regions_that_are_known_from_memory_alone_are_there_and_say_so():
    rows = {(row.name, row.system): row for row in load_regions()}
    for name in ("south-korea", "taiwan", "hong-kong", "turkey"):
        for system in ("lte", "nr"):
            assert rows[name, system].certainty == "memory"
            assert "from memory" in rows[name, system].evidence


@pytest.mark.parametrize(
    "band",
    [band for band in TABLE if (band.system, band.number) not in NOT_IN_THE_ORACLE],
    ids=oracle_name,
)
def test_every_row_is_the_specification_s(band):
    assert band.uplink == pytest.approx(oracle_span(band, "ul"), abs=0.5)
    assert band.downlink == pytest.approx(oracle_span(band, "dl"), abs=0.5)
    assert band.duplex == nrarfcn.get_duplex_mode(oracle_name(band), release_3gpp=RELEASE)


def test_the_oracle_lists_no_band_that_the_table_lacks():
    theirs = {row[0] for row in get_table("lte_bands", RELEASE).data}
    theirs |= {row[0] for row in get_table("bands_fr1", RELEASE).data}
    ours = {oracle_name(b) for b in TABLE if (b.system, b.number) not in NOT_IN_THE_ORACLE}
    assert ours == theirs


def test_the_vehicle_bands_stand_as_transcribed():
    # LTE 47: TS 36.101 [secondary]; n47: TS 38.101-1 [read].
    for system in ("lte", "nr"):
        assert TABLE.find(system, 47).spans == (("both", (5855e6, 5925e6)),)


def test_uplink_and_downlink_are_never_derived_from_each_other():
    # Uplink above downlink in 13 and 20; different widths in 66 and 70 [read].
    assert TABLE.find("lte", 13).uplink > TABLE.find("lte", 13).downlink
    assert TABLE.find("lte", 20).spans == (
        ("uplink", (832e6, 862e6)),
        ("downlink", (791e6, 821e6)),
    )
    widths = [high - low for _, (low, high) in TABLE.find("lte", 66).spans]
    assert widths == [70e6, 90e6]


def test_a_band_for_one_direction_has_only_that():
    assert TABLE.find("lte", 29).spans == (("downlink", (717e6, 728e6)),)
    assert TABLE.find("nr", 80).spans == (("uplink", (1710e6, 1785e6)),)


def test_fractions_of_a_megahertz_are_whole_hertz():
    assert TABLE.find("lte", 9).uplink == (1_749_900_000, 1_784_900_000)
    assert TABLE.find("nr", 53).spans == (("both", (2_483_500_000, 2_495_000_000)),)


def test_what_cuts_n77_by_country_is_kept():
    assert "3450-3550 and 3700-3980" in TABLE.find("nr", 77).note


@pytest.mark.parametrize(
    ("system", "number", "words"),
    [
        ("lte", 15, ["no band LTE 15", "14 and 17"]),
        (
            "lte",
            78,
            ["no band LTE 78", "76 and 85", "NR has one", "nr = 78"],
        ),
        ("nr", 0, ["no band NR n0", "nearest is 1."]),
        ("nr", 257, ["no band NR n257", "nearest is 256."]),
    ],
)
def test_a_band_that_does_not_exist_is_refused_with_its_neighbours(system, number, words):
    with pytest.raises(BandError) as refusal:
        TABLE.find(system, number)
    assert not missing_words(str(refusal.value), *words)


def test_the_bands_that_hold_a_frequency_are_found_edges_included():
    found = {(band.name, link) for band, link in TABLE.containing(862e6, "lte")}
    assert ("LTE 20", "uplink") in found
    assert ("LTE 18", "downlink") in found
    assert TABLE.containing(862e6 + 5e7, "lte") != TABLE.containing(862e6, "lte")


def test_every_suggested_band_exists():
    for region in load_regions():
        for number in region.numbers:
            assert TABLE.find(region.system, number)
        assert region.evidence


def test_services_are_ranges_with_their_evidence():
    services = load_services()
    assert len(services) == 32
    assert all(0 < service.low_hz < service.high_hz and service.evidence for service in services)
    adsb = next(service for service in services if service.name == "1090ES")
    assert (adsb.low_hz, adsb.high_hz) == (1089e6, 1091e6)


def test_presets_carry_one_metric_each():
    presets = {(preset.name, preset.link): preset.limit.words for preset in load_presets()}
    assert presets["strict", "both"] == "VSWR at most 2"
    assert presets["ten-db", "both"] == "return loss at least 10 dB"
    assert presets["split", "uplink"] == "VSWR at most 2.5"


def test_a_damaged_table_is_refused_with_its_line():
    head = "system,band,uplink_low_mhz,uplink_high_mhz,downlink_low_mhz,downlink_high_mhz,duplex,"
    with pytest.raises(BandError, match="line 2 is damaged"):
        parse_bands(head + "certainty,source,common_name,note\numts,1,1,2,3,4,FDD,read,x,,\n")
