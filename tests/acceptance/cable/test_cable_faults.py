"""A line looked along: what a person may say of it, what is told, and what a record keeps of it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from acceptance.cable.cable_faults import inspect_line
from acceptance.cable.verdict_through_cable import Wanted
from acceptance.pictures.cable_picture import line_picture
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Acceptance
from acceptance.record.examination import derived_files, examine
from acceptance.record.record_folder import parse_record, write_record
from acceptance.report.report_files import Report
from acceptance.report.report_text import sheet
from calibration.errors import FaultError
from calibration.files.line_file import LineToInspect, parse_line, parse_typed_line
from calibration.files.store import load_cable_types
from calibration.plane.loss import NO_LOSS
from tests.acceptance.made import accepted, record

TYPES = load_cable_types()
SPEED = 0.66 * 299_792_458.0


def asked(said: str = "0.66", gate: str | None = None) -> LineToInspect:
    return parse_typed_line(said, TYPES, gate=gate)


def with_line(line: LineToInspect | None = None) -> Acceptance:
    return dataclasses.replace(accepted(), line=line or asked())


def test_a_line_is_its_type_or_its_figures() -> None:
    kind = TYPES["ptfe-2.5mm"]
    typed = asked("ptfe-2.5mm").line
    assert (typed.velocity_factor, typed.loss) == (kind.velocity_factor, kind.loss)
    assert typed.velocity_tolerance == kind.velocity_tolerance
    assert asked("0.7").line.loss == NO_LOSS
    other = asked("ptfe-2.5mm 0.7 0.85@2600").line
    assert other.velocity_factor == 0.7
    assert other.loss.db(np.array([2.6e9])) == pytest.approx(0.85)


@pytest.mark.parametrize(
    ("said", "gate", "why"),
    [
        ("", None, "Distance takes the cable's speed"),
        ("copper", None, 'no cable "copper"'),
        ("0.2", None, "between 0.3 and 1"),
        ("nan", None, "between 0.3 and 1"),
        ("0.7 three@2600", None, '"three@2600" is no loss'),
        ("0.7 1@0", None, "is no loss"),
        ("0.7", "here", '"here" is no section'),
    ],
)
def test_what_is_none_is_refused_with_what_can_be_written(
    said: str, gate: str | None, why: str
) -> None:
    with pytest.raises(FaultError, match=why):
        asked(said, gate)


@pytest.mark.parametrize("said", ["ptfe-2.5mm", "0.7 0.85@2600"])
@pytest.mark.parametrize("gate", [None, "0.5-1.5"])
def test_a_line_is_kept_to_the_last_digit(said: str, gate: str | None) -> None:
    line = asked(said, gate)
    assert parse_line(line.toml, "line.toml") == line


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("format = 2\nvelocity_factor = 0.7\n", "format"),
        ("format = 1\n", "velocity_factor"),
        ("format = 1\nvelocity_factor = 0.7\nspeed = 3\n", "speed"),
        ("format = ", "line 1: format has no value"),
    ],
)
def test_a_kept_line_that_is_none_is_one_sentence(text: str, why: str) -> None:
    with pytest.raises(FaultError, match=why):
        parse_line(text, "line.toml")


def test_the_widest_even_stretch_is_looked_along_and_said() -> None:
    grid = np.concatenate([np.linspace(0.7e9, 0.8e9, 21), np.linspace(1.5e9, 2.7e9, 401)])
    reading = 0.2 * np.exp(-4j * np.pi * grid * 1.0 / SPEED)
    reading = reading + 0.7 * np.exp(-4j * np.pi * grid * 4.0 / SPEED)
    seen = inspect_line(
        asked(gate="0.5-1.5"), grid, reading,
        wanted=[Wanted("middle", (2.0e9, 2.1e9), 10), Wanted("low", (0.7e9, 0.8e9), 10),
                Wanted("edge", (1.5e9, 1.55e9), 10)],
    )  # fmt: skip
    assert seen.span == (1.5e9, 2.7e9)
    assert any("Only 1500 to 2700 MHz" in each for each in seen.sentences)
    assert [round(each.distance_m, 2) for each in seen.shown] == [1.0, 4.0]
    middle, low, edge = seen.bands
    # 0.7 and 0.2 together are 0.9 at the worst: 0.9 dB; alone 0.7 is 3.1 dB [derived]
    assert middle.was_db == pytest.approx(0.9, abs=0.1)
    assert middle.now_db == pytest.approx(3.1, abs=0.2)
    assert low.cells == ("not swept", "")
    assert edge.cells[1] == "at the end"


def test_a_record_keeps_the_line_and_comes_to_the_same(tmp_path: Path) -> None:
    acceptance = with_line(asked("ptfe-2.5mm", gate="0.2-2.0"))
    folder = write_record(record(acceptance), tmp_path)
    assert (folder / "bare" / "line.csv").read_text().startswith("distance_m,real,size")
    found = recheck_folder(folder)
    assert found.holds, found.lines
    assert found.record.acceptance.line == acceptance.line
    for name in derived_files(examine(acceptance)):
        (folder / name).unlink()
    again = recheck_folder(folder)
    assert again.examined is not None
    assert again.examined.conditions[0].line is not None


def test_another_line_is_found(tmp_path: Path) -> None:
    files = dict(record(with_line()).files)
    files["line.toml"] = files["line.toml"].replace(b"0.66", b"0.67")
    for name, content in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(content)
    found = recheck_folder(tmp_path)
    assert any("line.toml" in line for line in found.checksum_differences)
    assert "line" in found.difference


def test_a_grid_that_shows_no_distances_costs_no_record() -> None:
    """A section far beyond what 57 points over 140 MHz can show."""
    acceptance = with_line(asked(gate="500-600"))
    look = examine(acceptance).conditions[0]
    assert look.line is None
    assert "There is no section" in look.line_refused
    assert parse_record(dict(record(acceptance).files), "x").acceptance.line == acceptance.line
    told = sheet(examine(acceptance), "x").line
    assert told is not None
    assert told.sentences == (look.line_refused,)


def test_the_report_shows_it_as_picture_and_table() -> None:
    examined = examine(with_line())
    page = Report.of(examined, "weir-3").html()
    assert "Along the cable (0.66)" in page
    assert "Reflection against distance" in page
    assert Report.of(examined, "weir-3").pdf().startswith(b"%PDF")
    assert "Along the cable" not in Report.of(examine(accepted()), "weir-3").html()


def test_the_picture_numbers_what_the_table_lists() -> None:
    grid = np.linspace(0.7e9, 2.7e9, 401)
    reading = 0.1 * np.exp(-4j * np.pi * grid * 2.0 / SPEED)
    reading = reading + 0.9 * np.exp(-4j * np.pi * grid * 5.0 / SPEED)
    seen = inspect_line(asked(), grid, reading)
    svg = line_picture(seen, 540, 110).svg()
    assert svg.count("<circle") == len(seen.rows) == 2
    assert svg == line_picture(seen, 540, 110).svg()
