"""Whether an antenna of a name has a record already."""

from __future__ import annotations

import json
from pathlib import Path

from acceptance.record.acceptance_record import HEAD, safe_name
from acquire.files.bounded_read import read_at_most

LARGEST_HEAD = 2**20


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
