"""A fault leaves a trace that is bounded, and a report of it that names nobody."""

from __future__ import annotations

import getpass
import platform
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from acquire.analyzer.outliers import ReferenceSweeps
from acquire.clock import SystemClock
from dashboard.bench.composed_bench import Bench
from dashboard.command_line.main import main
from dashboard.files import defect_log
from dashboard.files.defect_log import LARGEST_LOG, kept_defects, log_path, note_defect
from dashboard.files.fault_report import fault_report, without_names
from dashboard.files.last_bytes import MOST_KEPT, keep_last_bytes, last_bytes_path
from dashboard.sweeping.connection import recorded
from replay.recording.port_recording import RecordingTransport
from replay.recording.recording_format import parse_recording
from tests.counts import PATIENCE_S
from tests.dashboard.server.test_page_server import action_call, own
from tests.wording import missing_words


@pytest.fixture(autouse=True)
def faults(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's folder of faults, for this test alone."""
    folder = tmp_path / "faults"
    monkeypatch.setattr("dashboard.files.user_folders.faults", lambda: folder)
    return folder


class Wire:
    """A transport that answers everything with the same."""

    address, kind = "/dev/ttyTEST", "port"

    def write(self, data: bytes) -> None:
        pass

    def read(self, timeout_s: float) -> bytes:
        return b"ok\r\n"

    def discard(self) -> None:
        pass

    def close(self) -> None:
        pass


def failing(*_: object, **__: object) -> None:
    raise ZeroDivisionError("a defect of this test")


def test_a_defect_in_an_action_is_told_kept_and_answered(
    bench: Bench,
    client: httpx.Client,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("dashboard.page.actions.table.perform_of", failing)
    answer = client.post("/_dash-update-component", headers=own(client), json=action_call("hold"))
    assert answer.status_code == 200
    assert not missing_words(answer.text, "fault of bandwright", "report-a-fault")
    assert "Traceback" not in answer.text
    assert not missing_words(capfd.readouterr().err, "Traceback", "ZeroDivisionError", "Kept in")
    assert not missing_words(kept_defects(), "bandwright", "Traceback", "ZeroDivisionError")


def test_a_defect_anywhere_else_leaves_a_trace_too(
    client: httpx.Client, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("dashboard.server.plan_requests.search", failing)
    answer = client.get("/bands.json?find=20")
    assert answer.status_code == 500
    assert not missing_words(answer.text, "fault of bandwright")
    assert "ZeroDivisionError" in capfd.readouterr().err
    assert "ZeroDivisionError" in kept_defects()


def test_a_defect_in_the_checks_of_a_reply_is_kept_and_the_stream_goes_on(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.wait_for(lambda now: now.sequence > 0, PATIENCE_S)
    with monkeypatch.context() as broken:
        broken.setattr(ReferenceSweeps, "suspect", failing)
        bench.wait_for(lambda now: now.port.phase == "lost", PATIENCE_S)
    assert not missing_words(kept_defects(), "making sense of a reply", "ZeroDivisionError")
    seen = bench.snapshot().sequence
    bench.wait_for(lambda now: now.sequence > seen, PATIENCE_S)


def test_the_log_stays_within_its_bound_and_keeps_the_newest() -> None:
    for number in range(40):
        defect_log.keep_defect(f"{number} " + "x" * (LARGEST_LOG // 20), "testing")
    assert log_path().stat().st_size <= LARGEST_LOG
    assert "39 xxx" in kept_defects()


def test_a_log_that_cannot_be_written_stops_nothing(
    faults: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    faults.write_text("a file where the folder should be")
    note_defect(ZeroDivisionError("here"), "testing")
    assert "ZeroDivisionError" in capfd.readouterr().err
    assert kept_defects() == ""


def test_the_last_bytes_are_kept_within_a_bound_and_can_be_read_back() -> None:
    wire = keep_last_bytes(Wire(), SystemClock())  # type: ignore[arg-type]
    for number in range(2000):
        wire.write(f"ask {number}\r".encode())
        wire.read(1)
    wire.close()
    content = last_bytes_path().read_bytes()
    assert len(content) <= MOST_KEPT + 200
    entries = parse_recording(content, "kept").entries
    assert [each.data for each in entries[-2:]] == [b"ask 1999\r", b"ok\r\n"]


def test_a_defect_writes_the_last_bytes_of_an_analyzer_in_use() -> None:
    wire = keep_last_bytes(Wire(), SystemClock())  # type: ignore[arg-type]
    wire.write(b"sweep\r")
    assert not last_bytes_path().exists()
    note_defect(ZeroDivisionError("here"), "testing")
    assert b"sweep\r" in [
        each.data for each in parse_recording(last_bytes_path().read_bytes(), "kept").entries
    ]
    wire.close()


@pytest.mark.parametrize(("address", "kept"), [("/dev/ttyTEST", True), ("virtual:", False)])
def test_real_analyzers_bytes_are_kept_without_being_asked(
    address: str, kept: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    def opened(*_: object, **__: object) -> Wire:
        return Wire()

    monkeypatch.setattr("dashboard.sweeping.connection.open_port", opened)
    found = recorded(address, None, {"virtual": opened}, SystemClock())  # type: ignore[dict-item]
    opener = found[address.partition(":")[0]]
    made = opener(address, 115200)
    assert isinstance(made, RecordingTransport) == kept


def test_names_of_people_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(getpass, "getuser", lambda: "anamaria")
    monkeypatch.setattr(platform, "node", lambda: "anas-bench.example")
    monkeypatch.setattr(Path, "home", lambda: Path("/home/anamaria"))
    said = without_names(
        "in /home/anamaria/x.py on anas-bench by Anamaria; anamarias is a word; Bo was there",
        ["Bo"],
    )
    assert said == (
        "in ~/x.py on (left out) by (left out); anamarias is a word; (left out) was there"
    )


def test_a_report_holds_versions_profile_failure_and_last_bytes() -> None:
    wire = keep_last_bytes(Wire(), SystemClock())  # type: ignore[arg-type]
    wire.write(b"sweep \xff\x1b\r")
    wire.read(1)
    wire.close()
    note_defect(ZeroDivisionError("here"), "testing")
    note_defect(ZeroDivisionError("Bo was there"), "testing")
    text = fault_report("scpi-ascii", leave_out=["Bo"])
    assert "Bo was" not in text
    assert not missing_words(
        text, "bandwright", "Python", "numpy", "[words", "ZeroDivisionError", "sent", "sweep", "ok"
    )
    assert "> sweep \\xff\\x1b\\r" in text
    assert all(line.isprintable() for line in text.splitlines())


@pytest.fixture
def reporting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., int]:
    """Runs the command in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    return lambda *options: main(["report-a-fault", *options])


@pytest.mark.parametrize("answer", ["y", "", "n"])
def test_the_report_is_shown_before_it_is_kept(
    reporting: Callable[..., int],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    answer: str,
) -> None:
    shown_before: list[str] = []

    def asked(*_: object) -> str:
        shown_before.append(capsys.readouterr().out)
        assert not (tmp_path / "fault.txt").exists()
        return answer

    monkeypatch.setattr("builtins.input", asked)
    assert reporting("--output", "fault.txt") == 0
    assert "== Versions ==" in shown_before[0]
    assert (tmp_path / "fault.txt").exists() == (answer == "y")
    if answer == "y":
        assert (tmp_path / "fault.txt").read_text(encoding="utf-8") in shown_before[0]


def test_with_nobody_to_read_it_nothing_is_kept_unless_that_is_said(
    reporting: Callable[..., int],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def nobody(*_: object) -> str:
        raise EOFError

    monkeypatch.setattr("builtins.input", nobody)
    assert reporting("--output", "fault.txt") == 2
    assert not missing_words(capsys.readouterr().err, "terminal", "--yes")
    assert not (tmp_path / "fault.txt").exists()
    assert reporting("--output", "fault.txt", "--yes") == 0
    assert (tmp_path / "fault.txt").exists()
    assert reporting("--output", "fault.txt", "--yes") == 2, "nothing is written over"


def test_what_is_not_there_is_named(
    reporting: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    assert reporting("--profile", "none") == 2
    assert not missing_words(capsys.readouterr().err, "no profile", "none")
    assert reporting("--recording", "none.jsonl") == 2
    assert not missing_words(capsys.readouterr().err, "no file", "none.jsonl")
