"""`live` and `demo` serve the page, say where it is in one line, and end quietly."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from itertools import islice
from pathlib import Path
from typing import Any

import pytest
from websockets.sync.client import connect

from tests.counts import PATIENCE_S

TOP = Path(__file__).parents[4]
# A shell that runs tests in the background makes its children deaf to Ctrl-C.
PROGRAM = (
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from dashboard.command_line.main import main; sys.exit(main())"
)
ADDRESS = re.compile(rb"The page is at (http://127\.0\.0\.1:\d+/)")


@pytest.mark.process
@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C cannot be sent to one process there")
@pytest.mark.parametrize("command", [["demo"], ["live", "--port", "virtual:scpi"]])
@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM])
def test_the_page_is_served_until_it_is_stopped_and_that_is_status_0(
    tmp_path: Path, command: list[str], end: signal.Signals
) -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, *command, "--page-port", "0", "--no-open"],
        cwd=TOP,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    try:
        found = next((hit for line in process.stdout if (hit := ADDRESS.search(line))), None)
        assert found is not None
        with urllib.request.urlopen(found[1].decode(), timeout=PATIENCE_S) as page:  # noqa: S310 - our own
            assert page.status == 200
        process.send_signal(end)
        _, complaint = process.communicate(timeout=PATIENCE_S)
    finally:
        process.kill()
        process.communicate()
    assert complaint == b""
    assert process.returncode == 0


@pytest.mark.parametrize(
    ("address", "why"),
    [
        ("virtual:?seed=x", "seed=x is no number"),
        ("virtual:?colour=1", "no option 'colour'"),
        ("virtual:nothing", "nothing"),
        ("virtual:?pigtail=none-such", "none-such"),
    ],
)
def test_an_address_that_no_unit_can_have_serves_no_page(
    bandwright: Any, address: str, why: str
) -> None:
    assert why in bandwright("live", "--port", address, "--no-open", "--page-port", 0).refused()


def test_a_page_port_that_is_taken_is_one_sentence(bandwright: Any) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        sentence = bandwright(
            "live", "--port", "virtual:", "--no-open", "--page-port", port
        ).refused()
    assert f"port {port}" in sentence
    assert "--page-port" in sentence


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (["--plan", "none.toml"], "none.toml"),
        (["--kit", "best"], "'best'"),
        (["--profile", "telepathy"], "telepathy"),
        (["--calibration", "none.json"], "none.json"),
        (["--record", "no/folder/r.jsonl"], "no folder"),
        (["--page-port", "99999"], "--page-port"),
    ],
)
def test_what_is_wrong_is_said_before_the_page_opens(
    bandwright: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    part: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    run = bandwright("live", "--port", "virtual:", "--no-open", *arguments)
    assert part in run.refused()


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (["--kit", "ideal"], "--kit cannot stand beside --station"),
        (["--load-db", "30"], "--load-db and --assume cannot stand"),
        (["--plan", "x.toml"], "--plan cannot stand beside --station"),
        ([], "name is missing"),
    ],
)
def test_what_a_station_locks_is_not_given_beside_it(
    bandwright: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    part: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "s.toml").write_text('plan = "p"\n', encoding="utf-8")
    run = bandwright("live", "--port", "virtual:", "--no-open", "--station", "s.toml", *arguments)
    assert part in run.refused()


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (["--share-certificate", "a.pem"], "no use without --share"),
        (["--share-name", "gauges.example"], "no use without --share"),
        (["--share", "--share-key", "a.key"], "no use without --share-certificate"),
        (["--share", "--share-certificate", "none.pem"], "no file none.pem"),
        (["--share", "--share-name", "gauges.example/\x1b[2J"], r"\x1b[2J"),
    ],
)
def test_what_is_wrong_with_the_sharing_is_said_before_the_page_opens(
    bandwright: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    part: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    run = bandwright("demo", "--no-open", "--page-port", "0", *arguments)
    assert run.status == 2
    assert part in run.err
    assert "\x1b" not in run.err


@pytest.mark.process
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such signals to send")
@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM])
def test_a_page_that_is_shared_and_looked_at_ends_with_both_its_ports_closed(
    tmp_path: Path, end: signal.Signals
) -> None:
    command = ["demo", "--share", "--page-port", "0", "--no-open"]
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, *command],
        cwd=TOP,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    try:
        text = (re.search(r"http://([\d.]+):(\d+)/", line) for line in process.stdout)
        own, shared = islice((hit for hit in text if hit), 2)
        feed = own[0].replace("http", "ws") + "feed"
        with (
            connect(feed, origin=own[0].rstrip("/")) as viewer_socket,  # type: ignore[arg-type]
            socket.create_connection((own[1], int(own[2]))) as slow,
        ):
            viewer_socket.recv(30)
            slow.sendall(b"POST /_dash-update-component HTTP/1.1\r\nHost: 127.0.0.1\r\n")
            process.send_signal(end)
            _, complaint = process.communicate(timeout=PATIENCE_S)
    finally:
        process.kill()
        process.communicate()
    assert complaint == ""
    assert process.returncode == 0
    for host, port in (own.groups(), shared.groups()):
        with pytest.raises(ConnectionRefusedError), socket.create_connection((host, int(port))):
            pass


@pytest.mark.process
@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such signals to send")
@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM])
def test_a_unit_that_says_nothing_holds_up_no_end_and_its_port_is_free(
    tmp_path: Path, end: signal.Signals
) -> None:
    import pty
    import tty

    import serial

    ours, theirs = pty.openpty()
    tty.setraw(theirs)
    path = os.ttyname(theirs)
    command = ["live", "--port", path, "--page-port", "0", "--no-open"]
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, *command],
        cwd=TOP,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    try:
        assert any(ADDRESS.search(line) for line in process.stdout)
        assert os.read(ours, 1)  # it is asking
        with pytest.raises(serial.SerialException, match="lock"):
            serial.Serial(path, exclusive=True)
        process.send_signal(end)
        _, complaint = process.communicate(timeout=PATIENCE_S)
        assert (process.returncode, complaint) == (0, b"")
        serial.Serial(path, exclusive=True).close()
    finally:
        process.kill()
        process.communicate()
        os.close(ours)
        os.close(theirs)
