"""`live` and `demo` serve the page, say where it is in one line, and end quietly."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import Any

import pytest

TOP = Path(__file__).parents[3]
# A shell that runs tests in the background makes its children deaf to Ctrl-C.
PROGRAM = (
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from dashboard.cli import main; sys.exit(main())"
)
ADDRESS = re.compile(rb"The page is at (http://127\.0\.0\.1:\d+/)")


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C cannot be sent to one process there")
@pytest.mark.parametrize("command", [["demo"], ["live", "--port", "virtual:scpi"]])
@pytest.mark.parametrize("end", [signal.SIGINT, signal.SIGTERM])
def test_the_page_is_served_until_it_is_stopped_and_that_is_status_0(
    tmp_path: Path, command: list[str], end: signal.Signals
) -> None:
    served = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, *command, "--page-port", "0", "--no-open"],
        cwd=TOP,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert served.stdout is not None
    try:
        found = next((hit for line in served.stdout if (hit := ADDRESS.search(line))), None)
        assert found is not None
        with urllib.request.urlopen(found[1].decode(), timeout=30) as page:  # noqa: S310 - our own
            assert page.status == 200
        served.send_signal(end)
        _, complaint = served.communicate(timeout=30)
    finally:
        served.kill()
        served.communicate()
    assert complaint == b""
    assert served.returncode == 0


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
