"""Where POSIX's own modules are not there all works but the pseudo-terminal, which tests use."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from acquire.errors import PortError
from acquire.port.port_errors import faults_named
from acquire.port.port_list import PortInfo, RememberedPort, list_ports
from tests.counts import PATIENCE_S
from tests.guards.house import syntax_tree

TOP = Path(__file__).parents[2]
PACKAGES = ("acquire", "calibration", "acceptance", "replay", "dashboard")
ABSENT = {"fork", "forkpty", "openpty", "ttyname", "getuid", "geteuid", "getpgid", "uname", "chown"}
"""What the module `os` lacks on Windows [memory: "Availability" in its manual]."""
SCRIPT = Path(__file__).with_name("without_posix.py")


@pytest.mark.process
def test_the_whole_job_is_done_without_posix(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-W", "error", str(SCRIPT), str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
        env={**os.environ, "XDG_DATA_HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)},
    )
    assert done.stderr == ""
    assert int(re.search(r"(\d+) modules", done.stdout)[1]) > 150  # type: ignore[index]
    assert "51 points" in done.stdout
    for command in ("tour", "bands", "ports"):
        assert f"{command} 0" in done.stdout


@pytest.mark.slow
def test_nothing_of_os_is_used_that_windows_lacks() -> None:
    used = [
        (path.relative_to(TOP).as_posix(), node.attr)
        for package in PACKAGES
        for path in (TOP / package).rglob("*.py")
        for node in ast.walk(syntax_tree(path))
        if isinstance(node, ast.Attribute)
        and isinstance(node.value, ast.Name)
        and node.value.id == "os"
        and node.attr in ABSENT
    ]
    assert used == [
        ("replay/virtual_analyzer/hosting.py", "ttyname")
    ]  # on_pty, which says that it is POSIX only


def com(device: str, serial: str = "7") -> SimpleNamespace:
    return SimpleNamespace(
        device=device, description="USB", vid=0x1209, pid=1, serial_number=serial
    )


def test_com_ports_stand_in_the_order_of_their_numbers() -> None:
    listed = list_ports(lambda: [com("COM10"), com("COM3"), com("COM1")])
    assert [each.device for each in listed] == ["COM1", "COM3", "COM10"]
    linux = list_ports(lambda: [com("/dev/ttyUSB10"), com("/dev/ttyUSB9"), com("/dev/ttyACM0")])
    assert [each.device for each in linux] == ["/dev/ttyACM0", "/dev/ttyUSB9", "/dev/ttyUSB10"]


def test_a_unit_that_became_another_com_port_is_found() -> None:
    ports: list[PortInfo] = [PortInfo("COM3", "USB", "1209:0001", "7")]
    remembered = RememberedPort("COM3", lambda: ports)
    assert remembered.address() == "COM3"
    ports[:] = [PortInfo("COM3", "USB", "1209:0001", "8"), PortInfo("COM12", "", "1209:0001", "7")]
    assert remembered.address() == "COM12"


def test_a_port_is_named_in_small_letters_as_well() -> None:
    ports = [PortInfo("COM3", "USB", "1209:0001", "7")]
    remembered = RememberedPort("com3", lambda: ports)
    assert remembered.address() == "com3"
    ports[:] = [PortInfo("COM4", "USB", "1209:0001", "7")]
    assert remembered.address() == "COM4"


# What pyserial 3.5 raises on Windows [read: serial/serialwin32.py]; system texts [memory].
@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "could not open port 'COM5': PermissionError(13, 'Access is denied.', None, 5)",
            "COM5 is in use by another program",
        ),
        (
            "could not open port 'COM5': FileNotFoundError(2, 'The system cannot find the file "
            "specified.', None, 2)",
            "There is no port COM5",
        ),
        (
            "Cannot configure port, something went wrong. Original message: OSError(22, 'A device "
            "attached to the system is not functioning.', None, 31)",
            "COM5 cannot be set up",
        ),
        (
            "could not open port 'COM5': OSError(22, 'The semaphore timeout period has expired.')",
            "",
        ),
    ],
)
def test_what_windows_says_of_a_port_is_told_with_its_cure(text: str, sentence: str) -> None:
    from serial import SerialException

    with pytest.raises(PortError) as told, faults_named("COM5", opening=True):
        raise SerialException(text)
    assert str(told.value).startswith(sentence or "COM5 cannot be opened")
