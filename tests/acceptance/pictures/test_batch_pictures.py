"""A batch's pictures: read back from the SVG alone."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from acceptance.batch.recipe_batch import batch
from acceptance.batch.size_effect import size_effect, suggest
from acceptance.catalogue.record_summary import RecordSummary
from acceptance.pictures.batch_pictures import control_chart_picture, size_effect_picture

SVG = "{http://www.w3.org/2000/svg}"


def test_a_control_chart_draws_each_value_and_names_what_is_beyond(
    summaries: list[RecordSummary],
) -> None:
    series = batch(summaries).dips[0]
    root = ElementTree.fromstring(control_chart_picture(series).svg())
    (curve,) = [e for e in root.iter(f"{SVG}path") if e.get("class") == "curve"]
    drawn = np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+)", curve.get("d", "")), dtype=float)
    values = np.array(series.chart.values)
    assert len(drawn) == values.size
    slope, offset = np.polyfit(drawn[:, 1], values, 1)
    np.testing.assert_allclose(slope * drawn[:, 1] + offset, values, atol=0.05)
    texts = [each.text for each in root.iter(f"{SVG}text")]
    for n in series.chart.outliers:
        assert series.charted[n].label in texts
    levels = [e for e in root.iter(f"{SVG}path") if e.get("class") == "level"]
    heights = sorted(float(re.findall(r" (-?[\d.]+)", e.get("d", ""))[0]) for e in levels)
    told = [slope * height + offset for height in heights]
    expected = [series.chart.high, series.chart.mean, series.chart.low]
    assert told == pytest.approx(expected, abs=0.05)


def test_a_cut_is_marked_on_its_line(summaries: list[RecordSummary]) -> None:
    found = size_effect(batch(summaries), "arm_a", 1, "arm A")
    told = suggest(found, 836.0)
    root = ElementTree.fromstring(size_effect_picture(found, told).svg())
    assert f"next: {told.size_mm:.1f} mm" in [each.text for each in root.iter(f"{SVG}text")]
    rings = list(root.iter(f"{SVG}circle"))
    assert len(rings) == len(found.sizes_mm)
    x = np.array([float(each.get("cx", "nan")) for each in rings])
    y = np.array([float(each.get("cy", "nan")) for each in rings])
    assert np.corrcoef(x, found.sizes_mm)[0, 1] == pytest.approx(1, abs=1e-4)
    assert np.corrcoef(y, found.dips_mhz)[0, 1] == pytest.approx(-1, abs=1e-4)


def test_each_unit_is_named_where_there_is_room_and_numbered_elsewhere(
    summaries: list[RecordSummary],
) -> None:
    def told(count: int) -> tuple[list[str], list[str | None]]:
        series = batch(summaries[:count]).dips[0]
        root = ElementTree.fromstring(control_chart_picture(series).svg())
        words = [each.text for each in root.iter(f"{SVG}text")]
        assert "Dip 1, MHz" in words
        return [each.label for each in series.charted], words

    units, words = told(5)
    assert set(units) <= set(words)
    units, words = told(24)
    assert {"2", "10", "20"} <= set(words)
    units, words = told(2)
    assert not any("." in (word or "") and float(word or 0) < 3 for word in words[1:])


def test_a_batch_of_one_is_drawn_too(summaries: list[RecordSummary]) -> None:
    series = batch(summaries[:1]).dips[0]
    assert "Control chart" in control_chart_picture(series).svg()
