"""The test cable by the name that a person gives it, and whether a calibration is of it."""

from __future__ import annotations

from pathlib import Path

from calibration.files.calibration_file import LONGEST_CABLE_NAME
from calibration.files.store import load_calibration
from calibration.one_port_calibration import Calibration
from dashboard.errors import SetupError


def cable_name(typed: str) -> str:
    """A cable's name as it is kept. Raises SetupError for one that is too long."""
    name = " ".join(typed.split())
    if len(name) > LONGEST_CABLE_NAME or not name.isprintable():
        raise SetupError(
            f"A cable's name has at most {LONGEST_CABLE_NAME} letters that can be printed, and "
            f"this one has {len(name)}. Give it a shorter one."
        )
    return name


def require_cable(calibration: Calibration, typed: str) -> None:
    """Raise SetupError where a calibration is not known to be of the cable that is in use.

    typed : the name of the cable in use; empty: nobody named it, and nothing is asked.
    """
    name = cable_name(typed)
    if not name or calibration.cable == name:
        return
    made = f"{calibration.taken_at.astimezone():%Y-%m-%d %H:%M}"
    if calibration.cable:
        raise SetupError(
            f'The calibration of {made} was made with the test cable "{calibration.cable}", and '
            f'"{name}" is in use. A calibration holds for its own cable alone: take that one, or '
            "calibrate anew."
        )
    raise SetupError(
        f"The calibration of {made} does not say which test cable it was made with, so it cannot "
        f'be told whether that was "{name}". Calibrate with --cable "{name}", or leave --cable '
        "out."
    )


def calibration_of(path: Path, typed: str) -> Calibration:
    """Load a calibration, and hold its cable against the one in use.

    Raises StoredCalibrationError, and SetupError as `require_cable` does.
    """
    calibration = load_calibration(path)
    require_cable(calibration, typed)
    return calibration
