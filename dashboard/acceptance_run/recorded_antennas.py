"""What the records say: whether an antenna has one already, and how a station was locked."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from acceptance.record.acceptance_record import HEAD, safe_name
from acceptance.record.layouts import STATION
from acquire.files.bounded_read import read_at_most

LARGEST_HEAD = 2**20
NEWEST = 200
"""So many of the newest records are asked which station wrote them."""


def last_sums(records: Path, station: str) -> Mapping[str, str]:
    """What a station was locked to when it last wrote a record; empty where it never did.

    Read from the newest records, the newest first.
    """
    if not records.is_dir():
        return {}
    heads = sorted(records.glob(f"*/{HEAD}"), key=lambda path: path.parent.name.rpartition("_")[2])
    for path in reversed(heads[-NEWEST:]):
        try:
            noted = json.loads(read_at_most(path, LARGEST_HEAD)).get(STATION)
        except (OSError, ValueError, AttributeError):
            continue
        if isinstance(noted, dict) and noted.get("name") == station:
            sums = noted.get("sums")
            return sums if isinstance(sums, dict) else {}
    return {}


def recorded_before(records: Path, antenna: str) -> bool:
    """True where a folder of records holds one of an antenna of that name.

    By the folders' names, which begin with the antenna's, and by what the record itself says; one
    that cannot be read is passed over.
    """
    if not records.is_dir():
        return False
    begin = f"{safe_name(antenna)}_"
    for folder in records.iterdir():
        if not folder.name.startswith(begin):
            continue
        try:
            head = json.loads(read_at_most(folder / HEAD, LARGEST_HEAD))
        except (OSError, ValueError):
            continue
        if isinstance(head, dict) and head.get("antenna") == antenna:
            return True
    return False
