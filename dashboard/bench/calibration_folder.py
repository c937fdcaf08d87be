"""Calibrations made on the page: kept in the user's folder, and what is said of them."""

from __future__ import annotations

from pathlib import Path

from acceptance.record.acceptance_record import safe_name
from calibration.files.store import save_calibration
from calibration.one_port_calibration import Calibration


def keep(calibration: Calibration, folder: Path) -> Path:
    """Keep a calibration in a folder, named by analyzer and time, and return its path.

    Raises StoredCalibrationError where it cannot be written.
    """
    name = f"{safe_name(calibration.source.analyzer)}_{calibration.taken_at:%Y-%m-%dT%H%M%SZ}.json"
    save_calibration(calibration, folder / name)
    return folder / name


def words(calibration: Calibration, path: Path | None = None) -> str:
    """What a calibration is, in one or two sentences."""
    low, high = calibration.frequency_hz[0] / 1e6, calibration.frequency_hz[-1] / 1e6
    cable = f', the test cable "{calibration.cable}"' if calibration.cable else ""
    kept = "" if path is None else f" Kept in {path}."
    return (
        f"Calibrated {calibration.taken_at.astimezone():%Y-%m-%d %H:%M} with "
        f"{calibration.kit.label}, {low:.0f} to {high:.0f} MHz{cable}.{kept}"
    )
