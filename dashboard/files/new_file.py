"""Files that a person names to be written: new ones, in a folder that is there."""

from __future__ import annotations

from pathlib import Path

from dashboard.errors import SetupError


def require_new(path: Path | None) -> None:
    """Refuse a file that is there already, or whose folder is not: before the work, not after."""
    if path is None:
        return
    if path.exists() or path.is_symlink():
        raise SetupError(f"{path} already exists. Choose another name.")
    if not path.absolute().parent.is_dir():
        raise SetupError(
            f"There is no folder {path.parent} for {path.name}. Make the folder first."
        )
