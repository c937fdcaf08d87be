"""Where a bench keeps what is made on it: the user's own folders, or those for practice."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Self

from dashboard.files import user_folders


@dataclass(frozen=True, slots=True)
class BenchFolders:
    """One folder for each kind of file; none of them need exist."""

    calibrations: Path
    records: Path
    learned: Path | None
    """None keeps nothing."""
    check_pieces: Path | None

    @classmethod
    def for_practice(cls) -> Self:
        """Those of the virtual bench, apart from what was measured."""
        practice = user_folders.practice()
        return cls(
            practice / "calibrations",
            practice / "records",
            practice / "learned",
            user_folders.check_pieces(invented=True),
        )
