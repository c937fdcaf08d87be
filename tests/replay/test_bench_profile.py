"""The virtual bench speaks words of its own, and no analyzer's profile is spoken by it."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.analyzer.connected_analyzer import open_analyzer as open_with
from acquire.analyzer.profile import PromptedProfile, load_profiles
from acquire.analyzer.profile_words import words_of
from acquire.errors import NoReplyError
from acquire.sweep import SweepRequest
from replay.address_schemes import openers
from replay.analyzer_by_address import open_analyzer
from replay.bench_profile import bench_profile, profiles_at
from replay.clock import AcceleratedClock
from replay.recording.port_recording import RecordingTransport, record_to

PASSES = (SweepRequest(700e6, 900e6, 11),)


def test_the_bench_says_what_it_is_in_every_sweep() -> None:
    with open_analyzer("virtual:", clock=AcceleratedClock()) as analyzer:
        source = analyzer.sweep(PASSES).source
    assert "virtual bench" in source.analyzer
    assert source.profile == "virtual-bench"


def test_no_profile_of_an_analyzer_has_its_words_or_its_name() -> None:
    own = bench_profile()
    assert isinstance(own, PromptedProfile)
    mine = {own.words.identify, own.words.all_at_once, own.words.prompt}
    for profile in load_profiles().values():
        assert profile.name != own.name
        assert not mine & set(words_of(profile))
        assert not any(word in each for word in mine for each in words_of(profile))


def test_no_profile_of_an_analyzer_is_understood_by_it() -> None:
    clock = AcceleratedClock()
    with pytest.raises(NoReplyError):
        open_with("virtual:", profiles=load_profiles(), openers=openers(clock=clock), clock=clock)


@pytest.mark.parametrize("address", ["virtual:scpi", "virtual:prompted", "/dev/ttyACM0", "COM5"])
def test_its_words_are_sent_nowhere_else(address: str) -> None:
    assert profiles_at(address) == load_profiles()


def test_a_recording_of_it_is_played_by_its_words(tmp_path: Path) -> None:
    clock = AcceleratedClock()
    path = tmp_path / "r.jsonl"
    known = openers(clock=clock)

    def recorded(address: str, baud_rate: int) -> RecordingTransport:
        return record_to(path, known["virtual"](address, baud_rate), clock)

    made = open_with(
        "virtual:", profiles=profiles_at("virtual:"), openers={"virtual": recorded}, clock=clock
    )
    first = made.sweep(PASSES)
    made.close()
    with open_analyzer(f"replay:{path}", clock=clock) as played:
        again = played.sweep(PASSES)
    assert played.profile.name == "virtual-bench"
    assert (first.reflection == again.reflection).all()
    assert again.source.kind == "replay"


def test_a_recording_of_an_analyzer_is_not_taken_for_it(tmp_path: Path) -> None:
    assert profiles_at(f"replay:{tmp_path / 'none.jsonl'}") == load_profiles()
