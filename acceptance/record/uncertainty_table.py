"""How far each point of a condition can be trusted, as a table that a spreadsheet reads.

RFC 4180, points for decimals in every locale; an empty cell is not known. The residuals are what
the calibration leaves of its three error terms, about 95 %, linear.
"""

from __future__ import annotations

import csv

import numpy as np

from acceptance.limits.match import return_loss_db
from acquire.sweep import FloatArray
from calibration.uncertainty.interval import Interval, Residuals

COLUMNS = (
    "frequency_hz",
    "return_loss_db",
    "return_loss_low_db",
    "return_loss_high_db",
    "trust_floor_db",
    "residual_directivity",
    "residual_tracking",
    "residual_source_match",
)
"""What each column holds: the reading, the ends of its interval of about 95 %, what a reading
there must not exceed to be proven, and the residuals."""


def uncertainty_table(interval: Interval, residuals: Residuals) -> FloatArray:
    """The table's values, shape (points, columns); infinite where the truth may reflect nothing."""
    low_db, high_db = interval.return_loss_db
    columns = (
        interval.frequency_hz,
        return_loss_db(interval.reflection),
        low_db,
        high_db,
        return_loss_db(interval.floor),
        residuals.directivity,
        residuals.tracking,
        residuals.source_match,
    )
    return np.stack(columns, axis=1)


def format_uncertainty_table(table: FloatArray) -> bytes:
    """The file's content."""
    rows = (
        ",".join(repr(value) if np.isfinite(value) else "" for value in row)
        for row in table.tolist()
    )
    return "".join(f"{line}\r\n" for line in (",".join(COLUMNS), *rows)).encode("ascii")


def parse_uncertainty_table(content: bytes) -> FloatArray:
    """The values again, nan where a cell is empty. Raises ValueError where it is no such table."""
    rows = list(csv.reader(content.decode("ascii").splitlines()))
    if not rows or tuple(rows[0]) != COLUMNS or any(len(row) != len(COLUMNS) for row in rows):
        raise ValueError("the table of trust has other columns")
    values = [[float(cell) if cell else np.nan for cell in row] for row in rows[1:]]
    return np.array(values, dtype=np.float64).reshape(-1, len(COLUMNS))


def same_table(recorded: FloatArray, recomputed: FloatArray, tolerance: float) -> bool:
    """True where two tables agree, relatively, or absolutely below 1; not known is not known."""
    known = np.where(np.isfinite(recomputed), recomputed, np.nan)
    recorded = recorded.copy()
    # former versions wrote ends below 0 dB, which nothing passive has
    recorded[:, 2:4] = np.maximum(recorded[:, 2:4], 0.0)
    return recorded.shape == recomputed.shape and bool(
        np.allclose(recorded, known, rtol=tolerance, atol=tolerance, equal_nan=True)
    )
