"""Which profile does the analyzer at a port understand? Asked with the least that can do harm."""

from __future__ import annotations

import threading
from collections.abc import Mapping

from acquire.analyzer.profile import FAMILIES, Profile
from acquire.clock import Clock
from acquire.dialect import Ask, Dialect
from acquire.errors import NoReplyError, ReplyError
from acquire.port.transport import Line, Opener, Transport, open_port
from acquire.sweep import SweepRequest

PROBE_REPLY_S = 1.0
"""Longest wait for a reply while it is not known how an analyzer talks."""
PROBE_POINTS = 11
"""Points of the short sweep that shows whether a profile's words are understood."""
PROBE_STEP_HZ = 1e6


def detect_profile(
    address: str,
    profiles: Mapping[str, Profile],
    openers: Mapping[str, Opener],
    clock: Clock,
    interrupted: threading.Event | None = None,
) -> tuple[Transport, Profile]:
    """Open a port and find the first profile by which the analyzer says who it is and sweeps.

    Family by family, in the order that can do least harm (`acquire.analyzer.profile.FAMILIES`).
    Profiles that greet an analyzer alike are not tried again once it has not answered.
    Raises PortError where the port cannot be opened, ReplyError where an analyzer answered but
    could not be made to sweep, NoReplyError where none answered.
    """
    order = list(FAMILIES)
    remaining = sorted(profiles.values(), key=lambda each: (order.index(each.family), each.name))
    unheard: set[tuple[int, Ask, Ask]] = set()
    answered = ""
    transport: Transport | None = None
    baud_rate = 0
    try:
        for profile in remaining:
            dialect = _hasty(profile).dialect()
            greeting = (profile.baud_rate, next(dialect.resynchronise()), next(dialect.identify()))
            if greeting in unheard:
                continue
            if transport is None or baud_rate != profile.baud_rate:
                if transport is not None:
                    transport.close()
                baud_rate = profile.baud_rate
                transport = open_port(address, baud_rate=baud_rate, openers=openers, clock=clock)
            line = Line(transport, clock, interrupted)
            try:
                line.converse_guarded(dialect.resynchronise())
                identity = line.converse_guarded(dialect.identify())
            except (NoReplyError, ReplyError):
                unheard.add(greeting)
                continue
            fault = _fault_of_sweep(line, dialect, profile)
            if fault is None:
                found, transport = transport, None
                return found, profile
            answered = answered or (
                f"By profile {profile.name} the analyzer at {address} says that it is "
                f'"{identity}", '
                f"but its sweep failed: {fault}"
            )
    finally:
        if transport is not None:
            transport.close()
    if answered:
        raise ReplyError(answered)
    raise NoReplyError(
        f"No analyzer answered at {address}; all {len(profiles)} profiles were tried. Check "
        "that it is switched on and that this is its port. If so, write a profile for it "
        "(docs/wiring-a-profile.md)."
    )


def _fault_of_sweep(line: Line, dialect: Dialect, profile: Profile) -> str | None:
    try:
        line.converse_guarded(dialect.sweep(_short_sweep(profile)))
    except (NoReplyError, ReplyError) as fault:
        return str(fault)
    return None


def _hasty(profile: Profile) -> Profile:
    """The same profile with little patience."""
    reply_s = min(profile.timing.reply_s, PROBE_REPLY_S)
    timing = profile.timing.model_copy(update={"reply_s": reply_s})
    return profile.model_copy(update={"timing": timing})


def _short_sweep(profile: Profile) -> SweepRequest:
    limits = profile.limits
    points = max(limits.fewest_points, min(PROBE_POINTS, limits.points))
    step_hz = min(PROBE_STEP_HZ, (limits.high_hz - limits.low_hz) / (points - 1))
    stop_hz = limits.low_hz + (points - 1) * step_hz
    return SweepRequest(limits.low_hz, min(stop_hz, limits.high_hz), points)
