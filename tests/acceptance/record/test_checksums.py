"""SHA256SUMS: accepted by coreutils, and no change of a byte or a line escapes."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from acceptance.record.checksums import CHECKSUMS, differences, format_checksums
from acceptance.record.record_folder import write_record
from tests.acceptance.made import record
from tests.wording import missing_words


def test_a_line_is_a_sum_two_spaces_and_a_name() -> None:
    """SHA-256 of "abc": FIPS 180-4, example of a one-block message [memory]."""
    abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert format_checksums({"a.txt": b"abc"}) == f"{abc}  a.txt\n".encode()
    assert hashlib.sha256(b"abc").hexdigest() == abc


@pytest.mark.process
@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum is not installed")
def test_coreutils_accepts_it_and_finds_what_was_changed(tmp_path: Path) -> None:
    folder = write_record(record(), tmp_path)
    command = [str(shutil.which("sha256sum")), "--check", "--strict", CHECKSUMS]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
    assert done.stdout.count(": OK") == len(record().files) - 1
    (folder / "plan.toml").write_bytes(b"name = 'another'\n")
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "plan.toml: FAILED" in done.stdout


def test_two_hundred_single_bytes_changed_anywhere_are_all_found() -> None:
    files = dict(record().files)
    random = np.random.default_rng(20260501)
    names = sorted(files)
    assert differences(files) == ()
    for _ in range(200):
        name = names[random.integers(len(names))]
        content = bytearray(files[name])
        at = int(random.integers(len(content)))
        content[at] ^= int(random.integers(1, 256))
        found = differences({**files, name: bytes(content)})
        assert found, f"{name}, byte {at}"


def test_every_byte_of_the_sums_themselves_counts() -> None:
    files = {"a.txt": b"abc", "b.txt": b"def"}
    files[CHECKSUMS] = format_checksums(files)
    for at in range(len(files[CHECKSUMS])):
        for other in (0x20, 0x41, 0x0A, files[CHECKSUMS][at] ^ 0x20):
            if other == files[CHECKSUMS][at]:
                continue
            changed = bytearray(files[CHECKSUMS])
            changed[at] = other
            assert differences({**files, CHECKSUMS: bytes(changed)}), f"byte {at} to {other:#x}"


def test_a_line_too_many_too_few_or_twice_is_found() -> None:
    files = {"a.txt": b"abc", "b.txt": b"def"}
    checksum_differences = format_checksums(files)
    whole = {**files, CHECKSUMS: checksum_differences}
    first, second = checksum_differences.splitlines(keepends=True)
    assert differences(whole) == ()
    assert differences({**whole, CHECKSUMS: first}) == ("b.txt is not named in SHA256SUMS.",)
    assert differences({**whole, CHECKSUMS: checksum_differences + first})[0].startswith(
        "SHA256SUMS is damaged: line 3"
    )
    extra = second.replace(b"b.txt", b"c.txt")
    (gone,) = differences({**whole, CHECKSUMS: checksum_differences + extra})
    assert not missing_words(gone, "c.txt", "SHA256SUMS", "gone")
    assert "not written as it was made" in differences({**whole, CHECKSUMS: second + first})[0]
    assert "cut short" in differences({**whole, CHECKSUMS: checksum_differences[:-1] + b"x"})[0]
    (no_sums,) = differences(files)
    assert not missing_words(no_sums, "SHA256SUMS is missing", "nothing shows")
    assert differences({**whole, "c.txt": b""}) == ("c.txt is not named in SHA256SUMS.",)
