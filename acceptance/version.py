"""The name and version of this program, as records tell it."""

from __future__ import annotations


def software() -> str:
    """Return this program's name and version, for records."""
    import importlib.metadata  # noqa: PLC0415 - slow to import, and few ask for the version

    try:
        return f"bandwright {importlib.metadata.version('bandwright')}"
    except importlib.metadata.PackageNotFoundError:
        return "bandwright, not installed"
