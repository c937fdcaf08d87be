"""Plans, recipes and calibrations used lately on this machine, to be offered again.

A plan and a recipe are kept as they were used, one small file each, so that they are still there
where the file they came from is not. Of a calibration only its path is kept: one that is gone is
offered no more. The newest few of each kind stay.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from acquire.clock import Clock
from acquire.files.atomic_write import write_whole
from acquire.files.toml_file import MOST_CHARACTERS

Kind = Literal["plan", "recipe", "calibration"]
MOST_KEPT = 8
"""Of one kind."""
ENDINGS: dict[Kind, str] = {"plan": "toml", "recipe": "toml", "calibration": "path"}


@dataclass(frozen=True, slots=True)
class Recent:
    """One of them."""

    key: str
    """What it is asked for by: a sum of what was used."""
    text: str
    """The TOML as it was used; of a calibration the path of its file."""
    used_at_s: float
    """When it was used last, seconds since 1970."""


class RecentFiles:
    """The newest of each kind, in one folder. What cannot be read or written is left aside: that
    something is offered again is a convenience, and nothing may fail by it."""

    def __init__(self, folder: Path | None, clock: Clock) -> None:
        """folder : made with the first; None keeps none."""
        self._folder = folder
        self._clock = clock

    def used(self, kind: Kind, text: str) -> None:
        """Remember that this was used now; it moves up where it is known."""
        if self._folder is None or not text:
            return
        content = text.encode("utf-8", "surrogatepass")
        path = self._folder / f"{kind}-{hashlib.sha256(content).hexdigest()[:16]}.{ENDINGS[kind]}"
        now_s = self._clock.now().timestamp()
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            if not path.exists():
                write_whole(path, content)
            os.utime(path, (now_s, now_s))
            for old in self._paths(kind)[MOST_KEPT:]:
                old.unlink()

    def used_file(self, path: Path) -> None:
        """Remember that a calibration's file was used now."""
        with contextlib.suppress(OSError):
            self.used("calibration", str(path.resolve()))

    def newest(self, kind: Kind) -> list[Recent]:
        """Those of a kind that can still be had, the last used first."""
        found = []
        for path in self._paths(kind)[:MOST_KEPT]:
            with contextlib.suppress(OSError, ValueError):
                if path.stat().st_size > MOST_CHARACTERS:
                    continue
                text = path.read_text(encoding="utf-8")
                if kind == "calibration" and not Path(text).is_file():
                    continue
                found.append(Recent(path.stem.partition("-")[2], text, path.stat().st_mtime))
        return found

    def _paths(self, kind: Kind) -> list[Path]:
        """Of a kind, the last used first."""
        if self._folder is None:
            return []
        with contextlib.suppress(OSError):
            found = list(self._folder.glob(f"{kind}-*.{ENDINGS[kind]}"))
            return sorted(found, key=lambda path: (path.stat().st_mtime, path.name), reverse=True)
        return []
