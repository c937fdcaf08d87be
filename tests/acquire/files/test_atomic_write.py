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


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes by name are POSIX only")
def test_a_pipe_is_written_to_and_stays_a_pipe(tmp_path: Path) -> None:
    """Renaming over a device, /dev/null say, would take it from everybody on the machine."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    descriptor = os.open(pipe, os.O_RDWR | os.O_NONBLOCK)
    try:
        write_whole(pipe, b"report")
        assert os.read(descriptor, 100) == b"report"
    finally:
        os.close(descriptor)
    assert pipe.is_fifo()
    assert [each.name for each in tmp_path.iterdir()] == ["pipe"]
