"""One analyzer on one port: who it is, its sweeps, and getting back in step with it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Self, TypeVar

from acquire.analyzer.outliers import ReferenceSweeps, Take, without
from acquire.analyzer.profile import Profile
from acquire.analyzer.profile_detection import detect_profile
from acquire.clock import Clock, SystemClock
from acquire.coverage.spans import span_words
from acquire.coverage.sweep_coverage import join
from acquire.dialect import Steps
from acquire.errors import (
    BandwrightError,
    CoverageError,
    NoReplyError,
    ReplyDefectError,
    ReplyError,
)
from acquire.port.port_list import Listing, list_ports, usb_sum
from acquire.port.reply_timeout import ReplyTimeouts
from acquire.port.transport import NO_OPENERS, Line, Opener, Transport, defects_named, open_port
from acquire.sweep import Plane, Reading, Source, Sweep, SweepRequest

T = TypeVar("T")

TRIES = 3
"""How often a pass is tried before its error is told."""
LONGEST_IDENTITY_LETTERS = 120
REMEMBERED_PASSES = 64
"""Passes of which the last reading is kept, to hold the next against."""


@dataclass(frozen=True, slots=True)
class Counters:
    """What happened on the line since the analyzer was opened."""

    sweeps: int = 0
    """Whole sweeps, over all their passes."""
    retries: int = 0
    """Passes and questions that were tried again."""
    resyncs: int = 0
    """Times the analyzer was brought to where it waits for a command, the first time included."""
    timeouts: int = 0
    """Replies that did not come in time."""
    garbled: int = 0
    """Replies that were not what the profile promises, and so were not believed."""
    suspect: int = 0
    """Passes with a number that only another sweep could vouch for
    (`acquire.analyzer.outliers`)."""
    losses: int = 0
    """Times the analyzer was lost, and its port opened anew."""

    @property
    def words(self) -> str:
        """What went wrong and was put right, in a sentence; empty where nothing did.

        Doubted passes are not in it: an antenna that is bent while it is swept makes some too.
        """
        events = [
            _times(self.losses, "the analyzer was lost", "the analyzer was lost {} times"),
            _times(self.timeouts, "a reply did not come", "{} replies did not come"),
            _times(self.garbled, "a reply was not believed", "{} replies were not believed"),
        ]
        listed = ", ".join(each for each in events if each)
        return f"On the line since it was opened: {listed}." if listed else ""

    def __add__(self, other: Counters) -> Counters:
        """Both taken together."""
        return Counters(
            *(getattr(self, each.name) + getattr(other, each.name) for each in fields(self))
        )


class Analyzer:
    """An analyzer that has been met: brought to where it waits, and asked who it is.

    For one thread; only `interrupt` may come from another.
    """

    def __init__(
        self,
        transport: Transport,
        profile: Profile,
        clock: Clock | None = None,
        reply_timeouts: ReplyTimeouts | None = None,
        interrupted: threading.Event | None = None,
        *,
        usb_sum: str = "",
    ) -> None:
        """Meet the analyzer at the other end of a transport, which is closed if that fails.

        patience : what earlier connections to the same analyzer taught of its silences.
        interrupted : what `interrupt` sets; set by another, it ends the meeting too.
        usb_sum : stands for the USB device at the port, where there is one.
        Raises PortError, NoReplyError or ReplyError after `TRIES` tries.
        """
        self.transport = transport
        self.profile = profile
        self.counters = Counters()
        self._clock = SystemClock() if clock is None else clock
        self._interrupted = threading.Event() if interrupted is None else interrupted
        self._line = Line(transport, self._clock, self._interrupted, reply_timeouts=reply_timeouts)
        self._dialect = profile.dialect()
        self._usb_sum = usb_sum
        self._references: dict[SweepRequest, ReferenceSweeps] = {}
        self._met = False
        try:
            self.identity = cleaned(self._tried(self._dialect.identify))
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Self:
        """`with` lets go of the port at its end."""
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def source(self) -> Source:
        """Where this analyzer's readings come from."""
        return Source(
            kind=self.transport.kind,
            analyzer=self.identity,
            profile=self.profile.name,
            port=self.transport.address,
            analyzer_corrected=self.profile.analyzer_corrected,
            usb_sum=self._usb_sum,
        )

    def sweep(self, passes: Sequence[SweepRequest]) -> Sweep:
        """Take all passes and join them; raw readings, stamped when the last one ended.

        Raises CoverageError where the profile says that the analyzer cannot do that, PortError
        where the port goes away, and NoReplyError or ReplyError where a pass fails for
        the third time. Raises StoppedError after `interrupt`.
        """
        if not passes:
            raise CoverageError("A sweep needs at least one pass. Choose what to sweep.")
        for request in passes:
            self._require_within_limits(request)
        readings = [self._take(request) for request in passes]
        with defects_named(self.transport.address):
            reading = join(readings)
        self._count(sweeps=1)
        return Sweep(
            frequency_hz=reading.frequency_hz,
            reflection=reading.reflection,
            plane=Plane.RAW,
            taken_at=self._clock.now(),
            sequence=self.counters.sweeps,
            source=self.source,
            request=tuple(passes),
        )

    def interrupt(self) -> None:
        """Make the conversation in progress, and every later one, end with StoppedError."""
        self._interrupted.set()

    def close(self) -> None:
        """Let go of the port; closing twice does no harm."""
        self.transport.close()

    def _take(self, request: SweepRequest) -> Reading:
        """Take one pass; what one reply cannot vouch for is held against another."""
        references = self._references_for(request)
        try:
            reading = self._take_confirmed(request, references)
        except BandwrightError:
            references.give_up()
            raise
        references.accept(reading)
        return reading

    def _take_confirmed(self, request: SweepRequest, references: ReferenceSweeps) -> Reading:
        for tries_left in range(TRIES - 1, -1, -1):
            began_s = self._clock.monotonic()
            reading = self._tried(lambda: self._dialect.sweep(request))
            take = Take(reading, began_s, self._clock.monotonic())
            try:
                with defects_named(self.transport.address):
                    whole, points = references.suspect(request, take)
            except ReplyDefectError:
                references.forget()  # it may be what they were held against
                self._count(garbled=1)
                if not tries_left:
                    raise
                self._count(retries=1)
                continue
            if not (whole or points):
                return reading
            self._count(suspect=1)
            if tries_left:
                continue
            if whole:
                raise ReplyError(
                    f"The analyzer sent different frequencies each of {TRIES} times, or the same "
                    "point throughout. Check the cable, and that no other program uses the port."
                )
            return without(reading, points)
        raise AssertionError("unreachable")

    def _references_for(self, request: SweepRequest) -> ReferenceSweeps:
        """What speaks for a reading of that; of the requests longest ago nothing is kept."""
        references = self._references.pop(request, None) or ReferenceSweeps(
            any_order=self._dialect.any_order
        )
        self._references[request] = references
        if len(self._references) > REMEMBERED_PASSES:
            del self._references[next(iter(self._references))]
        return references

    def _tried(self, begin: Callable[[], Steps[T]]) -> T:
        """Hold a conversation; after a bad reply get back in step and begin again, a few times."""
        for tries_left in range(TRIES - 1, -1, -1):
            try:
                if not self._met:
                    self._count(resyncs=1)
                    self._line.converse_guarded(self._dialect.resynchronise())
                    self._met = True
                return self._line.converse_guarded(begin())
            except (NoReplyError, ReplyError) as fault:
                self._met = False
                timed_out = isinstance(fault, NoReplyError)
                self._count(timeouts=int(timed_out), garbled=int(not timed_out))
                if not tries_left:
                    raise
                self._count(retries=1)
        raise AssertionError("unreachable")

    def _require_within_limits(self, request: SweepRequest) -> None:
        limits = self.profile.limits
        if request.start_hz < limits.low_hz or request.stop_hz > limits.high_hz:
            raise CoverageError(
                f"{span_words((request.start_hz, request.stop_hz))} lies beyond the analyzer's "
                f"{limits.words}, as profile {self.profile.name} gives them. Choose a range within."
            )
        if not limits.fewest_points <= request.points <= limits.points:
            raise CoverageError(
                f"{request.points} points a pass are outside the {limits.fewest_points} to "
                f"{limits.points} that profile {self.profile.name} allows. Split the "
                "range into passes."
            )

    def _count(self, **more: int) -> None:
        self.counters += Counters(**more)


def open_analyzer(
    address: str,
    *,
    profile: Profile | None = None,
    profiles: Mapping[str, Profile],
    openers: Mapping[str, Opener] = NO_OPENERS,
    clock: Clock | None = None,
    reply_timeouts: ReplyTimeouts | None = None,
    interrupted: threading.Event | None = None,
    listing: Listing = list_ports,
) -> Analyzer:
    """Open a port and meet the analyzer there.

    profile : how the analyzer talks. None: each of `profiles` is tried until one is understood; see
        `acquire.analyzer.profile_detection`.
    listing : where the system's ports come from, to see which USB device it is.
    Raises PortError where the port cannot be opened, and NoReplyError or ReplyError where the
    analyzer does not answer as the profile promises.
    """
    clock = SystemClock() if clock is None else clock
    if profile is not None:
        transport = open_port(address, baud_rate=profile.baud_rate, openers=openers, clock=clock)
    else:
        transport, profile = detect_profile(address, profiles, openers, clock, interrupted)
    device = usb_sum(address, listing) if transport.kind == "port" else ""
    return Analyzer(transport, profile, clock, reply_timeouts, interrupted, usb_sum=device)


def _times(count: int, once: str, often: str) -> str:
    return "" if count == 0 else once if count == 1 else often.format(count)


def cleaned(identity: str) -> str:
    """What an analyzer says it is, as one printable line of bearable length."""
    printable = "".join(c if c.isprintable() else " " for c in identity)
    return " ".join(printable.split())[:LONGEST_IDENTITY_LETTERS] or "unit without a name"
