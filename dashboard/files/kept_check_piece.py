"""One reading of the bench's check piece: judged, and kept with those before it.

Page and command line go through the same steps here.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from acceptance.batch.piece_chart import judged_piece
from acceptance.verdict.judged_sweep import JudgedReading
from acquire.sweep import Sweep
from calibration.one_port_calibration import Calibration
from calibration.verification.check_piece import (
    DEFAULT_TOLERANCE_DB,
    PieceReading,
    piece_reading,
)
from dashboard.errors import SetupError
from dashboard.files.check_pieces import add_reading, piece_readings

USUAL_NAME = "check piece"
VIRTUAL_PIECE = "check piece"
"""The virtual bench's: two loads on a tee."""
LEAST_DB, MOST_DB = 1.0, 30.0
LONGEST_NAME = 60


def keep_reading(
    folder: Path,
    piece: str,
    swept: JudgedReading[Sweep],
    calibration: Calibration,
    *,
    stated_db: float | None = None,
    tolerance_db: float | None = None,
) -> tuple[PieceReading, Sequence[PieceReading]]:
    """Judge a sweep of the piece at the connector, and write it down.

    folder : where readings are kept. stated_db, tolerance_db : what its return loss is stated to
    be, and how far off; None takes what was stated of it last. Returns the reading, and all of
    the piece, it included. Raises SetupError for figures that are none, RecordError where it
    cannot be written.
    """
    name = piece.strip() or USUAL_NAME
    before = [each for each in piece_readings(folder) if each.piece == name]
    last = before[-1] if before else None
    stated = stated_db if stated_db is not None or last is None else last.stated_db
    kept_tolerance = DEFAULT_TOLERANCE_DB if last is None else last.tolerance_db
    tolerance = kept_tolerance if tolerance_db is None else tolerance_db
    require_figures(name, stated, tolerance)
    found = judged_piece(
        piece_reading(
            name,
            swept.reading,
            swept.interval,
            calibration.made,
            stated_db=stated,
            tolerance_db=tolerance,
        ),
        before,
    )
    add_reading(folder, found)
    return found, (*before, found)


def require_figures(piece: str, stated_db: float | None, tolerance_db: float | None) -> None:
    """Raise SetupError where a piece is not described as one can be."""
    if len(piece) > LONGEST_NAME or not piece.isprintable():
        raise SetupError(
            f"A check piece's name has {LONGEST_NAME} letters at most. Give it a shorter one."
        )
    if stated_db is not None and not LEAST_DB <= stated_db <= MOST_DB:
        raise SetupError(
            f"A check piece reads {LEAST_DB:g} to {MOST_DB:g} dB, near the limit, not "
            f"{stated_db:g}. 5 dB of pad with an open read 10, two loads on a tee 9.54."
        )
    if tolerance_db is not None and not 0 <= tolerance_db <= 3:
        raise SetupError(f"How far it may be off is 0 to 3 dB, not {tolerance_db:g}.")
