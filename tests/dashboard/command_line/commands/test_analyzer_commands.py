"""The commands that talk to a unit, on the virtual one: simulated time, no hardware."""

from __future__ import annotations

import dataclasses
import io
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from acceptance.record.checksums import format_checksums
from acceptance.record.record_folder import read_files
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.sweep import Sweep, SweepRequest
from acquire.touchstone.reader import parse_touchstone
from calibration.files.store import load_calibration
from dashboard.command_line.main import main
from dashboard.errors import SetupError
from dashboard.sweeping.agreeing_sweeps import PATIENCE, agreeing_sweeps, several_sweeps
from dashboard.sweeping.connection import connected
from replay.clock import AcceleratedClock, FastClock
from replay.virtual_analyzer.hosting import on_pty
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.wording import missing_words

Simulated = Callable[..., Any]
PORT = "virtual:prompted"


@pytest.fixture
def simulated(bandwright: Any) -> Simulated:
    """Run a command with time that costs nothing."""

    def run(*arguments: object) -> Any:
        return bandwright(*arguments, clock=AcceleratedClock())

    return run


@pytest.fixture(scope="module")
def calibration(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A calibration of the virtual analyzer for the river-watch plan."""
    path = tmp_path_factory.mktemp("calibration") / "c.json"
    plan = Path(__file__).parents[3] / "guards" / "example.toml"
    arguments = ["calibrate", "--port", PORT, "--plan", str(plan), "--unattended"]
    assert main([*arguments, "--out", str(path)], AcceleratedClock()) == 0
    return path


def test_a_calibration_holds_its_raw_readings_and_says_where_it_is(
    simulated: Simulated, tmp_path: Path
) -> None:
    path = tmp_path / "c.json"
    run = simulated(
        "calibrate", "--port", PORT, "--range", "780-880", "--unattended", "--out", path, "--json"
    )
    assert run.status == 0
    assert run.json["out"] == str(path)
    assert run.json["standards"] == {"open": 8, "short": 8, "load": 8}
    assert run.json["source"]["kind"] == "virtual"
    assert "invented data" in run.err
    assert set(load_calibration(path).readings) == {"open", "short", "load"}


def test_without_out_a_calibration_goes_to_the_users_own_folder(
    simulated: Simulated, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("dashboard.files.user_folders.calibrations", lambda: tmp_path / "kept")
    run = simulated("calibrate", "--port", PORT, "--range", "780-880", "--unattended", "--json")
    assert run.status == 0
    assert Path(run.json["out"]).parent == tmp_path / "kept"
    load_calibration(Path(run.json["out"]))


def test_a_person_at_the_virtual_bench_presses_enter(
    simulated: Simulated, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pressed: list[str] = []

    def press(*_: object) -> str:
        pressed.append("Enter")
        return ""

    monkeypatch.setattr("builtins.input", press)
    run = simulated("calibrate", "--port", PORT, "--range", "780-880", "--out", tmp_path / "c.json")
    assert (run.status, len(pressed)) == (0, 4), "the load once more: nothing speaks for it"
    assert not missing_words(run.err, "virtual bench", "short on", "invented data")


def test_a_load_that_is_not_connected_again_leaves_the_calibration_in_doubt(
    simulated: Simulated, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["", "", "", "skip"])
    monkeypatch.setattr("builtins.input", lambda *_: next(answers))
    path = tmp_path / "c.json"
    run = simulated("calibrate", "--port", PORT, "--range", "780-880", "--out", path, "--json")
    assert run.status == 0
    assert not missing_words(run.json["findings"], "no earlier calibration")
    (words,) = run.json["warnings"]
    assert not missing_words(words, "only once", "second load")
    assert load_calibration(path).warnings == (words,)
    assert not missing_words(run.err, "type skip", "only once")


def test_a_cable_s_name_is_kept_and_too_long_a_one_refused(
    simulated: Simulated, tmp_path: Path
) -> None:
    common = ["calibrate", "--port", PORT, "--range", "780-880", "--unattended", "--json"]
    path = tmp_path / "c.json"
    run = simulated(*common, "--cable", "blue,  1 m", "--out", path)
    assert run.json["cable"] == load_calibration(path).cable == "blue, 1 m"
    refused = simulated(*common, "--cable", "x" * 61)
    assert refused.status == 2
    assert not missing_words(refused.err, "60 letters", "61")


def test_a_sweep_without_a_calibration_is_raw_and_has_no_verdict(
    simulated: Simulated, tmp_path: Path, plan: Path
) -> None:
    out = tmp_path / "raw.s1p"
    run = simulated("sweep", "--port", PORT, "--plan", plan, "--out", out)
    assert run.status == 0
    assert "without --calibration there is no verdict" in run.out
    text = out.read_text(encoding="ascii")
    assert "! plane: raw" in text
    assert "! invented data" in text
    assert "profile prompted-pairs" in text
    # A raw file of our own is never taken for one at the connector.
    assert "The readings are raw" in simulated("check", out, "--plan", plan).out


def as_read(bands: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What does not hang on the uncertainty: a file alone says nothing of its calibration."""
    names = ("name", "link", "limit", "worst_return_loss_db", "worst_frequency_hz", "margin_db")
    return [{name: band[name] for name in names} for band in bands]


@pytest.mark.slow
def test_a_calibrated_sweep_is_judged_and_check_comes_to_the_same(
    simulated: Simulated, tmp_path: Path, plan: Path, calibration: Path
) -> None:
    out = tmp_path / "weir-3.s1p"
    run = simulated(
        "sweep",
        "--port",
        PORT,
        "--plan",
        plan,
        "--calibration",
        calibration,
        "--out",
        out,
        "--json",
    )
    assert run.status == 1
    assert run.json["plane"] == "connector"
    assert run.json["coverage"].endswith("as calibrated")
    checked = simulated("check", out, "--plan", plan, "--json")
    assert checked.status == 1
    assert as_read(checked.json["bands"]) == as_read(run.json["verdict"]["bands"])
    # The antenna as delivered is untuned: held by the bench's own tests.
    states = {(band["name"], band["link"]): band["state"] for band in checked.json["bands"]}
    assert states["NR n3", "downlink"] == "fail"


def test_the_virtual_antenna_is_measured_as_it_truly_is(
    simulated: Simulated, tmp_path: Path, calibration: Path, plan: Path
) -> None:
    """The whole way, wire and standards and solver, against what the bench knows to be true.

    0.03: the load's hidden reflection (below .026), definition errors of open and short, the
    contacts and the noise [derived from the bench's description].
    """
    out = tmp_path / "a.s1p"
    arguments = ["--port", PORT, "--plan", plan, "--calibration", calibration, "--out", out]
    assert simulated("sweep", *arguments).status == 1
    reading = parse_touchstone(out.read_bytes(), out.name).reading
    truth = VirtualBench(AcceleratedClock(), on_port="antenna").true_reflection(
        reading.frequency_hz
    )
    assert float(np.abs(reading.reflection - truth).max()) < 0.03


def test_an_acceptance_leaves_a_record_that_checks(
    simulated: Simulated, tmp_path: Path, plan: Path, calibration: Path
) -> None:
    run = simulated(
        *("accept", "--port", PORT, "--plan", plan, "--calibration", calibration),
        *("--name", "weir-3", "--operator", "river-watch", "--folder", tmp_path, "--json"),
    )
    assert run.status == 1
    assert {"overall", "plan", "plane", "source", "bands", "notes", "guard"} < set(run.json)
    (record,) = (each for each in tmp_path.iterdir() if each.is_dir())
    assert record.name.startswith("weir-3_")
    assert str(record) in run.err
    done = json.loads((record / "record.json").read_text(encoding="utf-8"))
    assert done["operator"] == "river-watch"
    assert done["invented"] is True
    written = json.loads((record / "verdict.json").read_text(encoding="utf-8"))
    (condition,) = written["conditions"]
    assert {**condition["verdict"], "notes": condition["notes"]} == run.json
    corrected = record / "finished" / "corrected.s1p"
    checked = simulated("check", corrected, "--plan", record / "plan.toml", "--json")
    assert as_read(checked.json["bands"]) == as_read(run.json["bands"])
    again = simulated("recheck", record, "--json")
    assert again.status == 1  # it holds, and no band passes as delivered
    assert again.json["holds"] is True
    assert again.json["verdict"] == written


def test_a_recorded_sweep_replays_to_the_same_readings(
    simulated: Simulated, tmp_path: Path, plan: Path
) -> None:
    recording, first, second = (tmp_path / name for name in ("r.jsonl", "1.s1p", "2.s1p"))
    common = ["--plan", plan, "--profile", "prompted-pairs"]
    taken = simulated("sweep", "--port", PORT, *common, "--record", recording, "--out", first)
    played = simulated("sweep", "--port", f"replay:{recording}", *common, "--out", second)
    assert (taken.status, played.status) == (0, 0)
    one, other = (
        [line for line in path.read_text(encoding="ascii").splitlines() if line[0] != "!"]
        for path in (first, second)
    )
    assert one == other


def test_a_recorded_calibration_replays_without_anyone(
    simulated: Simulated, tmp_path: Path
) -> None:
    recording = tmp_path / "r.jsonl"
    common = ["--range", "780-880", "--profile", "prompted-pairs", "--unattended"]
    first = simulated(
        *("calibrate", "--port", PORT, *common, "--record", recording),
        *("--out", tmp_path / "1.json"),
    )
    again = simulated(
        *("calibrate", "--port", f"replay:{recording}", *common, "--kit", "3.5mm-plug-50"),
        *("--out", tmp_path / "2.json"),
    )
    assert (first.status, again.status) == (0, 0)
    one, two = (load_calibration(tmp_path / name) for name in ("1.json", "2.json"))
    assert (one.terms.directivity == two.terms.directivity).all()


@pytest.mark.parametrize("character", ["prompted", "scan", "scpi", "registers"])
def test_ports_ask_tells_which_profile_answers(simulated: Simulated, character: str) -> None:
    run = simulated("ports", "--ask", f"virtual:{character}", "--json")
    assert run.status == 0
    assert run.json["profile"].startswith({"scan": "prompted"}.get(character, character))
    assert run.json["unproven"] is True


def test_ports_are_listed_and_none_is_opened(
    bandwright: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def forbidden(*_: object, **__: object) -> None:
        raise AssertionError("a port was opened")

    found = [
        SimpleNamespace(
            device="/dev/ttyX0",
            description="[red]unit\x1b[2J",
            vid=0x1234,
            pid=0xABCD,
            serial_number="77",
        )
    ]
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: found)
    monkeypatch.setattr("serial.serial_for_url", forbidden)
    monkeypatch.setattr("serial.Serial", forbidden)
    run = bandwright("ports")
    assert run.status == 0
    assert "/dev/ttyX0" in run.out
    assert "1234:abcd" in run.out
    assert "[red]unit" in run.out
    assert "\x1b" not in run.out
    assert bandwright("ports", "--json").json["ports"][0]["serial_number"] == "77"


def test_no_port_at_all_is_no_failure(bandwright: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("serial.tools.list_ports.comports", list)
    run = bandwright("ports")
    assert run.status == 0
    assert "No serial port is there" in run.out


BAD = "bad.json"
CASES: dict[str, tuple[list[str], str]] = {
    "no such port": (["sweep", "--port", "/dev/ttyNONE", "--range", "700-900"], "/dev/ttyNONE"),
    "no such unit": (["sweep", "--port", "virtual:telepathy", "--range", "700-900"], "telepathy"),
    "a bad option": (["sweep", "--port", "virtual:?colour=1", "--range", "700-900"], "colour"),
    "no recording": (["sweep", "--port", "replay:none", "--range", "700-900"], "none"),
    "nothing to sweep": (["sweep", "--port", PORT], "--range 790-870"),
    "a plan and a range": (
        ["sweep", "--port", PORT, "--range", "700-900", "--plan", "p.toml"],
        "either --plan",
    ),
    "no range": (["sweep", "--port", PORT, "--range", "900-700"], '"900-700" is no range'),
    "a range of words": (["sweep", "--port", PORT, "--range", "all"], '"all" is no range'),
    "beyond the unit": (["sweep", "--port", PORT, "--range", "5000-6000"], "5000 to 6000 MHz"),
    "an unknown profile": (
        ["sweep", "--port", PORT, "--range", "700-900", "--profile", "telepathy"],
        'no profile "telepathy"',
    ),
    "the wrong profile": (
        ["sweep", "--port", PORT, "--range", "700-900", "--profile", "scpi-ascii"],
        PORT,
    ),
    "no calibration": (
        ["sweep", "--port", PORT, "--range", "700-900", "--calibration", "none.json"],
        "none.json",
    ),
    "a bad calibration": (
        ["sweep", "--port", PORT, "--range", "700-900", "--calibration", BAD],
        BAD,
    ),
    "out is there": (["sweep", "--port", PORT, "--range", "700-900", "--out", BAD], BAD),
    "out in no folder": (
        ["sweep", "--port", PORT, "--range", "700-900", "--out", "no/a.s1p"],
        "no folder",
    ),
    "a record that is there": (
        ["sweep", "--port", PORT, "--range", "700-900", "--record", BAD],
        BAD,
    ),
    "no kit on a real port": (
        ["calibrate", "--port", "/dev/ttyNONE", "--range", "700-900"],
        "--kit ideal",
    ),
    "an unknown kit": (
        ["calibrate", "--port", PORT, "--range", "700-900", "--kit", "best"],
        "'best'",
    ),
    "nobody at a real port": (
        ["calibrate", "--port", "/dev/ttyNONE", "--range", "7-9", "--kit", "ideal", "--unattended"],
        "--unattended is for virtual:",
    ),
    "a profile without asking": (["ports", "--profile", "scpi-ascii"], "--ask"),
    "a name for a record": (["accept", "--port", PORT], "--plan"),
}


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES)
def test_what_cannot_be_done_is_one_sentence_before_the_work(
    simulated: Simulated, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, case: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(BAD).write_bytes(b"\x00{]\xff")
    arguments, part = CASES[case]
    assert part in simulated(*arguments).refused()
    assert [path.name for path in tmp_path.iterdir()] == [BAD]


def test_a_calibration_of_another_unit_is_refused(
    simulated: Simulated, plan: Path, calibration: Path
) -> None:
    run = simulated("sweep", "--port", "virtual:scpi", "--plan", plan, "--calibration", calibration)
    assert "The calibration does not hold for this analyzer as it is: " in run.refused()


def test_a_calibration_of_another_range_is_refused(
    simulated: Simulated, tmp_path: Path, calibration: Path
) -> None:
    run = simulated("sweep", "--port", PORT, "--range", "2400-2500", "--calibration", calibration)
    assert not missing_words(run.refused(), "2400 to 2500 MHz", "not calibrated", "leave it out")


def test_the_bands_of_a_plan_that_were_not_calibrated_are_named(
    simulated: Simulated, tmp_path: Path, calibration: Path
) -> None:
    wide = tmp_path / "wide.toml"
    bands = "".join(f"[[band]]\nlte = {number}\nreturn_loss_db = 10\n" for number in (7, 20, 38))
    wide.write_text(f'name = "wide"\n{bands}', encoding="utf-8")
    for command in (("sweep",), ("accept", "--name", "weir-3", "--folder", tmp_path / "records")):
        run = simulated(*command, "--port", PORT, "--plan", wide, "--calibration", calibration)
        assert not missing_words(run.refused(), "LTE 7, 38", "not calibrated", "calibrate again")


def test_a_folder_that_cannot_be_written_to_is_one_sentence(
    simulated: Simulated, tmp_path: Path, plan: Path, calibration: Path
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("", encoding="utf-8")
    run = simulated(
        *("accept", "--port", PORT, "--plan", plan, "--calibration", calibration),
        *("--name", "weir-3", "--folder", blocked),
    )
    assert "weir-3" in run.refused()


def test_readings_that_never_hold_still_are_not_accepted() -> None:
    taken = 0

    def moving(analyzer: Analyzer) -> Sweep:
        nonlocal taken
        taken += 1
        sweep = analyzer.sweep([SweepRequest(800e6, 860e6, 61)])
        return dataclasses.replace(sweep, reflection=sweep.reflection * np.exp(0.1j * taken))

    with (
        connected(
            PORT, profile=None, record=None, bench=None, clock=AcceleratedClock()
        ) as analyzer,
        pytest.raises(SetupError, match="still move"),
    ):
        agreeing_sweeps(lambda: moving(analyzer), 4)
    assert taken == PATIENCE * 4


def test_sweeps_that_never_agree_are_given_back_as_they_are() -> None:
    turned = iter(range(100))
    with connected(
        PORT, profile=None, record=None, bench=None, clock=AcceleratedClock()
    ) as analyzer:
        still = analyzer.sweep([SweepRequest(800e6, 860e6, 61)])

    def moving() -> Sweep:
        turn = next(turned)
        moved = still.reflection * np.exp(0.1j * turn)
        return dataclasses.replace(still, reflection=moved, sequence=turn + 1)

    found = several_sweeps(moving, 3)
    assert isinstance(found, tuple)
    assert [sweep.sequence for sweep in found] == [10, 11, 12]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals there")
def test_the_whole_job_over_a_real_serial_port(
    bandwright: Any, tmp_path: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Asked, calibrated by a person and accepted, through the serial library and a terminal."""
    hurried = FastClock(20)
    bench = VirtualBench(hurried)
    analyzer = VirtualAnalyzer(bench, "registers", speed=20)
    next_up = iter(["open", "open", "short", "load", "load", "short"])
    monkeypatch.setattr("dashboard.files.user_folders.calibrations", lambda: tmp_path / "kept")

    def screw_on_and_press(*_: object) -> str:
        bench.screw_on(next(next_up))
        return ""

    monkeypatch.setattr("builtins.input", screw_on_and_press)
    kept = tmp_path / "c.json"
    with on_pty(analyzer, hurried) as path:
        asked = bandwright("ports", "--ask", path, "--json")
        assert asked.json["profile"] == "registers-queue"
        common = ["--port", path, "--plan", plan, "--profile", "registers-queue"]
        run = bandwright("calibrate", *common, "--kit", bench.kit_name, "--out", kept)
        assert run.status == 0, run.err
        assert "Measure the short again." in run.err
        bench.screw_on("antenna")
        accepted = bandwright(
            *("accept", *common, "--calibration", kept, "--name", "weir-3"),
            *("--folder", tmp_path / "records", "--json"),
        )
    assert accepted.status == 1, accepted.err
    assert not missing_words(accepted.err, "Put the short (or the open) back", "reads as it did")
    assert accepted.json["source"]["kind"] == "port"
    assert accepted.json["source"]["measured"] is True
    states = {(band["name"], band["link"]): band["state"] for band in accepted.json["bands"]}
    assert states["NR n3", "downlink"] == "fail"
    assert states["LTE 20", "uplink"] == "conditional pass"  # 1.6 dB behind an unstated load


@pytest.mark.parametrize("suffix", ["s1p", "csv", "json"])
def test_a_sweep_is_written_in_the_form_its_name_asks_for(
    simulated: Simulated, tmp_path: Path, calibration: Path, plan: Path, suffix: str
) -> None:
    out = tmp_path / f"sweep.{suffix}"
    arguments = ["--port", PORT, "--plan", plan, "--calibration", calibration, "--out", out]
    assert simulated("sweep", *arguments).status == 1
    text = out.read_text(encoding="utf-8")
    if suffix == "csv":
        head, first = text.split("\n")[:2]
        assert head.startswith("frequency_hz,real,imaginary,return_loss_db")
        assert float(first.split(",")[7]) < float(first.split(",")[3])
    elif suffix == "json":
        read = json.loads(text)
        assert read["invented"] is True
        assert read["verdict"]["overall"] == "fail"
        assert len(read["real"]) == len(read["return_loss_low_db"])
    else:
        assert "! plane: connector" in text


@pytest.mark.slow
def test_conditions_are_swept_one_at_a_time_and_the_record_written_once_all_are_there(
    simulated: Simulated,
    tmp_path: Path,
    calibration: Path,
    plan: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    several = tmp_path / "several.toml"
    text = 'conditions = ["bare", "sealed"]\n' + plan.read_text(encoding="utf-8")
    several.write_text(text, encoding="utf-8")
    folder = tmp_path / "records"
    common = ["accept", "--port", PORT, "--plan", several, "--calibration", calibration]
    common += ["--name", "weir-3", "--folder", folder]
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    refused = simulated(*common)
    assert refused.status == 2
    assert "needs someone at the analyzer" in refused.err
    both = simulated(*common, "--condition", "bare", "--condition", "sealed")
    assert "sweep one condition at a time with --condition" in " ".join(both.err.split())
    result = simulated(*common, "--condition", "bare", "--json")  # named alone: nothing to wait for
    assert (result.status, result.json["overall"]) == (1, "not measured"), "sealed decides"
    first = simulated(*common, "--condition", "bare")
    assert first.status == 1
    assert not missing_words(first.err, "written once", "sealed")
    assert [each.name for each in folder.iterdir()] == ["unfinished"]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))
    second = simulated(*common, "--size", "arm_a=84.5")
    assert not missing_words(second.err, "weir-3 was begun before", "bare")
    assert "Seal it, let the sealant cure" in second.err
    (record,) = (each for each in folder.iterdir() if each.is_dir())
    done = json.loads((record / "record.json").read_text(encoding="utf-8"))
    assert done["sizes_mm"] == {"arm_a": 84.5}
    assert [each["name"] for each in done["conditions"]] == ["bare", "sealed"]
    assert "nothing to speak of changes against bare" in second.err


def test_a_touch_test_without_a_terminal_is_refused_with_what_serves(
    simulated: Simulated,
    tmp_path: Path,
    calibration: Path,
    plan: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    touched = tmp_path / "touched.toml"
    touched.write_text("touch_test = true\n" + plan.read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    run = simulated(
        *["accept", "--port", PORT, "--plan", touched, "--calibration", calibration],
        *["--name", "weir-3", "--folder", tmp_path / "records", "--condition", "finished"],
    )
    assert run.status == 2
    assert "or go without the touch test." in " ".join(run.err.split())


def test_a_condition_or_a_size_that_is_none_is_refused_before_anything_is_swept(
    simulated: Simulated, tmp_path: Path, calibration: Path, plan: Path
) -> None:
    common = ["accept", "--port", PORT, "--plan", plan, "--calibration", calibration]
    common += ["--name", "weir-3", "--folder", tmp_path / "records"]
    for more, words in (
        (["--condition", "wet"], 'no condition "wet". It has: finished.'),
        (["--size", "arm_a"], '"arm_a" is no size'),
        (["--size", "arm_a_mm=84.5"], "arm_a_mm is the size arm_a, in mm as all sizes are: write"),
        (["--sign", tmp_path / "no key"], "There is no key"),
    ):
        run = simulated(*common, *more)
        assert run.status == 2
        assert words in run.err


@pytest.mark.process
@pytest.mark.skipif(shutil.which("ssh-keygen") is None, reason="ssh-keygen is not installed")
def test_a_signed_record_says_by_whom_and_a_changed_one_does_not_hold(
    simulated: Simulated, tmp_path: Path, calibration: Path, plan: Path
) -> None:
    key, signers = tmp_path / "key", tmp_path / "signers"
    keygen = str(shutil.which("ssh-keygen"))
    subprocess.run(
        [keygen, "-q", "-t", "ed25519", "-N", "", "-C", "a@river-watch", "-f", str(key)],
        check=True,
    )
    public = key.with_suffix(".pub").read_text(encoding="ascii").split()
    signers.write_text(f"a@river-watch {public[0]} {public[1]}\n", encoding="ascii")
    folder = tmp_path / "records"
    common = ["accept", "--port", PORT, "--plan", plan, "--calibration", calibration]
    simulated(*common, "--name", "weir-3", "--folder", folder, "--sign", key)
    (record,) = (each for each in folder.iterdir() if each.is_dir())
    trusted = simulated("recheck", record, "--signers", signers, "--json")
    assert trusted.json["holds"] is True
    assert trusted.json["signature"] == "Signed by a@river-watch."
    assert "The signature holds" in simulated("recheck", record).out
    stranger = tmp_path / "stranger"
    stranger.write_text(f"b@elsewhere {public[0]} {public[1][:-4]}AAAA\n", encoding="ascii")
    unknown = simulated("recheck", record, "--signers", stranger, "--json")
    assert unknown.json["holds"] is False
    checksums = (record / "SHA256SUMS").read_bytes()
    (record / "plan.toml").write_bytes(b"# changed\n" + (record / "plan.toml").read_bytes())
    (record / "SHA256SUMS").write_bytes(format_checksums(read_files(record)))
    assert (record / "SHA256SUMS").read_bytes() != checksums
    forged = simulated("recheck", record, "--json")
    assert forged.json["changed"] == []
    assert forged.json["holds"] is False
    assert forged.json["signature"].startswith("The signature does not hold")
