"""Ports that pyserial opens: devices, sockets, and whatever else it has a URL for."""

from __future__ import annotations

import contextlib
from typing import Literal

import serial

from acquire.clock import Clock
from acquire.errors import PortError
from acquire.port.port_errors import faults_named

SLICE_S = 0.05
"""Longest a read blocks at once, so that whoever interrupts a conversation is heard."""
WRITE_TIMEOUT_S = 5.0
"""An analyzer that takes nothing for so long has hung, or holds back by flow control."""


def open_serial(address: str, baud_rate: int, clock: Clock) -> SerialTransport:
    """Open a device or a pyserial URL, for this program alone where the system allows that.

    Raises PortError, which tells busy, forbidden and absent apart and names the cure.
    """
    with faults_named(address, opening=True):
        port = serial.serial_for_url(
            address,
            baudrate=baud_rate,
            timeout=SLICE_S,
            write_timeout=WRITE_TIMEOUT_S,
            exclusive=True,
        )
    kind = SocketTransport if address.startswith("socket:") else SerialTransport
    return kind(address, port, clock)


class SerialTransport:
    """A port that pyserial opened."""

    kind: Literal["port", "virtual", "replay"] = "port"

    def __init__(self, address: str, port: serial.Serial, clock: Clock) -> None:
        self.address = address
        self._port = port
        self._clock = clock

    def write(self, data: bytes) -> None:
        """Send bytes; returns once the system has taken them."""
        self._port.write(data)

    def read(self, timeout_s: float) -> bytes:
        """Return what has arrived, at least one byte; b"" once so many seconds have passed."""
        end_s = self._clock.monotonic() + timeout_s
        while True:
            piece = self._read_waiting()
            if piece or self._clock.monotonic() >= end_s:
                return piece

    def _read_waiting(self) -> bytes:
        """Whatever waits, or the first byte to come within a slice."""
        return bytes(self._port.read(self._port.in_waiting or 1))

    def discard(self) -> None:
        """Throw away what has arrived."""
        self._port.reset_input_buffer()

    def close(self) -> None:
        """Close the port; one that has gone is closed all the same."""
        with contextlib.suppress(PortError), faults_named(self.address):
            self._port.close()


class SocketTransport(SerialTransport):
    """A socket that pyserial opened: it never says more than "one byte waits".

    Reading byte by byte would cost a sweep of 1601 points a third of a second, so whatever
    waits is taken without waiting, once the first byte is there.
    """

    def _read_waiting(self) -> bytes:
        self._port.timeout = SLICE_S
        first: bytes = self._port.read(1)
        if not first:
            return b""
        self._port.timeout = 0
        return bytes(first + self._port.read(65536))
