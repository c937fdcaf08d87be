"""A file that another file names is beside it: never a path, a device or a link that leads out."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.record.record_folder import write_files
from acquire.errors import NamedFileError
from acquire.files.named_file import in_folder, read_in_folder
from calibration.errors import KitError
from calibration.files.store import load_kit

OUT = [
    "/etc/passwd",
    "../secret.s1p",
    "a/../../secret.s1p",
    "..",
    ".",
    "",
    "a//b",
    "C:secret.s1p",
    "C:\\secret.s1p",
    "..\\secret.s1p",
    "\\\\host\\share\\x",
    "file.s1p:stream",
    "null\0byte",
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a secret beside it."""
    (tmp_path / "secret.s1p").write_text("# MHz S RI R 50\n700 0.5 0\n")
    inside = tmp_path / "inside"
    inside.mkdir()
    return inside


@pytest.mark.parametrize("name", OUT)
def test_a_name_that_leads_elsewhere_is_refused_for_reading_and_for_writing(
    folder: Path, name: str
) -> None:
    with pytest.raises(NamedFileError, match="in the same folder"):
        read_in_folder(folder, name)
    with pytest.raises(NamedFileError, match="in the same folder"):
        write_files({name: b"x"}, folder)
    assert list(folder.iterdir()) == []


@given(name=st.text(alphabet="./\\:ab\0", max_size=12))
def test_whatever_the_name_the_file_is_below_the_folder(name: str) -> None:
    folder = Path("/nowhere/at/all")
    try:
        path = in_folder(folder, name)
    except NamedFileError:
        return
    assert path != folder
    assert os.path.normpath(path).startswith("/nowhere/at/all/")


def test_a_link_that_leads_out_is_not_followed(folder: Path) -> None:
    try:
        (folder / "link.s1p").symlink_to(folder.parent / "secret.s1p")
        (folder / "way").symlink_to(folder.parent, target_is_directory=True)
    except OSError:
        pytest.skip("this system lets nobody make a link")
    for name in ("link.s1p", "way/secret.s1p"):
        with pytest.raises(NamedFileError, match="link"):
            read_in_folder(folder, name)


def test_what_is_no_file_is_not_waited_for(folder: Path) -> None:
    (folder / "deeper").mkdir()
    with pytest.raises(NamedFileError, match="not a file"):
        read_in_folder(folder, "deeper")
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe.s1p")
        with pytest.raises(NamedFileError, match="not a file"):
            read_in_folder(folder, "pipe.s1p")


@pytest.mark.parametrize("name", ["../secret.s1p", "/etc/passwd"])
def test_a_kit_reads_no_file_but_those_beside_it(folder: Path, name: str) -> None:
    text = (
        'format = 1\nname = "borrowed"\nlabel = "Borrowed"\nconnector = "SMA"\nsource = "none"\n'
        '[standard.open]\nform = "ideal"\nkind = "open"\n'
        '[standard.short]\nform = "ideal"\nkind = "short"\n'
        f'[standard.load]\nform = "data"\nkind = "load"\nfile = "{name}"\n'
    )
    (folder / "kit.toml").write_text(text)
    with pytest.raises(KitError) as refused:
        load_kit(str(folder / "kit.toml"))
    assert "not the name of a file in the same folder" in str(refused.value)
