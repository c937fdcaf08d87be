"""A file that cannot be what it is taken for is refused by its size or depth, in a sentence.

No reader of ours reads a gigabyte to find out, and none falls over a file nested 100,000 deep.
"""

from __future__ import annotations

import os
import threading
import tomllib
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from acceptance.catalogue.record_scan import read_catalogued_files
from acceptance.plan.load import load_plan, load_recipe
from acceptance.recheck.recheck_folder import recheck_folder
from acquire.analyzer.profile import load_profiles
from acquire.errors import BandwrightError
from acquire.files.bounded_read import read_at_most
from acquire.files.toml_file import toml_table
from acquire.touchstone.reader import parse_touchstone
from calibration.files.store import list_kits, load_calibration, load_device
from dashboard.bench.learned_effects import load as load_learned
from dashboard.command_line.touchstone_input import read_file
from replay.recording.port_recording import open_replay

GIGABYTE = 2**30
LITTLE = 8 * 2**20
"""Bytes; what refusing may take, the text of the sentence included."""

Reader = Callable[[Path], Any]
READERS: dict[str, tuple[str, Reader]] = {
    "touchstone": ("antenna.s1p", read_file),
    "plan": ("plan.toml", load_plan),
    "recipe": ("recipe.toml", load_recipe),
    "kit": ("kit.toml", lambda path: list_kits(path.parent)),
    "device": ("device.toml", load_device),
    "profile": ("profile.toml", lambda path: load_profiles(path.parent)),
    "calibration": ("calibration.json", load_calibration),
    "record": ("record.json", lambda path: recheck_folder(path.parent)),
    "a record's card": ("record.json", lambda path: read_catalogued_files(path.parent)),
    "sums": ("SHA256SUMS", lambda path: recheck_folder(path.parent)),
    "recording": ("session.jsonl", open_replay),
}
TOML = ("plan", "recipe", "kit", "device", "profile")
OF_FOLDERS = ("record", "a record's card", "sums")
"""They read what a folder holds, and pass over what is no file there."""
JSON = ("calibration", "record", "recording")


def refusal(read: Reader, path: Path) -> str:
    tracemalloc.start()
    try:
        with pytest.raises((BandwrightError, OSError)) as refused:
            read(path)
        assert tracemalloc.get_traced_memory()[1] < LITTLE
    finally:
        tracemalloc.stop()
    error = refused.value
    return str(error) if isinstance(error, BandwrightError) else str(error.strerror)


@pytest.mark.parametrize("name", READERS)
def test_a_gigabyte_is_refused_unread(name: str, tmp_path: Path) -> None:
    file, read = READERS[name]
    with (tmp_path / file).open("wb") as sparse:
        sparse.truncate(GIGABYTE)
    sentence = refusal(read, tmp_path / file)
    assert " MB" in sentence
    assert "\n" not in sentence


@pytest.mark.parametrize("name", TOML)
@pytest.mark.parametrize("content", [b"x = " + b"[" * 40_000, b"x = " + b"9" * 5000])
def test_toml_too_deep_or_too_long_a_number_is_refused(
    name: str, content: bytes, tmp_path: Path
) -> None:
    file, read = READERS[name]
    (tmp_path / file).write_bytes(content)
    assert "TOML" in refusal(read, tmp_path / file)


@pytest.mark.parametrize("name", JSON)
@pytest.mark.parametrize("content", [b"[" * 100_000, b'{"version":' * 100_000, b"9" * 5000])
def test_json_too_deep_is_refused(name: str, content: bytes, tmp_path: Path) -> None:
    file, read = READERS[name]
    (tmp_path / file).write_bytes(content + b"\n")
    assert "\n" not in refusal(read, tmp_path / file)


@pytest.mark.slow
@pytest.mark.parametrize("name", TOML)
@pytest.mark.parametrize("part", ["a", '"a.b"', "'a'"])
@pytest.mark.parametrize("form", ["{} = 1", "[{}]", "x = {{{} = 1}}", 'x = """\n"""\n{} = 1'])
def test_a_key_of_ten_thousand_parts_is_refused_before_it_is_parsed(
    name: str, part: str, form: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """tomllib takes time by their number squared: seconds for these, hours for half a million."""
    loads, longest = tomllib.loads, 15_000  # what is shipped beside it is parsed

    def parsed(text: str) -> dict[str, Any]:
        assert len(text) < longest
        return loads(text)

    monkeypatch.setattr("tomllib.loads", parsed)
    file, read = READERS[name]
    path = tmp_path / file
    path.write_text(form.format(" . ".join([part] * 10_000)), encoding="utf-8")
    assert "more than 16 parts" in refusal(read, path)


def test_dots_that_are_no_key_are_no_matter() -> None:
    dots = ".".join("a" * 100)
    text = f'''# {dots} = 1
a.b.c.d = "{dots} = \\" {dots}"
e = """{dots} = 1
"{dots}" """
f = [{", ".join(["1.5"] * 100)}]
g = \'{dots}\'
'''
    assert toml_table(text, "It", ValueError)["f"][99] == 1.5


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes by name are POSIX only")
@pytest.mark.parametrize("name", sorted(set(READERS) - set(OF_FOLDERS)))
def test_a_pipe_that_nobody_writes_into_is_refused(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("acquire.files.bounded_read.PIPE_PATIENCE_S", 0.01)
    file, read = READERS[name]
    os.mkfifo(tmp_path / file)
    words = refusal(read, tmp_path / file)
    assert "it is a pipe" in words or "is no file" in words


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes by name are POSIX only")
def test_pipes_among_a_record_s_files_and_what_was_learned_hold_nothing_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from acceptance.plan.recipe import NO_RECIPE
    from dashboard.bench.learned_effects import _path

    monkeypatch.setattr("acquire.files.bounded_read.PIPE_PATIENCE_S", 0.01)
    for name in ("record.json", "verdict.json", "SHA256SUMS"):
        os.mkfifo(tmp_path / name)
    assert read_catalogued_files(tmp_path) == {}
    with pytest.raises(BandwrightError, match="is missing"):
        recheck_folder(tmp_path)
    path = _path(tmp_path, NO_RECIPE)
    path.parent.mkdir(parents=True, exist_ok=True)
    os.mkfifo(path)
    assert load_learned(tmp_path, NO_RECIPE) == {}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes by name are POSIX only")
def test_a_pipe_that_somebody_writes_into_is_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    writer = threading.Thread(target=(tmp_path / "pipe").write_bytes, args=(b"x" * 200_000,))
    writer.start()
    assert read_at_most(tmp_path / "pipe", 200_000) == b"x" * 200_000
    writer.join()


def test_what_was_learned_is_left_where_it_cannot_be_read(tmp_path: Path) -> None:
    from acceptance.plan.recipe import NO_RECIPE
    from dashboard.bench.learned_effects import _path

    path = _path(tmp_path, NO_RECIPE)
    path.parent.mkdir(parents=True, exist_ok=True)
    for content in (b"[" * 100_000, b'{"recipe":' * 100_000):
        path.write_bytes(content)
        assert load_learned(tmp_path, NO_RECIPE) == {}
    with path.open("wb") as sparse:
        sparse.truncate(GIGABYTE)
    assert load_learned(tmp_path, NO_RECIPE) == {}


@pytest.mark.slow
def test_more_than_a_million_points_are_refused() -> None:
    content = b"# hz s ri r 50\n" + b"".join(b"%d 0 0\n" % hz for hz in range(1, 1_000_002))
    with pytest.raises(BandwrightError, match="1000001 points are more than the 1000000 read"):
        parse_touchstone(content, "wide.s1p")


def test_sums_of_more_files_than_a_record_holds_are_refused(tmp_path: Path) -> None:
    for number in range(2001):
        (tmp_path / f"{number}").touch()
    with pytest.raises(BandwrightError, match="more than 2000 files"):
        recheck_folder(tmp_path)


def test_a_pipe_in_a_folder_of_profiles_or_kits_holds_nothing_up(tmp_path: Path) -> None:
    (tmp_path / "odd.toml").mkdir()
    for read in (load_profiles, list_kits):
        with pytest.raises(BandwrightError, match="no file"):
            read(tmp_path)


def test_a_file_just_large_enough_is_read(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(b"x" * 1000)
    assert read_at_most(path, 1000) == b"x" * 1000
    with pytest.raises(OSError, match=r"at most 0\.000953 MB"):
        read_at_most(path, 999)
