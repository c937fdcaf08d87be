"""A file is either whole or not there, whatever the disk does."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from acquire.files.atomic_write import sync_folder, write_whole

DISK = {
    "full": OSError(errno.ENOSPC, "No space left on device"),
    "read only": OSError(errno.EROFS, "Read-only file system"),
    "broken": OSError(errno.EIO, "Input/output error"),
}


@pytest.mark.parametrize("step", ["mkstemp", "fdopen", "fsync", "replace"])
@pytest.mark.parametrize("how", DISK)
def test_the_old_file_stays_as_it_was_where_the_new_one_cannot_be_written(
    step: str, how: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "plan.toml"
    write_whole(path, b"old")

    def refuse(*_: object, **__: object) -> None:
        raise DISK[how]

    owner = {
        "mkstemp": "acquire.files.atomic_write.tempfile",
        "fdopen": "acquire.files.atomic_write.os",
        "fsync": "acquire.files.atomic_write.os",
        "replace": "acquire.files.atomic_write.Path",
    }[step]
    with monkeypatch.context() as patched:
        patched.setattr(f"{owner}.{step}", refuse)
        with pytest.raises(OSError, match=str(DISK[how].strerror)):
            write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"


def test_a_folder_that_cannot_be_opened_or_flushed_is_no_hindrance(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Windows opens no folders; some network folders cannot be flushed."""

    def refuse(*_: object) -> None:
        raise OSError(errno.EINVAL, "Invalid argument")

    sync_folder(tmp_path / "not there")
    monkeypatch.setattr(os, "fsync", refuse)
    sync_folder(tmp_path)
