"""The profile that a person named; one that is not shipped is shown, and asked about, once.

What a profile holds is sent to the analyzer as it stands, and may set back, erase or brick it.
"""

from __future__ import annotations

import sys

import typer

from acquire.analyzer.profile import Profile, load_profiles
from acquire.analyzer.profile_words import alarming, sum_of, words_of
from acquire.printable_text import plain
from dashboard.errors import SetupError
from dashboard.files import trusted_profiles, user_folders
from dashboard.sweeping.connection import chosen
from dashboard.terminal.output import say, stderr
from replay.bench_profile import bench_profile


def named_profile(name: str | None, *, trust: bool) -> Profile | None:
    """Return the profile of that name; None where none is named.

    trust : whether its words may be sent unasked. Raises SetupError, naming the profiles there are,
    or where one that is not shipped is not trusted; ProfileError.
    """
    if name is None:
        return None
    profile = chosen(name, load_profiles(user_folders.profiles()))
    if profile is None or profile is bench_profile() or name in load_profiles():
        return profile
    total = sum_of(profile)
    if trusted_profiles.holds(total):
        return profile
    console = stderr()
    words = words_of(profile)
    if odd := alarming(words):
        say(
            f"Profile {name} has words that may reset, store, erase or flash: "
            f"{plain('; '.join(odd))}.",
            console=console,
        )
    say(
        f"Profile {name} is not one that is shipped. It sends: {plain('; '.join(words))}.",
        console=console,
    )
    if not trust and not _agreed(name):
        raise SetupError(
            f"Profile {name} was not used: its words can set an analyzer back or brick it. "
            "Hold them against the analyzer's manual, and say --trust-profile."
        )
    trusted_profiles.keep(total)
    return profile


def _agreed(name: str) -> bool:
    """Whether the person at the terminal says yes; nobody there says no."""
    return sys.stdin.isatty() and typer.confirm(
        f"Send the words of {name} to the analyzer, now and from now on?", err=True
    )
