"""The reference plane that a Touchstone file's comments name."""

from __future__ import annotations

from acquire.sweep import Plane


def stated_plane(content: bytes) -> Plane | None:
    """Return the plane that a file's comments name, as this program writes them; else None."""
    for line in content.splitlines():
        if line.lstrip().startswith(b"!"):
            key, _, value = line.lstrip(b" \t!").decode("latin-1").partition(":")
            if key.strip() == "plane" and value.strip() in list(Plane):
                return Plane(value.strip())
    return None
