"""A standard put back after the sweep, by commands on the virtual bench."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from dashboard.command_line.main import main
from replay.clock import AcceleratedClock
from tests.wording import missing_words

PORT = "virtual:prompted"
BANDS = """
name = "gauge"
sweeps = 2
[[band]]
lte = 20
return_loss_db = 3
"""
Run = Callable[..., Any]


@pytest.fixture(scope="module")
def calibrated(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A plan and a calibration for it."""
    folder = tmp_path_factory.mktemp("calibrated")
    plan, kept = folder / "plan.toml", folder / "c.json"
    plan.write_text(BANDS, encoding="utf-8")
    common = ["--port", PORT, "--plan", str(plan), "--unattended", "--sweeps", "4"]
    assert main(["calibrate", *common, "--out", str(kept)], AcceleratedClock()) == 0
    return plan, kept


@pytest.fixture
def run(bandwright: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command with time that costs nothing, in a data folder of its own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return lambda *given: bandwright(*given, clock=AcceleratedClock())


@pytest.mark.slow
def test_an_acceptance_ends_with_the_short_put_back(
    run: Run, tmp_path: Path, calibrated: tuple[Path, Path]
) -> None:
    plan, kept = calibrated
    common = ["--port", PORT, "--plan", plan, "--calibration", kept]
    done = run("accept", *common, "--name", "weir-3", "--folder", tmp_path)
    assert not missing_words(done.err, "Put the short (or the open) back", "reads as it did")
    (record,) = tmp_path.glob("weir-3_*")
    head = json.loads((record / "record.json").read_text(encoding="utf-8"))
    (check,) = head["checks_after_sweep"]["checks"]
    assert len(check["sweeps"]) == 2
    assert check["sweeps_since_calibration"] > head["conditions"][0]["sweeps_since_calibration"] > 0
    assert "reads as it did" in (record / "report.html").read_text(encoding="utf-8")
    again = run("recheck", record, "--json")
    assert again.json["holds"] is True
    assert again.json["verdict"]["checks_after_sweep"]["checks"][0]["holds"] is True


@pytest.mark.slow
def test_a_batch_is_begun_and_ended_with_a_standard_put_back(
    run: Run, tmp_path: Path, calibrated: tuple[Path, Path]
) -> None:
    plan, kept = tmp_path / "plan.toml", calibrated[1]
    plan.write_text(f'check_after = "batch"\n{BANDS}', encoding="utf-8")
    records = tmp_path / "records"
    common = ["--port", PORT, "--plan", plan, "--calibration", kept, "--folder", records]
    nothing = run("finish", *common)
    assert "No batch was begun with this calibration" in nothing.refused()
    first = run("accept", *common, "--name", "weir-1")
    assert not missing_words(first.err, "A batch begins", "reads as it did", "1 accepted since")
    second = run("accept", *common, "--name", "weir-2")
    assert "Put the short" not in second.err
    names = [each for each in records.iterdir() if (each / "record.json").exists()]
    assert len(names) == 2
    waiting = run("recheck", names[0], "--json").json
    assert waiting["holds"] is False
    assert "no check of the batch after it" in waiting["batch"]
    ended = run("finish", *common, "--json")
    assert (ended.status, ended.json["holds"], ended.json["records"]) == (0, True, 2)
    for each in names:
        assert run("recheck", each, "--json").json["holds"] is True


@pytest.mark.slow
def test_a_check_piece_is_swept_each_morning_and_a_plan_may_want_it_young(
    run: Run, tmp_path: Path, calibrated: tuple[Path, Path]
) -> None:
    plan, kept = tmp_path / "plan.toml", calibrated[1]
    plan.write_text(f"check_piece_within_hours = 24\ncheck_after = false\n{BANDS}")
    records = tmp_path / "records"
    accept = ["accept", "--port", PORT, "--plan", plan, "--calibration", kept, "--name", "weir-3"]
    accept += ["--folder", records]
    refused = run(*accept).refused()
    assert not missing_words(refused, "check piece read within 24 h", "bandwright morning")
    common = ["morning", "--port", PORT, "--calibration", kept]
    assert "1 to 30 dB" in run(*common, "--return-loss-db", "60").refused()
    right = run(*common, "--return-loss-db", "9.54", "--json")
    assert right.status == 0, right.json["words"]
    assert right.json["mean_db"] == pytest.approx(9.54, abs=0.8)  # a 30 dB load: .03 of .33
    assert "Put the check piece on the end of the cable" in right.err
    again = run(*common)
    assert again.status == 0
    assert not missing_words(again.out, "as it should", "2 of 8 readings")
    run(*accept)
    (record,) = (each for each in records.iterdir() if (each / "record.json").exists())
    head = json.loads((record / "record.json").read_text(encoding="utf-8"))
    assert head["check_piece"]["piece"] == "check piece"
    assert head["check_piece"]["holds"] is True
    assert run("recheck", record, "--json").json["holds"] is True
    wrong = run(*common, "--return-loss-db", "14")
    assert wrong.status == 1
    assert "calibrate anew" in " ".join(wrong.out.split())
    assert "does not read as it should" in run(*accept).refused()
