"""Serial ports, listed without touching them, and a unit found again under another name."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

from acquire.port.port_list import PortInfo, RememberedPort, list_ports, usb_sum


def port(device: str, vid: int | None = None, pid: int | None = None, **more: Any) -> Any:
    """A port as pyserial describes it."""
    told = {"description": "n/a", "serial_number": None} | more
    return SimpleNamespace(device=device, vid=vid, pid=pid, **told)


def info(device: str, usb_id: str = "", serial_number: str = "") -> PortInfo:
    return PortInfo(device, "", usb_id, serial_number)


def test_ports_are_listed_in_order_with_what_the_system_knows_of_them() -> None:
    listed = list_ports(
        lambda: [
            port("COM7", 0x0483, 0x5740, description="a unit", serial_number="400"),
            port("COM1"),
            port("COM3", 0x1A86, None, description=None),
        ]
    )
    assert listed == [
        PortInfo("COM1", "", "", ""),
        PortInfo("COM3", "", "1a86:0000", ""),
        PortInfo("COM7", "a unit", "0483:5740", "400"),
    ]


class Plugs:
    """What is plugged in, from one listing to the next."""

    def __init__(self, *plugged: PortInfo) -> None:
        self.plugged = list(plugged)

    def __call__(self) -> list[PortInfo]:
        return self.plugged


def test_a_unit_is_found_under_its_ports_new_name() -> None:
    plugs = Plugs(info("ACM0", "0483:5740", "400"), info("ACM1", "0483:5740", "401"))
    remembered = RememberedPort("ACM0", plugs)
    assert remembered.address() == "ACM0"
    plugs.plugged = [info("ACM1", "0483:5740", "401"), info("ACM2", "0483:5740", "400")]
    assert remembered.address() == "ACM2"
    plugs.plugged = [info("ACM0", "0483:5740", "400")]
    assert remembered.address() == "ACM0"


def test_another_unit_under_the_old_name_is_not_taken_for_it() -> None:
    plugs = Plugs(info("ACM0", "0483:5740", "400"))
    remembered = RememberedPort("ACM0", plugs)
    remembered.address()
    plugs.plugged = [info("ACM0", "1a86:7523", ""), info("ACM1", "0483:5740", "400")]
    assert remembered.address() == "ACM1"


def test_where_several_or_none_could_be_meant_the_address_stays() -> None:
    plugs = Plugs(info("ACM0", "0483:5740", ""))
    remembered = RememberedPort("ACM0", plugs)
    remembered.address()
    plugs.plugged = [info("ACM1", "0483:5740", ""), info("ACM2", "0483:5740", "")]
    assert remembered.address() == "ACM0"
    plugs.plugged = []
    assert remembered.address() == "ACM0"


def test_an_address_that_is_no_usb_port_is_left_alone() -> None:
    plugs = Plugs(info("ttyS0"))
    remembered = RememberedPort("socket://127.0.0.1:5000", plugs)
    assert remembered.address() == "socket://127.0.0.1:5000"
    plugs.plugged = [info("ACM0", "0483:5740", "400")]
    assert remembered.address() == "socket://127.0.0.1:5000"


def test_a_usb_device_has_a_sum_that_is_its_own_and_does_not_tell_its_number(
    tmp_path: Path,
) -> None:
    device, link = str(tmp_path / "ACM0"), tmp_path / "by-id"
    link.symlink_to(device)
    plugs = Plugs(
        info(device, "0483:5740", "40012345"),
        info("ACM1", "0483:5740", "40012346"),
        info("ACM2", "1a86:7523", "40012345"),
        info("ACM3", "0483:5740", ""),
        info("ttyS0"),
    )
    sums = [usb_sum(each, plugs) for each in (device, "ACM1", "ACM2")]
    assert [len(each) for each in sums] == [4, 4, 4]
    assert len(set(sums)) == 3
    assert usb_sum(str(link), plugs) == sums[0]
    assert usb_sum("acm1", plugs) == sums[1]
    assert not any("40012345" in each for each in sums)
    for without in ("ACM3", "ttyS0", "ACM9", "socket://127.0.0.1:5000"):
        assert usb_sum(without, plugs) == ""


def test_where_ports_cannot_be_listed_nothing_is_told_of_the_device() -> None:
    def broken() -> list[PortInfo]:
        raise OSError("no such subsystem")

    assert usb_sum("ACM0", broken) == ""
