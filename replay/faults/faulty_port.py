"""What the operating system does to a port: takes it away, gives it another name, refuses it."""

from __future__ import annotations

import errno
from collections.abc import Callable

from acquire.clock import Clock
from acquire.port.port_errors import faults_named
from acquire.port.port_list import PortInfo
from replay.faults.fault_kinds import Fault, FaultQueue, Kind
from replay.faults.faulty_analyzer import FaultyAnalyzer
from replay.faults.faulty_transport import FaultyTransport
from replay.virtual_analyzer.hosting import InProcess

FAULTY_SCHEME = "faulty"
MOST_REFUSALS = 2
"""How often a port that came back may not be opened yet: the system is still setting its rights."""


class FaultyPort:
    """The port of one faulty analyzer: what `acquire.port.port_list` lists and
    `acquire.port.transport` opens."""

    def __init__(
        self,
        analyzer: FaultyAnalyzer,
        fault_queue: FaultQueue,
        clock: Clock,
        reply_end: bytes = b"",
    ) -> None:
        """reply_end : as `FaultyTransport` takes it."""
        self._analyzer = analyzer
        self._fault_queue = fault_queue
        self._clock = clock
        self._reply_end = reply_end
        self._number = 0
        self._gone_until_s = 0.0
        self._refusals = 0

    @property
    def openers(self) -> dict[str, Callable[[str, int], FaultyTransport]]:
        """The opener of its scheme."""
        return {FAULTY_SCHEME: self.open}

    @property
    def address(self) -> str:
        """What it is called now."""
        return f"{FAULTY_SCHEME}:{self._number}"

    def listing(self) -> list[PortInfo]:
        """The ports there are: this one, while it is plugged in, and one of something else."""
        ports = [PortInfo(f"{FAULTY_SCHEME}:other", "something else", "1209:0002", "")]
        if self._clock.monotonic() >= self._gone_until_s:
            ports.append(PortInfo(self.address, "a faulty analyzer", "1209:0001", "7"))
        return ports

    def open(self, address: str, _baud_rate: int) -> FaultyTransport:
        """Open it by its name; raises PortError as an operating system's error becomes one."""
        with faults_named(address, opening=True):
            if address != self.address or self._clock.monotonic() < self._gone_until_s:
                raise FileNotFoundError(errno.ENOENT, "No such file or directory", address)
            if self._refusals:
                self._refusals -= 1
                raise PermissionError(errno.EACCES, "Permission denied", address)
        inner = InProcess(self._analyzer, self._clock, address)
        return FaultyTransport(inner, self._fault_queue, self._clock, self._reply_end, self._leave)

    def _leave(self, fault: Fault) -> None:
        now_s = self._clock.monotonic()
        if fault.kind is Kind.GONE:
            self._gone_until_s = now_s + fault.lasts_s
            self._number += 1
            self._analyzer.power_cycle(self._gone_until_s)
        elif fault.kind is Kind.REFUSED:
            self._refusals = MOST_REFUSALS
