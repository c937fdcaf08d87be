"""The virtual bench speaks words of its own; this says where they are spoken.

An analyzer's profile is for analyzers. What a rehearsal prints, records and reports then names the
virtual bench, and can be taken for no analyzer's. Virtual analyzers that speak the words of a
shipped profile are there to prove it, and are named by their address, as in virtual:scpi.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import resources
from pathlib import Path

from acquire.analyzer.profile import Profile, PromptedProfile, load_profiles, parse_profile
from replay.address_schemes import behind_scheme, character_of
from replay.errors import RecordingError
from replay.recording.recording_format import parse_recording
from replay.virtual_analyzer.simulated_analyzer import BENCH

PROFILE_FILE = "virtual-bench.toml"
FIRST_BYTES = 2**16
"""So much of a recording tells which words were spoken."""


@cache
def bench_profile() -> Profile:
    """How the virtual bench's own analyzer talks."""
    file = resources.files("replay.virtual_bench").joinpath(PROFILE_FILE)
    return parse_profile(file.read_text(encoding="utf-8"), PROFILE_FILE)


def profiles_at(address: str, shipped: Mapping[str, Profile] | None = None) -> dict[str, Profile]:
    """The profiles to try at an address, by name.

    shipped : those of analyzers; None loads what comes with the program. The virtual bench's own
    stands alone where it is what is spoken there, or was when a recording was made.
    """
    own = bench_profile()
    scheme = address.partition(":")[0]
    alone = (scheme == "virtual" and character_of(address) == BENCH) or (
        scheme == "replay" and _spoken_in(Path(behind_scheme(address)))
    )
    if alone:
        return {own.name: own}
    return dict(load_profiles() if shipped is None else shipped)


def _spoken_in(recording: Path) -> bool:
    """True where a recording asks the virtual bench what it is."""
    own = bench_profile()
    if not isinstance(own, PromptedProfile):
        return False
    asked = own.words.identify.encode("ascii")
    try:
        if not recording.is_file():
            return False  # a pipe gives its bytes only once
        with recording.open("rb") as file:
            begun = parse_recording(file.read(FIRST_BYTES), str(recording))
    except (OSError, ValueError, RecordingError):
        return False  # opening it says what is wrong
    return any(asked in entry.data for entry in begun.entries if entry.direction == "out")
