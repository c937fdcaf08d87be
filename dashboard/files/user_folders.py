"""Where a user's own files live, on each system where its users expect them."""

from __future__ import annotations

from pathlib import Path

from platformdirs import user_config_path, user_data_path

NAME = "bandwright"


def profiles() -> Path:
    """Folder of the user's own profiles; it may not exist."""
    return user_config_path(NAME, appauthor=False) / "profiles"


def trusted_profiles() -> Path:
    """The sums of profiles of others that the user has trusted; it may not exist."""
    return user_config_path(NAME, appauthor=False) / "trusted-profiles"


def kits() -> Path:
    """Folder of the user's own calibration kits; it may not exist."""
    return user_config_path(NAME, appauthor=False) / "kits"


def calibrations() -> Path:
    """Folder where calibrations are kept unless another file is named; it may not exist."""
    return user_data_path(NAME, appauthor=False) / "calibrations"


def records() -> Path:
    """Folder where acceptance records are kept unless another is named; it may not exist."""
    return user_data_path(NAME, appauthor=False) / "records"


def learned() -> Path:
    """Folder where what dimensions do is kept, recipe by recipe; it may not exist."""
    return user_data_path(NAME, appauthor=False) / "learned"


def practice() -> Path:
    """Folder for what the demo leaves behind, apart from what was measured; it may not exist."""
    return user_data_path(NAME, appauthor=False) / "practice"


def recent(*, invented: bool = False) -> Path:
    """Folder of what was used lately, to be offered again; it may not exist.

    invented : on the virtual bench of the demo, apart from what was measured.
    """
    if invented:
        return practice() / "recent"
    return user_data_path(NAME, appauthor=False) / "recent"


def faults() -> Path:
    """Folder of what went wrong by a fault of this program, for a report; it may not exist."""
    return user_data_path(NAME, appauthor=False) / "faults"


def check_pieces(*, invented: bool = False) -> Path:
    """Folder of the readings of the bench's check pieces; it may not exist.

    invented : of the virtual bench's, apart from what was measured.
    """
    if invented:
        return practice() / "check-pieces"
    return user_data_path(NAME, appauthor=False) / "check-pieces"
