"""Channel numbers against nrarfcn, which cites TS 36.104 V19.2.0 and TS 38.104 V19.4.0 [run]."""

from __future__ import annotations

import nrarfcn
import pytest
from hypothesis import given
from hypothesis import strategies as st
from nrarfcn.tables import get_table

from acceptance.bands.channels import LTE_OFFSETS, earfcn, lte_channel, nr_arfcn, nr_channel
from acceptance.bands.load import load_bands
from acceptance.errors import BandError
from tests.counts import examples

TABLE = load_bands()
ROWS = {int(row[0][1:]): row for row in get_table("lte_earfcn", 19).data}


def test_every_lte_band_has_its_offsets():
    numbers = {band.number for band in TABLE if band.system == "lte"}
    assert set(LTE_OFFSETS) == numbers - set(range(253, 257))  # the satellites': not known to us


@pytest.mark.parametrize("number", sorted(set(LTE_OFFSETS) - {47}))
def test_first_and_last_number_of_every_lte_band_are_the_specification_s(number):
    row = ROWS[number]
    for first, last in ((row[3], row[4]), (row[7], row[8])):
        if first == "N/A":
            continue
        for value in (first, last):
            channel = lte_channel(value, TABLE)
            assert [band.number for band, _ in channel.bands] == [number]
            oracle_hz = nrarfcn.get_frequency_by_lte_earfcn(value) * 1e6
            assert channel.frequency_hz == pytest.approx(oracle_hz, abs=0.5)
            assert earfcn(channel.bands[0][0], channel.frequency_hz) == value


def test_channel_ranges_do_not_overlap_and_end_where_the_band_does():
    for number, offsets in LTE_OFFSETS.items():
        band = TABLE.find("lte", number)
        for (link, (low_hz, high_hz)), offset in zip(
            sorted(band.spans, key=lambda span: span[0] != "downlink"), offsets, strict=True
        ):
            last = offset + round((high_hz - low_hz) / 100e3) - 1
            assert lte_channel(last, TABLE).frequency_hz == pytest.approx(high_hz - 100e3)
            assert lte_channel(last, TABLE).bands == ((band, link),)


def test_lte_47_is_as_a_test_specification_prints_it():
    # EARFCN 54590 is 5860 MHz: an excerpt of TS 36.508 [secondary].
    assert lte_channel(54590, TABLE).frequency_hz == 5860e6


@pytest.mark.parametrize(
    ("number", "frequency_hz", "band", "link"),
    [(6300, 806e6, 20, "downlink"), (24300, 847e6, 20, "uplink"), (38000, 2595e6, 38, "both")],
)  # [derived] from the formula of TS 36.104 5.7.3
def test_an_earfcn_names_its_band_and_link(number, frequency_hz, band, link):
    channel = lte_channel(number, TABLE)
    assert channel.frequency_hz == frequency_hz
    assert channel.bands == ((TABLE.find("lte", band), link),)


@pytest.mark.parametrize("number", [-1, 4950, 10360, 65535, 75786, 134442, 10**9])
def test_a_number_between_the_bands_is_refused(number):
    with pytest.raises(BandError, match=f"EARFCN\\) {number}"):
        lte_channel(number, TABLE)


@examples(200)
@given(number=st.integers(0, 3_279_165))
def test_every_nr_number_is_the_oracle_s_frequency_and_comes_back(number):
    channel = nr_channel(number, TABLE)
    oracle_mhz = nrarfcn.get_frequency(number, release_3gpp=19)
    assert channel.frequency_hz == pytest.approx(oracle_mhz * 1e6, abs=0.5)
    assert nr_arfcn(channel.frequency_hz) == number


@examples(100)
@given(number=st.integers(80_000, 880_000))
def test_the_bands_of_an_nr_number_are_the_oracle_s(number):
    theirs = set(nrarfcn.get_bands_by_nrarfcn(number, release_3gpp=19))
    ours = {f"n{band.number}" for band, _ in nr_channel(number, TABLE).bands}
    assert ours - {"n47", "n253", "n254", "n255", "n256"} == theirs


@pytest.mark.parametrize(
    ("number", "frequency_hz"),
    [(599_999, 2999.995e6), (600_000, 3000e6), (2_016_666, 24_249.99e6), (2_016_667, 24_250.08e6)],
)  # TS 38.104 Table 5.4.2.1-1 [memory]
def test_the_raster_changes_its_step_where_the_table_says(number, frequency_hz):
    assert nr_channel(number, TABLE).frequency_hz == pytest.approx(frequency_hz, abs=1e-3)


@pytest.mark.parametrize("number", [-1, 3_279_166])
def test_an_nr_number_off_the_raster_is_refused(number):
    with pytest.raises(BandError, match="between 0 and 3279165"):
        nr_channel(number, TABLE)


def test_a_frequency_outside_band_or_raster_has_no_number():
    with pytest.raises(BandError, match=r"LTE 20 has no LTE channel at 900\.000 MHz"):
        earfcn(TABLE.find("lte", 20), 900e6)
    with pytest.raises(BandError, match="NR n78 has no LTE channel"):
        earfcn(TABLE.find("nr", 78), 3500e6)
    with pytest.raises(BandError, match="outside the NR channel raster"):
        nr_arfcn(200e9)
