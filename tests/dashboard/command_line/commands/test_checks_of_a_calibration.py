"""`verify`, `uncertainty` and `characterise` on the virtual bench: simulated time, no hardware."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from calibration.files.store import load_calibration, load_kit
from dashboard.command_line.main import main
from replay.clock import AcceleratedClock
from tests.wording import missing_words

PORT = "virtual:prompted"
Simulated = Callable[..., Any]


@pytest.fixture(scope="module")
def clock() -> AcceleratedClock:
    """One time for all commands: a check comes after its calibration."""
    return AcceleratedClock()


@pytest.fixture
def simulated(bandwright: Any, clock: AcceleratedClock) -> Simulated:
    """Run a command with time that costs nothing."""
    return lambda *arguments: bandwright(*arguments, clock=clock)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, clock: AcceleratedClock) -> Path:
    """A calibration of the virtual analyzer."""
    path = tmp_path_factory.mktemp("made") / "c.json"
    arguments = ["calibrate", "--port", PORT, "--range", "780-880", "--unattended"]
    assert main([*arguments, "--out", str(path)], clock) == 0
    return path


@pytest.fixture
def calibration(made: Path, tmp_path: Path) -> Path:
    """A copy of it, to check."""
    return Path(shutil.copy(made, tmp_path / "today.json"))


@pytest.mark.slow
def test_a_second_load_measured_back_agrees_and_is_kept(
    simulated: Simulated, calibration: Path
) -> None:
    arguments = ["--port", PORT, "--calibration", calibration, "--unattended"]
    run = simulated("verify", *arguments, "--second-load", "40", "--json")
    assert run.status == 0
    assert run.json["agrees"] is True
    assert run.json["name"] == "second load"
    assert 0 < run.json["worst_en"] < 1
    (kept,) = load_calibration(calibration).evidence.devices
    assert kept.device.name == "second load"
    again = simulated("trust", "--calibration", calibration)
    assert "second load: all" in again.out
    assert "frequencies agree (complex values)" in again.out


def test_a_mismatch_that_is_none_does_not_agree_and_ends_with_1(
    simulated: Simulated, calibration: Path
) -> None:
    arguments = ["--port", PORT, "--calibration", calibration, "--unattended"]
    run = simulated("verify", *arguments, "--vswr", "2.5")
    assert run.status == 1
    assert "They do not agree. Clean and tighten the connectors" in run.out
    assert "the data is invented" in run.out


def test_a_standard_put_back_is_told_band_by_band(
    simulated: Simulated, calibration: Path, plan: Path
) -> None:
    arguments = ["--port", PORT, "--calibration", calibration, "--unattended"]
    run = simulated("verify", *arguments, "--put-back", "load", "--plan", plan)
    assert run.status == 0
    assert "791 to 821 MHz: changed by up to" in run.out
    assert "carry on" in run.out
    assert not missing_words(run.out, "not measured", "sweep it")  # what was not calibrated


def test_the_connector_remade_is_told_and_counted(simulated: Simulated, calibration: Path) -> None:
    arguments = ["--port", PORT, "--calibration", calibration, "--unattended"]
    run = simulated("verify", *arguments, "--remake", "open", "--times", "4")
    assert run.status == 0
    assert "5 makings of the open scatter by" in run.out
    assert not missing_words(run.err, "take the open off", "screw it on again")


def test_a_certificate_and_a_device_file_are_read(
    simulated: Simulated, calibration: Path, tmp_path: Path
) -> None:
    """The virtual mismatch reflects 0.2 behind 25 ps [the bench's description]."""
    f = np.linspace(0.7e9, 0.95e9, 26)
    value = 0.2 * np.exp(-4j * np.pi * f * 25e-12)
    rows = [f"{hz} {z.real} {z.imag}" for hz, z in zip(f, value, strict=True)]
    (tmp_path / "mismatch.s1p").write_text("\n".join(["# Hz S RI R 50", *rows]))
    arguments = ["--port", PORT, "--calibration", calibration, "--unattended"]
    run = simulated(
        "verify", *arguments, "--certificate", tmp_path / "mismatch.s1p", "--error", "0.003"
    )
    assert run.status == 0
    assert "complex values" in run.out
    device = tmp_path / "mismatch.toml"
    device.write_text('name = "mismatch"\nform = "vswr"\nvswr = 1.5\ntolerance = 0.02\n')
    run = simulated("verify", *arguments, "--device", device)
    assert run.status == 0
    assert "sizes alone" in run.out


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ([], "Say with one option what to check by"),
        (["--vswr", "2", "--put-back", "open"], "Say with one option what to check by"),
        (["--certificate", "x.s1p"], "say by how much with --error"),
        (["--certificate", "none.s1p", "--error", "0.01"], "cannot be read"),
        (["--put-back", "mirror"], "has no mirror to compare with"),
        (["--second-load", "-36"], "return_loss_db is -36"),
        (["--remake", "open", "--times", "1"], "1 making"),
        (["--put-back", "open", "--assume", "drift=1"], "cannot be assumed. Write NAME=VALUE"),
        (["--put-back", "open", "--assume", "cable=-1"], "cannot be assumed"),
    ],
)
def test_what_cannot_be_checked_so_is_refused_before_anything_is_swept(
    simulated: Simulated, calibration: Path, options: list[str], words: str
) -> None:
    before = calibration.read_bytes()
    run = simulated("verify", "--port", PORT, "--calibration", calibration, *options)
    assert words in run.refused()
    assert calibration.read_bytes() == before


def test_trust_says_what_costs_most_and_what_is_assumed(
    simulated: Simulated, calibration: Path
) -> None:
    run = simulated("trust", "--calibration", calibration, "--assume", "drift_per_hour=0.5")
    assert run.status == 0
    assert "dB load would lift the trust floor from" in run.out
    assert "Nothing was measured back yet" in run.out
    assert "drift: 0.5 an hour assumed" in run.out
    (entry,) = simulated("trust", "--calibration", calibration, "--json").json
    assert sum(entry["shares"].values()) == pytest.approx(1)
    assert entry["interval_at_limit_db"][0] < 10 < entry["interval_at_limit_db"][1]


@pytest.mark.slow
def test_home_made_parts_become_a_kit_that_calibrates(
    simulated: Simulated, calibration: Path, tmp_path: Path
) -> None:
    out = tmp_path / "workshop.toml"
    arguments = ["--port", PORT, "--calibration", calibration, "--unattended", "--out", out]
    parts = ["--load", "soldered resistor", "--open", "bare socket"]
    run = simulated("characterise", *arguments, "--name", "workshop", *parts)
    assert run.status == 0
    assert "soldered resistor: known to" in run.out
    kit = load_kit(str(out))
    assert kit.name == "workshop"
    assert "open, load measured against the kit" in kit.source
    target = tmp_path / "own.json"
    own = ["--port", PORT, "--range", "790-870", "--kit", out, "--out", target, "--unattended"]
    assert simulated("calibrate", *own).status == 0
    result = simulated("trust", "--calibration", target).out
    assert "the load, 9" in result
    assert simulated("characterise", *arguments, "--name", "again", *parts).refused()


@pytest.mark.slow
def test_an_acceptance_is_refused_until_the_plan_s_check_was_made(
    simulated: Simulated, made: Path, tmp_path: Path
) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text(
        'name = "gauge"\nverified_within_hours = 8\n[[band]]\nname = "own"\nlow_mhz = 800.0\n'
        "high_mhz = 860.0\nreturn_loss_db = 10\n"
    )
    calibration = Path(shutil.copy(made, tmp_path / "c.json"))
    accept = [
        *("accept", "--port", PORT, "--plan", plan, "--calibration", calibration),
        *("--name", "weir-3", "--folder", tmp_path / "records"),
    ]
    assert "The plan wants a known device that agreed within 8 h" in simulated(*accept).refused()
    verify = ["verify", "--port", PORT, "--calibration", calibration, "--unattended"]
    assert simulated(*verify, "--put-back", "load").status == 0
    assert "there is none" in simulated(*accept).refused()
    assert simulated(*verify, "--second-load", "40").status == 0
    assert simulated(*accept).status == 1  # the antenna as delivered
