"""The name and version of this program, as records tell it."""

from __future__ import annotations

import importlib.metadata


def software() -> str:
    """Return this program's name and version, for records."""
    try:
        return f"bandwright {importlib.metadata.version('bandwright')}"
    except importlib.metadata.PackageNotFoundError:
        return "bandwright, not installed"
