"""Profiles: data about how units talk, held strictly against what a dialect needs."""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path

import pytest

from acquire.analyzer.profile import load_profiles, parse_profile
from acquire.analyzer.profile_words import alarming, sum_of, words_of
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
    "not TOML": (PAIRS, ("[words]", "[words"), ["line", "bracket", "not closed"]),
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


def own(folder: Path, file: str, name: str) -> None:
    text = PAIRS.replace('name = "prompted-pairs"', f'name = "{name}"')
    (folder / file).write_text(text, encoding="utf-8")


def test_the_users_own_profiles_are_read(tmp_path: Path) -> None:
    own(tmp_path, "more.toml", "bench-2")
    assert load_profiles(tmp_path).keys() == {*load_profiles(), "bench-2"}
    assert load_profiles(tmp_path / "nowhere").keys() == load_profiles().keys()


def test_a_users_bad_profile_is_named_by_its_path(tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text("format = 1\n", encoding="utf-8")
    with pytest.raises(ProfileError, match=r"bad\.toml"):
        load_profiles(tmp_path)
    (tmp_path / "bad.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ProfileError, match="no UTF-8 text"):
        load_profiles(tmp_path)


def test_a_file_that_takes_a_shipped_profile_s_name_is_refused(tmp_path: Path) -> None:
    own(tmp_path, "anything.toml", "scpi-ascii")
    with pytest.raises(ProfileError, match=r"anything\.toml.*'scpi-ascii'.*shipped"):
        load_profiles(tmp_path)


def test_words_that_reset_store_erase_or_flash_are_named() -> None:
    words = {
        "set_sweep": "reset config; sweep {start_hz} {stop_hz} {points}",
        "identify": "saveconfig",
        "reflection": "clearflash 0",
        "frequencies": "dfu",
    }
    text = PAIRS
    for key, word in words.items():
        text = re.sub(rf'^{key} = ".*"$', f'{key} = "{word}"', text, flags=re.MULTILINE)
    told = words_of(parse_profile(text, "odd.toml"))
    assert {each.partition(" = ")[0] for each in alarming(told)} == set(words)
    scpi = ["trigger = *RST", "prepare = MMEM:DEL 'a'", "prepare = SYST:PRES", "start = *SAV 1"]
    assert alarming(scpi) == scpi


def test_no_shipped_profile_has_such_words() -> None:
    for profile in load_profiles().values():
        assert words_of(profile)
        assert alarming(words_of(profile)) == [], profile.name


def test_a_profile_s_sum_is_of_what_it_says_alone() -> None:
    first = parse_profile(PAIRS, "a.toml")
    assert sum_of(first) == sum_of(parse_profile(f"# a comment\n{PAIRS}", "b.toml"))
    other = PAIRS.replace("baud_rate = 115200", "baud_rate = 9600")
    assert sum_of(first) != sum_of(parse_profile(other, "a.toml"))


def test_two_of_the_users_profiles_with_one_name_are_refused(tmp_path: Path) -> None:
    for name in ("one.toml", "two.toml"):
        own(tmp_path, name, "bench-2")
    with pytest.raises(ProfileError, match="rename one"):
        load_profiles(tmp_path)
