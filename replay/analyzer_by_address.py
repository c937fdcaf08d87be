"""An analyzer at any address: a port, or one of the two that are none."""

from __future__ import annotations

from pathlib import Path

from acquire.analyzer import connected_analyzer
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import load_profiles
from acquire.clock import Clock
from acquire.errors import ProfileError
from acquire.files.bounded_read import AnyPath
from replay.address_schemes import openers
from replay.bench_profile import profiles_at
from replay.virtual_bench.simulated_bench import VirtualBench


def open_analyzer(
    address: str,
    *,
    profile: str | None = None,
    profiles: AnyPath | None = None,
    bench: VirtualBench | None = None,
    clock: Clock | None = None,
) -> Analyzer:
    """Open an analyzer; close it, or use it in a `with` statement.

    address : a port ("/dev/ttyACM0", "COM5", "socket://host:port"), "virtual:" for one that is
        simulated, or "replay:FILE" for a recording. The source of every sweep tells which it was.
    profile : by its name, how the analyzer talks; None tries each that comes with the program, and
        at the virtual bench the bench's own.
    profiles : a folder of profiles of your own, for `profile` to name. What one says is sent to the
        analyzer as it stands, and may brick it.
    bench : what is on a virtual analyzer's port; None, an antenna as delivered.
    clock : the time it is spoken to by; None, the machine's.
    Its `sweep` takes a list of `SweepRequest` and returns one raw `Sweep`. Raises PortError where
    the port cannot be opened, NoReplyError or ReplyError where nothing answers as a profile
    promises, ProfileError for a profile that is not there.
    """
    known = load_profiles(None if profiles is None else Path(profiles)) | profiles_at(address)
    if profile is not None and profile not in known:
        raise ProfileError(
            f'There is no profile "{profile}". There are: {", ".join(known)}; name the folder of '
            "your own as profiles."
        )
    return connected_analyzer.open_analyzer(
        address,
        profile=None if profile is None else known[profile],
        profiles=profiles_at(address),
        openers=openers(bench, clock),
        clock=clock,
    )
