"""`cable` on the virtual bench's pigtails, whose length and loss it is never told."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dashboard.command_line.main import main
from replay.clock import AcceleratedClock
from replay.virtual_bench.pigtails import PIGTAILS

PLAN = Path(__file__).parents[3] / "guards" / "example.toml"
PORT = "virtual:prompted?pigtail="


@pytest.fixture(scope="module")
def calibration(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Of the connector itself, without a pigtail, for the river-watch plan."""
    path = tmp_path_factory.mktemp("calibration") / "c.json"
    arguments = ["calibrate", "--port", "virtual:prompted", "--plan", str(PLAN), "--unattended"]
    assert main([*arguments, "--out", str(path)], AcceleratedClock()) == 0
    return path


def checked(bandwright: Any, pigtail: str, calibration: Path, *more: object) -> Any:
    return bandwright(
        "cable", "--port", PORT + pigtail, "--calibration", calibration, "--plan", PLAN,
        "--unattended", *more, clock=AcceleratedClock(),
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", ["good", "lossy"])
def test_length_and_loss_of_a_pigtail_come_back(
    bandwright: Any, calibration: Path, name: str
) -> None:
    """Against what the bench knows; the joints' reactances are a picosecond or two of line."""
    true = PIGTAILS[name]
    run = checked(bandwright, name, calibration, "--velocity-factor", 0.695, "--json")
    assert run.status == 0
    result = run.json
    assert result["length_m"] == pytest.approx(true.length_m, abs=0.002)
    assert result["ends_agree"]
    assert not result["ends_exchanged"]
    for band in result["bands"]:
        here = np.array([band["low_hz"], band["high_hz"]])
        assert band["loss_db"] == pytest.approx(
            true.loss_db(here).tolist(), abs=band["loss_uncertainty_db"] + 0.01
        )


def test_a_lossy_cable_is_found_to_pass_everything(bandwright: Any, calibration: Path) -> None:
    run = checked(bandwright, "lossy", calibration)
    assert "what reads 19.1 dB can be an antenna of 1 dB" in run.out
    assert "(and 4 more, less so)" in run.out
    assert "whatever hangs there passes" in run.out
    assert "Delay one way: 15.36" in run.out


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bad-joint", "wrong"])
def test_a_bad_joint_and_a_wrong_impedance_are_not_believed(
    bandwright: Any, calibration: Path, name: str
) -> None:
    run = checked(bandwright, name, calibration, "--json")
    assert run.status == 1
    assert not run.json["ends_agree"]
    assert run.json["joints_return_loss_db"] < 22
    assert min(band["trust_floor_db"] for band in run.json["bands"]) < 15


@pytest.mark.slow
def test_a_false_pass_through_a_lossy_cable_is_caught_with_the_cable_undone(
    bandwright: Any, calibration: Path, tmp_path: Path
) -> None:
    """An untuned antenna behind 3.2 m of micro-coax passes; at its feed no band does that fails
    with the antenna screwed on directly."""
    out = tmp_path / "lossy.toml"
    assert checked(bandwright, "lossy", calibration, "--out", out).status == 0

    def states(port: str, *more: object) -> list[str]:
        run = bandwright(
            "sweep", "--port", port, "--calibration", calibration, "--plan", PLAN, "--json",
            *more, clock=AcceleratedClock(),
        )  # fmt: skip
        return [band["state"] for band in run.json["verdict"]["bands"]]

    direct = states("virtual:prompted?pigtail=none")
    assert "fail" in direct
    assert set(states(PORT + "lossy")) == {"conditional pass"}  # its delay raises a doubt
    de_embedding = states(PORT + "lossy", "--plane", out)
    wrongly = {("fail", "pass"), ("pass", "fail")}
    assert not wrongly & set(zip(direct, de_embedding, strict=True)), (direct, de_embedding)
    assert {one for one, other in zip(de_embedding, direct, strict=True) if other == "fail"} <= {
        "fail",
        "conditional fail",
    }


def test_one_end_alone_says_what_it_lacks(bandwright: Any, calibration: Path) -> None:
    run = checked(bandwright, "good", calibration, "--end", "open")
    assert "Only the open end was swept" in run.out
    assert "the kit's open on to its far end" in run.err
    assert "the kit's short" not in run.err


def test_files_are_not_written_over(bandwright: Any, calibration: Path, tmp_path: Path) -> None:
    (tmp_path / "p-short.s1p").write_text("mine")
    run = checked(bandwright, "good", calibration, "--out", tmp_path / "p.toml")
    assert "already exists" in run.refused()
    assert (
        "ending .toml"
        in checked(bandwright, "good", calibration, "--out", tmp_path / "p.s1p").refused()
    )


def test_a_cable_of_no_type_is_refused(bandwright: Any, calibration: Path) -> None:
    run = checked(bandwright, "good", calibration, "--type", "copper")
    assert 'no cable "copper". It has rg-58' in run.refused()


def test_a_cable_of_the_table_is_held_against_its_type(bandwright: Any, calibration: Path) -> None:
    run = checked(bandwright, "good", calibration, "--type", "ptfe-2.5mm")
    assert "0.23 dB is typical for so much 2.5 mm PTFE coax" in " ".join(run.out.split())
    assert "182 mm" in run.out
