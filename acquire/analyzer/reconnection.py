"""The same analyzer again, after it was unplugged, as often as it takes."""

from __future__ import annotations

import threading
from collections.abc import Mapping

from acquire.analyzer.connected_analyzer import Analyzer, open_analyzer
from acquire.analyzer.profile import Profile
from acquire.clock import Clock
from acquire.port.port_list import Listing, RememberedPort, list_ports
from acquire.port.reply_timeout import ReplyTimeouts
from acquire.port.transport import NO_OPENERS, Opener


class Reopening:
    """Opens one analyzer, again and again: under its port's new name, with the profile found once.

    What a `Stream` calls to connect. Raises what `open_analyzer` raises.
    """

    def __init__(
        self,
        address: str,
        *,
        profile: Profile | None = None,
        profiles: Mapping[str, Profile],
        openers: Mapping[str, Opener] = NO_OPENERS,
        clock: Clock | None = None,
        listing: Listing = list_ports,
        interrupted: threading.Event | None = None,
    ) -> None:
        """interrupted : ends every conversation with StoppedError, also in the midst of opening."""
        self._port = RememberedPort(address, listing)
        self._listing = listing
        self._profile = profile
        self._profiles = profiles
        self._openers = openers
        self._clock = clock
        self._reply_timeouts = ReplyTimeouts()
        self._interrupted = interrupted

    def __call__(self) -> Analyzer:
        """Open the analyzer where it is now."""
        analyzer = open_analyzer(
            self._port.address(),
            profile=self._profile,
            profiles=self._profiles,
            openers=self._openers,
            clock=self._clock,
            reply_timeouts=self._reply_timeouts,
            interrupted=self._interrupted,
            listing=self._listing,
        )
        self._profile = analyzer.profile
        return analyzer
