"""Profiles: data about how units talk, held strictly against what a dialect needs."""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path

import pytest

from acquire.analyzer.profile import load_profiles, parse_profile
from acquire.errors import ProfileError

SHIPPED = {
    file.name: file.read_text(encoding="utf-8")
    for file in (resources.files("acquire.analyzer") / "profiles").iterdir()
    if file.name.endswith(".toml")
}
PAIRS = SHIPPED["prompted-pairs.toml"]
REGISTERS = SHIPPED["registers-queue.toml"]


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_profile_is_named_by_how_a_unit_talks_and_says_that_it_is_unproven(
    name: str,
) -> None:
    profile = parse_profile(SHIPPED[name], name)
    assert f"{profile.name}.toml" == name
    assert name.startswith(profile.family)
    assert profile.unproven
    assert profile.limits.low_hz < 800e6 < profile.limits.high_hz


def test_the_chapter_on_profiles_shows_one_that_works() -> None:
    chapter = Path(__file__).parents[3] / "docs" / "wiring-a-profile.md"
    blocks = re.findall(r"```toml\n(.*?)```", chapter.read_text(encoding="utf-8"), re.DOTALL)
    assert blocks
    for block in blocks:
        assert parse_profile(block, chapter.name).words


def test_a_profile_with_a_key_of_former_versions_still_loads() -> None:
    former = PAIRS.replace("analyzer_corrected", "unit_corrected")
    assert former != PAIRS
    assert parse_profile(former, "my-own.toml") == parse_profile(PAIRS, "prompted-pairs.toml")


FAULTS = {
    "no place for the points": (
        PAIRS, ("{stop_hz} {points}", "{stop_hz}"), ["words.set_sweep", "{points}"],
    ),
    "a misspelt key": (PAIRS, ("prompt =", "promt ="), ["words.promt", "write prompt"]),
    "a key of another table": (PAIRS, ("[limits]", "[limits]\nbaud = 1"), ["limits.baud"]),
    "a number as text": (PAIRS, ("points = 101", 'points = "101"'), ["limits.points", "'101'"]),
    "no prompt": (PAIRS, ('prompt = "ch> "', ""), ["words", "prompt"]),
    "control characters": (PAIRS, ('identify = "info"', r'identify = "in\u0007fo"'),
                           ["words.identify", "ASCII"]),
    "both ways to sweep": (PAIRS, ("discard = 1", 'discard = 1\nall_at_once = "scan {start_hz} '
                                   '{stop_hz} {points}"'), ["all_at_once", "not both"]),
    "limits upside down": (PAIRS, ("low_mhz = 0.05", "low_mhz = 9000"), ["limits"]),
    "limits without end": (PAIRS, ("high_mhz = 3000", "high_mhz = inf"), ["limits.high_mhz"]),
    "no points": (PAIRS, ("points = 101", "points = 1"), ["limits"]),
    "a newer format": (PAIRS, ("format = 1", "format = 2"), ["format", "newer program"]),
    "no format": (PAIRS, ("format = 1", ""), ["format = 1"]),
    "another family": (PAIRS, ('family = "prompted"', 'family = "morse"'),
                       ["family", "'morse'", "prompted"]),
    "not TOML": (PAIRS, ("[words]", "[words"), ["not TOML"]),
    "a name with a path": (PAIRS, ('name = "prompted-pairs"', 'name = "../pairs"'), ["name"]),
    "a code beyond a byte": (REGISTERS, ("who = 0x0d", "who = 0x1ff"), ["words.who"]),
    "a record too small": (REGISTERS, ("bytes = 32", "bytes = 12"), ["record"]),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_a_bad_profile_is_refused_in_one_sentence_with_field_and_cure(fault: str) -> None:
    text, (before, after), said = FAULTS[fault]
    assert before in text
    with pytest.raises(ProfileError) as refused:
        parse_profile(text.replace(before, after), "mine.toml")
    sentence = str(refused.value)
    assert sentence.startswith('Profile "mine.toml"')
    assert "\n" not in sentence.strip() or fault == "not TOML"
    for part in said:
        assert part in sentence


@pytest.mark.parametrize("text", ["", "x" * 2_000_000, "a = " + "[" * 5000, "\x00", "a = 1\n" * 9])
def test_what_is_no_profile_at_all_is_refused(text: str) -> None:
    with pytest.raises(ProfileError):
        parse_profile(text, "mine.toml")


def test_the_users_own_profiles_are_read_and_win(tmp_path: Path) -> None:
    own = PAIRS.replace("baud_rate = 115200", "baud_rate = 9600")
    (tmp_path / "anything.toml").write_text(own, encoding="utf-8")
    (tmp_path / "more.toml").write_text(
        PAIRS.replace('name = "prompted-pairs"', 'name = "bench-2"'), encoding="utf-8"
    )
    profiles = load_profiles(tmp_path)
    assert profiles["prompted-pairs"].baud_rate == 9600
    assert "bench-2" in profiles
    assert load_profiles()["prompted-pairs"].baud_rate == 115200
    assert load_profiles(tmp_path / "nowhere").keys() == load_profiles().keys()


def test_a_users_bad_profile_is_named_by_its_path(tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text("format = 1\n", encoding="utf-8")
    with pytest.raises(ProfileError, match=r"bad\.toml"):
        load_profiles(tmp_path)
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ProfileError, match="no UTF-8 text"):
        load_profiles(tmp_path)


def test_two_of_the_users_profiles_with_one_name_are_refused(tmp_path: Path) -> None:
    for name in ("one.toml", "two.toml"):
        (tmp_path / name).write_text(PAIRS, encoding="utf-8")
    with pytest.raises(ProfileError, match="rename one"):
        load_profiles(tmp_path)
