"""Units over one another, in the terminal and for programs."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from acceptance.batch.record_comparison import MOST_COMPARED
from acquire.touchstone.reader import parse_touchstone
from dashboard.demo import example_batch
from tests.dashboard.command_line.commands.conftest import Bandwright


def test_units_stand_over_one_another(bandwright: Bandwright, gauge_records: Path) -> None:
    run = bandwright("compare", "weir-1", "ford-3", "--every", "--folder", gauge_records)
    assert run.status == 0
    lines = [line.rstrip() for line in run.out.splitlines()]
    assert [line.split()[:2] for line in lines[2:5]] == [
        ["A", "weir-1"], ["B", "ford-3"], ["C", "ford-3"],
    ]  # fmt: skip
    row = next(line for line in lines if line.startswith("LTE 20 downlink"))
    assert row.split()[3:] == ["≥", "10", "dB", "+2.0", "▲", "−0.6", "▼", "+3.4", "▲"]
    assert "Furthest apart in gauge backhaul: C (ford-3) has +1.8 dB, B (ford-3)" in run.out
    low = [line for line in lines if line.startswith(("A   ", "B   ", "C   "))][:3]
    mhz = [float(line.split()[-1]) for line in low]
    places = [line.index("●") for line in low]
    assert sorted(places) == [places[mhz.index(each)] for each in sorted(mhz)]
    assert max(len(line) for line in lines if not line.startswith("Furthest")) <= 80


def test_twelve_units_fit_in_eighty_columns(bandwright: Bandwright, gauge_records: Path) -> None:
    names = list(dict.fromkeys(name for name, _, _ in example_batch.gauges(14)))
    run = bandwright("compare", *names[:MOST_COMPARED], "--folder", gauge_records)
    assert run.status == 0
    lines = [line for line in run.out.splitlines() if not line.startswith("Furthest")]
    assert max(len(line.rstrip()) for line in lines) <= 80


def test_curves_are_drawn_over_one_another_by_letter(
    bandwright: Bandwright, gauge_records: Path
) -> None:
    run = bandwright("compare", "weir-1", "ford-6", "--curves", "--folder", gauge_records)
    drawn = [line for line in run.out.splitlines() if "│" in line]
    assert len(drawn) == 2 * 15
    low, high = drawn[:15], drawn[15:]
    for picture in (low, high):
        text = "".join(picture)
        assert text.count("A") + text.count("∗") <= 72
        assert text.count("A") > 30
        assert text.count("B") > 30
    # the deeper the dip, the lower its line: each letter's lowest line is at its own dip
    deepest = {letter: max(n for n, line in enumerate(low) if letter in line) for letter in "AB"}
    places = {letter: low[deepest[letter]].index(letter) for letter in "AB"}
    assert places["B"] < places["A"]  # 815.8 MHz against 838.3
    result = bandwright("compare", "weir-1", "--curves", "--folder", gauge_records, "--json").json
    curve = result["antennas"][0]["curve"]
    folder = gauge_records / result["antennas"][0]["record"]
    reading = parse_touchstone(
        (folder / "finished" / "corrected.s1p").read_bytes(), "corrected.s1p"
    ).reading
    assert [each[0] for each in curve] == reading.frequency_hz.tolist()
    assert [complex(*each[1:]) for each in curve] == reading.reflection.tolist()


def test_a_curve_that_is_not_here_is_said_and_one_that_is_gone_worked_out(
    bandwright: Bandwright, gauge_records: Path, tmp_path: Path
) -> None:
    url = f"sqlite:///{tmp_path / 'shared.sqlite'}"
    for bench, unit in (("kitchen", "weir-1"), ("boathouse", "weir-2")):
        for each in gauge_records.glob(f"{unit}_*"):
            shutil.copytree(each, tmp_path / bench / each.name)
        bandwright("records", "--folder", tmp_path / bench, "--catalogue", url, "--bench", bench)
    (corrected,) = (tmp_path / "boathouse").glob("*/finished/corrected.s1p")
    corrected.unlink()
    run = bandwright(
        "compare", "weir-1", "weir-2", "--curves", "--folder", tmp_path / "boathouse",
        "--catalogue", url, "--bench", "boathouse",
    )  # fmt: skip
    assert run.status == 0
    assert re.search(r"A is not drawn: .* weir-1_\S+ is not at this bench", run.out)
    assert run.out.count("B") > 60


def test_json_has_a_cell_a_band_and_unit(bandwright: Bandwright, gauge_records: Path) -> None:
    result = bandwright("compare", "weir-1", "weir-2", "--folder", gauge_records, "--json").json
    assert [each["antenna"] for each in result["antennas"]] == ["weir-1", "weir-2"]
    assert all(len(row["antennas"]) == 2 for row in result["bands"])
    assert result["bands"][0]["antennas"][0]["state"] == "pass"
    assert result["antennas"][0]["sizes_mm"]["arm_a"] > 80


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["weir-1", "weir-99"], 'There is no record of an antenna "weir-99". `bandwright records`'),
        (["weir-1", "--condition", "wet"], 'no condition "wet". It has: finished'),
    ],
)
def test_what_cannot_be_compared_is_refused(
    bandwright: Bandwright, gauge_records: Path, names: list[str], words: str
) -> None:
    assert words in bandwright("compare", *names, "--folder", gauge_records).refused()


def test_more_than_twelve_are_refused(bandwright: Bandwright, gauge_records: Path) -> None:
    names = dict.fromkeys(name for name, _, _ in example_batch.gauges(14))
    run = bandwright("compare", *names, "--folder", gauge_records)
    assert run.refused().startswith("14 records cannot be held against each other")
