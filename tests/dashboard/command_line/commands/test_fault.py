"""`fault` on the virtual bench's pigtails and on files; and the sweep it asks for."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray, Reading
from acquire.touchstone.writer import format_touchstone
from dashboard.command_line.main import main
from replay.clock import AcceleratedClock
from replay.virtual_bench.pigtails import PIGTAILS

EVEN = ("--even", "5-2500", "--step-khz", "5000")


@pytest.fixture(scope="module")
def calibration(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Of the connector, on one even grid across the unit's range steps."""
    path = tmp_path_factory.mktemp("calibration") / "even.json"
    arguments = ["calibrate", "--port", "virtual:", *EVEN, "--unattended", "--out", str(path)]
    assert main(arguments, AcceleratedClock()) == 0
    return path


def behind(grid: FloatArray, distance_m: float) -> ComplexArray:
    """The turn of a line of velocity factor .66, there and back."""
    turn: ComplexArray = np.exp(-4j * np.pi * grid * distance_m / (0.66 * 299_792_458))
    return turn


def result(bandwright: Any, pigtail: str, calibration: Path, *more: object) -> Any:
    return bandwright(
        "fault", "--port", f"virtual:?pigtail={pigtail}", "--calibration", calibration,
        *more, clock=AcceleratedClock(),
    )  # fmt: skip


@pytest.mark.slow
def test_a_dry_joint_is_found_at_the_connector(bandwright: Any, calibration: Path) -> None:
    """12 ohm and 2.5 nH in series: |Z/(Z + 100)| is .11 at 0 Hz and .24 at 2.5 GHz [derived]."""
    run = result(bandwright, "bad-joint", calibration, "--type", "ptfe-2.5mm")
    assert "The joint at the connector reflects 0.1" in run.out
    assert "a dry joint" in run.out
    assert "beyond that they come back in front" in run.out.replace("\n", " ")


@pytest.mark.slow
def test_a_wrong_cable_is_found_by_its_impedance(bandwright: Any, calibration: Path) -> None:
    """2 m of 75 ohm: a step of +0.2 at the connector [derived], and its end at 2 m."""
    run = result(bandwright, "wrong", calibration, "--velocity-factor", 0.81, "--json")
    first, *_ = run.json["peaks"]
    assert first["kind"] == "at the connector"
    assert first["size"] == pytest.approx(0.2, abs=0.02)
    end = max(run.json["peaks"], key=lambda each: each["size"])
    assert end["distance_m"] == pytest.approx(PIGTAILS["wrong"].length_m, abs=0.04)
    assert run.json["open_told_from_short"]
    assert len(run.json["distance_m"]) == len(run.json["size"])


def test_a_file_is_read_as_well(bandwright: Any, tmp_path: Path) -> None:
    grid = np.linspace(0.7e9, 2.7e9, 401)
    speed = 0.66 * 299792458
    seen = 0.05 * np.exp(-4j * np.pi * grid * 3 / speed) + 0.9 * np.exp(
        -4j * np.pi * grid * 8 / speed
    )
    path, out = tmp_path / "a.s1p", tmp_path / "trace.csv"
    path.write_text(format_touchstone(Reading(grid, seen)))
    run = bandwright("fault", path, "--velocity-factor", 0.66, "--out", out)
    assert run.status == 0
    assert re.search(r"(?m)^3\.000 ± 0\.\d+ m +0\.050 ± 0\.\d+ +26\.0 dB +fault", run.out)
    assert re.search(
        r"(?m)^8\.000 ± 0\.\d+ m +0\.900 ± 0\.\d+ +0\.9 dB +end, open or short", run.out
    )
    assert "cannot be told from this sweep" in run.out
    rows = np.loadtxt(out, delimiter=",", skiprows=1)
    assert rows[np.argmax(rows[:, 2]), 0] == pytest.approx(8.0, abs=0.02)
    assert (
        "already exists"
        in bandwright("fault", path, "--velocity-factor", 0.66, "--out", out).refused()
    )


@pytest.mark.slow
def test_a_section_gated_out_shows_what_the_strips_would(bandwright: Any, tmp_path: Path) -> None:
    grid = np.linspace(0.5e9, 2.5e9, 801)
    speed = 0.66 * 299792458
    seen = 0.2 * np.exp(-4j * np.pi * grid * 1 / speed) + 0.1 * np.exp(
        -4j * np.pi * grid * 4 / speed
    )
    path, plan = tmp_path / "a.s1p", tmp_path / "plan.toml"
    path.write_text(format_touchstone(Reading(grid, seen)))
    plan.write_text(
        'name = "p"\n[[band]]\nname = "mid"\nlow_mhz = 1400.0\nhigh_mhz = 1500.0\n'
        'return_loss_db = 10\n[[band]]\nname = "edge"\nlow_mhz = 520.0\nhigh_mhz = 600.0\n'
        "return_loss_db = 10\n"
    )
    run = bandwright(
        "fault", path, "--velocity-factor", 0.66, "--gate", "0.5-1.5", "--plan", plan, "--json"
    )
    mid, edge = run.json["gated"]["bands"]
    assert mid["worst_return_loss_db"] == pytest.approx(10.5, abs=0.2)
    assert mid["without_it_db"] == pytest.approx(20.0, abs=0.5)
    assert edge["without_it_db"] is None
    text = bandwright(
        "fault", path, "--velocity-factor", 0.66, "--gate", "0.5-1.5", "--plan", plan
    ).out
    assert "at the end" in text
    assert "a diagnosis and no verdict" in text


def test_the_sweep_that_is_needed_is_worked_out_and_can_be_calibrated(
    bandwright: Any, tmp_path: Path
) -> None:
    common = ("fault", "--range-m", 4, "--resolution-m", 0.08, "--type", "ptfe-2.5mm")
    asked = bandwright(*common, "--profile", "prompted-pairs", "--json")
    options = asked.json["calibrate"].split()
    assert asked.json["signed"]
    assert asked.json["range_m"] >= 4
    path = tmp_path / "c.json"
    made = bandwright(
        "calibrate", "--port", "virtual:", *options, "--unattended", "--out", path,
        clock=AcceleratedClock(),
    )  # fmt: skip
    assert made.status == 0
    run = result(bandwright, "good", path, "--type", "ptfe-2.5mm", "--json")
    assert run.json["resolution_m"] == pytest.approx(asked.json["resolution_m"], rel=1e-6)
    assert run.json["range_m"] == pytest.approx(asked.json["range_m"], rel=1e-6)
    assert (
        "Calibrate for it: bandwright calibrate"
        in bandwright(*common, "--port", "virtual:", clock=AcceleratedClock()).out
    )


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        ((), "Distance takes the cable's speed"),
        (("--type", "copper"), 'no cable "copper"'),
        (("--type", "rg-58"), "Name a Touchstone file, or --port and --calibration"),
        (("--type", "rg-58", "--range-m", "5"), "name --port, or --profile"),
        (("--velocity-factor", "0.7", "--loss", "three"), '"three" is no loss'),
    ],
)
def test_what_is_missing_is_said(bandwright: Any, arguments: tuple[str, ...], why: str) -> None:
    assert why in bandwright("fault", *arguments).refused()


@pytest.mark.slow
def test_a_hand_on_the_cable_tells_of_the_shield(
    bandwright: Any, calibration: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody grips the virtual bench's cable here, so nothing changes; and then nothing more is
    asked of the person."""
    monkeypatch.setattr("builtins.input", lambda *_: "")
    touched = result(
        bandwright, "good", calibration, "--type", "ptfe-2.5mm", "--plan", plan, "--touch"
    )
    assert touched.status == 0
    assert "Grip the feed cable" in touched.err
    assert "Gripping the cable changes nothing to speak of" in touched.err
    assert "grip the cable and see" not in touched.out
    alone = bandwright("fault", "--type", "rg-58", "--touch")
    assert "A touch test takes an analyzer" in alone.refused()


def test_of_bands_swept_apart_the_widest_is_looked_along(bandwright: Any, antenna: Path) -> None:
    run = bandwright("fault", antenna, "--velocity-factor", 0.7)
    assert run.status == 0
    assert "is one even grid; the rest of the sweep is left aside" in run.out
    assert "calibrate --even" in " ".join(run.out.split())


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("--even", "5-2500"), "--even LOW-HIGH takes --step-khz"),
        (("--even", "5-2500", "--step-khz", "5000", "--range", "700-800"), "and nothing else"),
        (("--even", "5-9000", "--step-khz", "5000"), "the analyzer covers"),
        (("--even", "700-800", "--step-khz", "200000"), "is no even grid"),
    ],
)
def test_an_even_grid_that_is_none_is_refused(
    bandwright: Any, arguments: tuple[str, ...], why: str
) -> None:
    run = bandwright(
        "calibrate", "--port", "virtual:", "--unattended", *arguments, clock=AcceleratedClock()
    )
    assert run.status == 2
    assert why in run.err
