"""From what a person typed to an analyzer that is ready to sweep."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import cast

from acquire.analyzer.connected_analyzer import Analyzer, open_analyzer
from acquire.analyzer.profile import Profile
from acquire.clock import Clock
from acquire.port.transport import Opener, Transport, open_port
from dashboard.errors import SetupError
from dashboard.files import user_folders
from dashboard.files.last_bytes import keep_last_bytes
from replay.address_schemes import openers
from replay.bench_profile import bench_profile, profiles_at
from replay.recording.port_recording import record_to
from replay.virtual_bench.simulated_bench import VirtualBench


def scheme_of(address: str) -> str:
    """Return what stands before an address's colon; the whole of one without."""
    return address.partition(":")[0]


@contextlib.contextmanager
def connected(
    address: str,
    *,
    profile: Profile | None,
    record: Path | None,
    bench: VirtualBench | None,
    clock: Clock,
) -> Iterator[Analyzer]:
    """Open the analyzer a person named, and let go of it at the end.

    profile : how it talks; None tries those of the address. record : a new file for every byte.
    bench : what is on a virtual analyzer's port. Raises whatever opening raises.
    """
    analyzer = open_analyzer(
        address,
        profile=profile,
        profiles=profiles_at(address),
        openers=recorded(address, record, openers(bench, clock), clock),
        clock=clock,
    )
    try:
        yield analyzer
    finally:
        analyzer.close()


def chosen(name: str | None, profiles: dict[str, Profile]) -> Profile | None:
    """Return the profile of that name; raises SetupError, naming those there are."""
    if name == bench_profile().name:
        return bench_profile()
    if name is None or name in profiles:
        return None if name is None else profiles[name]
    raise SetupError(
        f'There is no profile "{name}". There are: {", ".join(profiles)}; one of your own goes '
        f"into {user_folders.profiles()}."
    )


def recorded(
    address: str, record: Path | None, openers: Mapping[str, Opener], clock: Clock
) -> Mapping[str, Opener]:
    """Return the openers, the address's own replaced by one that records.

    The last bytes of a real analyzer are always kept, all of them where a file is named.
    Each opening of the port after the first (an analyzer asked at another baud rate, or plugged in
    again) gets a file of its own, with its number behind the name.
    """
    invented = scheme_of(address) in ("virtual", "replay")
    if record is None and invented:
        return openers

    opened = 0

    def open_recorded(address: str, baud_rate: int) -> Transport:
        nonlocal opened
        inner = open_port(address, baud_rate=baud_rate, openers=openers, clock=clock)
        if not invented:
            inner = cast("Transport", keep_last_bytes(inner, clock))
        if record is None:
            return inner
        opened += 1
        path = record if opened == 1 else record.with_stem(f"{record.stem}-{opened}")
        try:
            return cast("Transport", record_to(path, inner, clock))
        except BaseException:
            inner.close()
            raise

    return {**openers, scheme_of(address): open_recorded}
