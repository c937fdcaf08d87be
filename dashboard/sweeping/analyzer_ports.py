"""The ports that an analyzer may be at: listed without opening any, asked, and made ready to open.

Only what is listed may be asked or chosen, the address that the program was started with, and the
virtual bench: a page could otherwise have this machine open any file or host.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from acquire.analyzer.connected_analyzer import Analyzer, open_analyzer
from acquire.analyzer.profile import Profile
from acquire.analyzer.reconnection import Reopening
from acquire.clock import Clock
from acquire.errors import BandwrightError
from acquire.port.port_list import Listing, list_ports
from acquire.printable_text import plain
from dashboard.errors import NotNowError
from dashboard.sweeping.connection import recorded
from replay.address_schemes import openers
from replay.bench_profile import profiles_at
from replay.virtual_bench.simulated_bench import VirtualBench


class Interruption(threading.Event):
    """Ends one connection's conversations: set by itself, or with everything else."""

    def __init__(self, everything: threading.Event) -> None:
        super().__init__()
        self._everything = everything

    def is_set(self) -> bool:
        """True once either was set."""
        return super().is_set() or self._everything.is_set()


@dataclass(frozen=True, slots=True)
class Practice:
    """The virtual analyzer that is offered to practise on."""

    address: str
    profile: Profile
    kit: str
    """The name of its standards' kit."""


@dataclass(frozen=True, slots=True)
class ListedPort:
    """One port, as far as it is known without opening it, and what it answered when asked."""

    address: str
    description: str
    usb_id: str
    serial_number: str
    practice: bool = False
    answer: str = ""
    """What came of asking it; empty where it was not asked."""
    answered: bool = False
    """True where an analyzer answered."""
    asking: bool = False
    """True while it is being asked."""


@dataclass(frozen=True, slots=True)
class ReadyPort:
    """A port that was chosen, ready to be opened."""

    address: str
    connect: Callable[[], Analyzer]
    leave: Callable[[], None]
    """Ends whatever is being said there."""
    virtual: VirtualBench | None = None
    """What is on the port of a virtual analyzer."""


class AnalyzerPorts:
    """All of them, for one bench. Every method may be called from any thread."""

    def __init__(
        self,
        *,
        profile: Profile | None,
        profiles: Mapping[str, Profile],
        practice: Practice,
        given: str = "",
        virtual: VirtualBench | None = None,
        record: Path | None = None,
        clock: Clock,
        stopping: threading.Event,
        listing: Listing = list_ports,
    ) -> None:
        """profile : how the analyzer talks, where the user named that; else each of `profiles`.

        given : the address that the program was started with; empty where it was not. virtual :
            what is on its port, where it is a virtual analyzer's.
        record : a new file for every byte; later ports get files of their own beside it.
        stopping : ends every conversation.
        """
        self.practice = practice
        self._profile = profile
        self._profiles = profiles
        self._given = given
        self._record = record
        self._clock = clock
        self._stopping = stopping
        self._listing = listing
        self._answers: dict[str, tuple[str, bool]] = {}
        self._virtual = {} if virtual is None else {given: virtual}
        self._opened = 1 if given else 0
        self._asking = threading.Lock()
        self._asked_now = ""

    def listed(self) -> list[ListedPort]:
        """What there is now, USB first and the virtual bench last; none is opened.

        Raises OSError where the system cannot list its ports.
        """
        ports = sorted(self._listing(), key=lambda port: not port.usb_id)  # most are on USB
        found = [
            ListedPort(each.device, plain(each.description), each.usb_id, plain(each.serial_number))
            for each in ports
        ]
        named = {each.address for each in found} | {self.practice.address}
        if self._given and self._given not in named:
            found.insert(0, ListedPort(self._given, "named when the program was started", "", ""))
        found.append(ListedPort(self.practice.address, "", "", "", practice=True))
        return [self._with_answer(each) for each in found]

    def ask(self, address: str) -> str:
        """Open one port, ask who is there, and let go of it; returns that in a sentence or two.

        Raises NotNowError for a port that is not listed or while another is asked, else what
        opening raises.
        """
        self._require_listed(address)
        if address == self.practice.address:
            raise NotNowError("The virtual bench needs no asking. Choose it to practise.")
        if not self._asking.acquire(blocking=False):
            raise NotNowError("Another port is being asked. Wait for its answer.")
        self._asked_now = address
        try:
            words = self._asked(address)
        except BandwrightError as error:
            self._answers[address] = (str(error), False)
            raise
        finally:
            self._asked_now = ""
            self._asking.release()
        self._answers[address] = (words, True)
        return words

    def ready(self, address: str) -> ReadyPort:
        """Make a port ready to be opened. Raises NotNowError for one that is not listed."""
        self._require_listed(address)
        self._opened += 1
        practises = address == self.practice.address
        if practises and address not in self._virtual:
            self._virtual[address] = VirtualBench(self._clock, kit=self.practice.kit)
        virtual = self._virtual.get(address)
        record = self._record
        if record is not None and self._opened > 1:
            record = record.with_stem(f"{record.stem}-port-{self._opened}")
        interruption = Interruption(self._stopping)
        connect = Reopening(
            address,
            profile=self.practice.profile if practises else self._profile,
            profiles=profiles_at(address, self._profiles),
            openers=recorded(address, record, openers(virtual, self._clock), self._clock),
            clock=self._clock,
            interrupted=interruption,
            listing=self._listing,
        )
        return ReadyPort(address, connect, interruption.set, virtual)

    def _asked(self, address: str) -> str:
        known = recorded(address, None, openers(None, self._clock), self._clock)
        analyzer = open_analyzer(
            address,
            profile=self._profile,
            profiles=profiles_at(address, self._profiles),
            openers=known,
            clock=self._clock,
            interrupted=Interruption(self._stopping),
            listing=self._listing,
        )
        try:
            profile = analyzer.profile
            words = f'The analyzer here says that it is "{analyzer.identity}". It sweeps '
            words += f"{profile.limits.words}."
            if profile.unproven:
                words += f" Profile {profile.name} is not yet proven on hardware."
            return words
        finally:
            analyzer.close()

    def _with_answer(self, port: ListedPort) -> ListedPort:
        words, answered = self._answers.get(port.address, ("", False))
        asking = port.address == self._asked_now
        return replace(port, answer=words, answered=answered, asking=asking)

    def _require_listed(self, address: str) -> None:
        if address not in {each.address for each in self.listed()}:
            raise NotNowError(
                f"{plain(address)} is not in the list any more. Plug the analyzer in, and choose "
                "a port from the list."
            )
