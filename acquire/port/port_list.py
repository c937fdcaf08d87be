"""The serial ports there are, listed without touching any, and found again by what is in them."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import serial.tools.list_ports
from serial.tools.list_ports_common import ListPortInfo


@dataclass(frozen=True, slots=True)
class PortInfo:
    """One serial port, as the operating system describes it."""

    device: str
    """What to open, as "/dev/ttyACM0" or "COM3"."""
    description: str
    usb_id: str
    """Vendor and product, four hexadecimal digits each, as "0483:5740"; empty for no USB."""
    serial_number: str
    """Of the USB device; empty if it has none."""


Listing = Callable[[], list[PortInfo]]


def system_ports() -> Iterable[ListPortInfo]:
    """The ports as pyserial lists them."""
    return serial.tools.list_ports.comports()


def list_ports(
    listing: Callable[[], Iterable[ListPortInfo]] = system_ports,
) -> list[PortInfo]:
    """List the serial ports, in order of their names; none of them is opened.

    listing : where the list comes from, the operating system by default.
    """
    return sorted(
        (
            PortInfo(
                device=port.device,
                description="" if port.description in {None, "n/a"} else str(port.description),
                usb_id="" if port.vid is None else f"{port.vid:04x}:{port.pid or 0:04x}",
                serial_number=port.serial_number or "",
            )
            for port in listing()
        ),
        key=lambda port: _natural(port.device),
    )


def _natural(name: str) -> list[tuple[int, str]]:
    """An order in which COM10 comes after COM9."""
    parts = re.findall(r"\d+|\D+", name)
    return [(int(part), "") if part.isdigit() else (-1, part) for part in parts]


def usb_sum(address: str, listing: Listing = list_ports) -> str:
    """Four hexadecimal digits that stand for the USB device at an address, or nothing.

    They are the beginning of a SHA-256 over its USB ids and serial number. Two that differ are two
    devices; of two devices one pair in 65,536 is alike, so that nobody who reads a record finds the
    number out by trying them all. Empty where the address is no USB port, the device has no serial
    number, or the system cannot list its ports.
    """
    with contextlib.suppress(OSError, ImportError):
        here = _at(address, listing())
        if here is not None and here.usb_id and here.serial_number:
            identity = f"{here.usb_id} {here.serial_number}"
            return hashlib.sha256(identity.encode(errors="replace")).hexdigest()[:4]
    return ""


def _at(address: str, ports: Iterable[PortInfo]) -> PortInfo | None:
    """The port that an address means: by its name, or by a link to it."""
    # Windows tells no small letters from capitals in the name of a port.
    named = {address, address.upper(), os.path.realpath(address)}
    return next((port for port in ports if port.device in named), None)


class RememberedPort:
    """An address, and what was plugged in there: found again when its port's name changes."""

    def __init__(self, address: str, listing: Listing = list_ports) -> None:
        self._address = address
        self._listing = listing
        self._known: PortInfo | None = None

    def address(self) -> str:
        """Where the analyzer is now.

        The address itself while the analyzer seen there first, or none, is there. Else the one
        other port with the same USB ids and serial number; where several fit, or none, the
        address as it was, and opening it will say what is wrong.
        """
        ports = self._listing()
        here = _at(self._address, ports)
        if self._known is None:
            self._known = here if here is not None and here.usb_id else None
            return self._address
        if here is not None and _same_device(here, self._known):
            return self._address
        moved = [port.device for port in ports if _same_device(port, self._known)]
        if len(moved) == 1:
            self._address = moved[0]
        return self._address


def _same_device(one: PortInfo, other: PortInfo) -> bool:
    return (one.usb_id, one.serial_number) == (other.usb_id, other.serial_number)
