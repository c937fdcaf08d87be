"""The last calibrations of each analyzer, kept on this machine to hold the next one against.

A folder an analyzer, named by it; in it one file a calibration, as they are stored anywhere. Its
name begins with a sum of what tells one analyzer and cable from another, so that those of one cable
never push out those of another.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections import defaultdict
from pathlib import Path

from acceptance.record.acceptance_record import safe_name
from calibration.errors import StoredCalibrationError
from calibration.files.store import load_calibration, save_calibration
from calibration.one_port_calibration import Calibration
from calibration.verification.past_calibrations import MOST_COMPARED

FOLDER = "history"
"""Beside the calibrations themselves."""
MOST_KEPT = 2 * MOST_COMPARED
"""Of one analyzer and cable; those in doubt count as well."""


def past_calibrations(folder: Path, analyzer: str) -> list[Calibration]:
    """What is kept of an analyzer, whatever the cable; what cannot be read is left aside.

    folder : where calibrations are kept.
    """
    found = []
    for path in sorted((folder / FOLDER / safe_name(analyzer)).glob("*.json")):
        with contextlib.suppress(StoredCalibrationError):  # one less to compare with, no more
            found.append(load_calibration(path))
    return found


def remember(calibration: Calibration, folder: Path) -> None:
    """Keep a calibration to hold the next ones against, in place of what was kept of it before.

    The oldest of its analyzer and cable go. Raises StoredCalibrationError where it cannot be
    written.
    """
    own = folder / FOLDER / safe_name(calibration.source.analyzer)
    at = f"{calibration.taken_at:%Y-%m-%dT%H%M%S%f}"
    save_calibration(calibration, own / f"{_sum(calibration)}_{at}Z.json")
    kept: defaultdict[str, list[Path]] = defaultdict(list)
    for path in sorted(own.glob("*.json")):
        kept[path.name.partition("_")[0]].append(path)
    for old in kept[_sum(calibration)][:-MOST_KEPT]:
        with contextlib.suppress(OSError):  # one more than needed does no harm
            old.unlink()


def _sum(calibration: Calibration) -> str:
    source = calibration.source
    identity = (source.kind, source.analyzer, source.profile, source.usb_sum, calibration.cable)
    return hashlib.sha256("\0".join(identity).encode()).hexdigest()[:12]
