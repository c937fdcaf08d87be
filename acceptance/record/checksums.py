"""SHA256SUMS: what `sha256sum -c` accepts, and what differs from it.

Each line is 64 digits of the SHA-256 of a file (FIPS 180-4), two spaces, and the file's name, as
coreutils' manual describes its output for text files [memory]. The names are sorted, so that the
same files give the same bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

CHECKSUMS = "SHA256SUMS"
SIGNATURE = "SHA256SUMS.sig"


def format_checksums(files: Mapping[str, bytes]) -> bytes:
    """The content of SHA256SUMS for files by their names; itself and its signature are not in it.

    Names hold neither line feeds nor backslashes, which coreutils would escape.
    """
    lines = [
        f"{hashlib.sha256(content).hexdigest()}  {name}\n"
        for name, content in sorted(files.items())
        if name not in (CHECKSUMS, SIGNATURE)
    ]
    return "".join(lines).encode()


def differences(files: Mapping[str, bytes]) -> tuple[str, ...]:
    """What of a folder does not agree with its SHA256SUMS; one sentence each, none if all does.

    A line too many or too few is found as well, and one that is not written as it should be.
    """
    if CHECKSUMS not in files:
        return (f"{CHECKSUMS} is missing, so nothing shows whether a file was changed.",)
    try:
        listed = parse_checksums(files[CHECKSUMS])
    except ValueError as error:
        return (f"{CHECKSUMS} is damaged: {error}.",)
    present = {name for name in files if name not in (CHECKSUMS, SIGNATURE)}
    found = [
        f"{name} is named in {CHECKSUMS} but gone." for name in sorted(listed.keys() - present)
    ]
    found += [f"{name} is not named in {CHECKSUMS}." for name in sorted(present - listed.keys())]
    found += [
        f"{name} was changed since its sum was made."
        for name in sorted(present & listed.keys())
        if hashlib.sha256(files[name]).hexdigest() != listed[name]
    ]
    if not found and files[CHECKSUMS] != format_checksums(files):
        found.append(f"{CHECKSUMS} agrees, but is not written as it was made: it was changed.")
    return tuple(found)


def parse_checksums(content: bytes) -> dict[str, str]:
    """The sum of each file that SHA256SUMS names. Raises ValueError where it is damaged."""
    text = content.decode()
    listed: dict[str, str] = {}
    for number, line in enumerate(text.split("\n")[:-1], 1):
        digest, gap, name = line[:64], line[64:66], line[66:]
        if (
            len(digest) != 64
            or gap not in ("  ", " *")
            or not name
            or digest.strip("0123456789abcdefABCDEF")
        ):
            raise ValueError(f"line {number} is no sum and name")
        if name in listed:
            raise ValueError(f"line {number} names {name} a second time")
        listed[name] = digest.lower()
    if not text.endswith("\n") and text:
        raise ValueError("its last line is cut short")
    return listed
