"""Which profiles, of those that are not shipped, a person has trusted: by their sums."""

from __future__ import annotations

import re

from acquire.files.atomic_write import write_whole
from acquire.files.bounded_read import read_at_most
from dashboard.files import user_folders

MOST_BYTES = 2**20
_SUM = re.compile(r"[0-9a-f]{64}")


def holds(total: str) -> bool:
    """True where a profile of this sum was trusted before. What cannot be read trusts nothing."""
    return total in _known()


def keep(total: str) -> None:
    """Trust a profile of this sum from now on. Raises OSError."""
    path = user_folders.trusted_profiles()
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(path, "".join(f"{each}\n" for each in sorted({*_known(), total})).encode("ascii"))


def _known() -> set[str]:
    try:
        text = read_at_most(user_folders.trusted_profiles(), MOST_BYTES).decode("ascii", "replace")
    except OSError:
        return set()
    return {line for line in text.splitlines() if _SUM.fullmatch(line)}
