"""`--plane`: verdicts at the antenna's feed, and a false pass through a lossy cable caught."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from acquire.sweep import Reading
from acquire.touchstone.writer import format_touchstone
from calibration.plane.loss import LossLaw
from replay.clock import AcceleratedClock
from tests.wording import missing_words

GRID = np.linspace(850e6, 890e6, 161)
PLAN = """
name = "one band"
[[band]]
name = "gauge backhaul"
low_mhz = 868.0
high_mhz = 870.0
return_loss_db = 10
"""


@pytest.fixture
def one_band(tmp_path: Path) -> Path:
    path = tmp_path / "one.toml"
    path.write_text(PLAN)
    return path


def behind(tmp_path: Path, antenna_db: float, loss_db: float) -> Path:
    """An antenna of flat return loss behind a cable, as a file at the connector."""
    seen = 10 ** (-(antenna_db + 2 * LossLaw.at_one(loss_db, 869, 0.9).db(GRID)) / 20)
    reading = Reading(GRID, seen * np.exp(-4j * np.pi * GRID * 4e-9))
    path = tmp_path / "antenna.s1p"
    path.write_text(format_touchstone(reading, ["plane: connector"]))
    return path


TYPED = "delay_ps=4000 loss_db=6 loss_at_mhz=869 joints_db=40"


def test_a_false_pass_through_6_db_of_cable_is_caught(
    bandwright: Any, tmp_path: Path, one_band: Path
) -> None:
    """An antenna of 1 dB reads 13 dB [derived]; at the connector the delay alone raises a doubt."""
    file = behind(tmp_path, 1.0, 6.0)
    common = ("check", file, "--plan", one_band, "--load-db", 40, "--json")
    fooled = bandwright(*common)
    assert fooled.json["bands"][0]["worst_return_loss_db"] == pytest.approx(13.0, abs=0.05)
    assert fooled.json["bands"][0]["state"] == "conditional pass"
    assert "de_embedding" not in fooled.json
    caught = bandwright(*common, "--plane", TYPED)
    assert caught.status == 1
    band = caught.json["bands"][0]
    assert band["state"] == "fail"
    assert band["worst_return_loss_db"] == pytest.approx(1.0, abs=0.05)
    assert caught.json["plane"] == "antenna"
    de_embedding = caught.json["de_embedding"]
    assert de_embedding["words"] == "4000 ps of line"
    assert de_embedding["trust_floor_db"] < de_embedding["trust_floor_at_connector_db"] - 12


def test_the_plane_is_said_in_words(bandwright: Any, tmp_path: Path, one_band: Path) -> None:
    file = behind(tmp_path, 14.0, 0.3)
    typed = "length_mm=182 velocity_factor=0.7 loss_db=0.3 loss_at_mhz=869"
    run = bandwright("check", file, "--plan", one_band, "--load-db", 40, "--plane", typed)
    assert run.out.rstrip().endswith("pass, at the antenna's feed after 182 mm of line")
    assert "Undoing 182 mm of line, 0.3 dB one way, takes the trust floor" in run.out


def test_where_undoing_leaves_nothing_told_there_is_no_verdict(
    bandwright: Any, tmp_path: Path, one_band: Path
) -> None:
    file = behind(tmp_path, 12.0, 8.0)
    typed = "delay_ps=4000 loss_db=8 loss_at_mhz=869"
    run = bandwright("check", file, "--plan", one_band, "--plane", typed, "--json")
    assert run.json["bands"][0]["state"] == "not measured"
    text = bandwright("check", file, "--plan", one_band, "--plane", typed).out
    assert "through it nothing can be told. Calibrate at its far end" in text


def test_more_loss_than_there_is_is_refused(
    bandwright: Any, tmp_path: Path, one_band: Path
) -> None:
    file = behind(tmp_path, 1.0, 0.5)
    run = bandwright("check", file, "--plan", one_band, "--load-db", 40, "--plane", TYPED)
    assert "no antenna reflects more than all" in run.refused()


def test_a_raw_file_is_not_moved(bandwright: Any, tmp_path: Path, one_band: Path) -> None:
    file = behind(tmp_path, 1.0, 0.5)
    file.write_text(file.read_text().replace("plane: connector", "plane: raw"))
    run = bandwright("check", file, "--plan", one_band, "--plane", "delay_ps=3")
    assert "only a reading at the connector can be moved" in run.refused()


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("antenna", "says nothing of what lies between"),
        ("cable=rg-58 length_mm=100", "without --calibration nothing is known"),
    ],
)
def test_a_sweep_needs_to_know_what_lies_between(bandwright: Any, text: str, why: str) -> None:
    run = bandwright("sweep", "--port", "virtual:", "--range", "780-880", "--plane", text)
    assert why in run.refused()


@pytest.mark.slow
def test_a_sweep_is_judged_at_the_feed(bandwright: Any, tmp_path: Path, one_band: Path) -> None:
    path, out = tmp_path / "c.json", tmp_path / "moved.s1p"
    common = ("--port", "virtual:", "--plan", one_band)
    made = bandwright("calibrate", *common, "--unattended", "--out", path, clock=AcceleratedClock())
    assert made.status == 0
    run = bandwright(
        "sweep", *common, "--calibration", path, "--plane", "cable=ptfe-2.5mm length_mm=60",
        "--out", out, "--json", clock=AcceleratedClock(),
    )  # fmt: skip
    result = json.loads(run.out)
    assert result["plane"] == "antenna"
    assert result["plane_words"] == "at the antenna's feed after 60 mm of 2.5 mm PTFE coax"
    assert result["verdict"]["de_embedding"]["loss_db"] == pytest.approx([0.05, 0.05], abs=0.01)
    text = out.read_text()
    assert "! plane: antenna" in text
    assert "! undone: 60 mm of 2.5 mm PTFE coax" in text


@pytest.mark.slow
def test_trust_tells_what_a_pigtail_costs(bandwright: Any, tmp_path: Path, one_band: Path) -> None:
    calibration = tmp_path / "c.json"
    made = ("calibrate", "--port", "virtual:", "--plan", one_band, "--unattended")
    assert bandwright(*made, "--out", calibration, clock=AcceleratedClock()).status == 0
    asked = ("trust", "--calibration", calibration, "--plan", one_band)
    near, far = (bandwright(*asked, *more, "--json").json[0] for more in ((), ("--plane", TYPED)))
    # 6 dB one way lifts all that was wrong by 12 dB [derived], and its joints and loss come on top
    assert near["trust_floor_db"] - far["trust_floor_db"] > 12
    assert "the pigtail" not in near["shares"]
    assert far["shares"]["the pigtail"] > 0.01
    text = bandwright(*asked, "--plane", TYPED).out
    assert not missing_words(text, "antenna's feed", "4000 ps of line")
