"""A sweep in open forms, for whatever else reads it: CSV for spreadsheets, JSON for programs.

Touchstone is `acquire.touchstone.reader`'s; a sweep's own `to_network` gives scikit-rf's Network.
"""

from __future__ import annotations

import numpy as np

from acceptance.limits.match import impedance_ohm, return_loss_db, vswr
from acceptance.verdict.band_verdict import known
from acceptance.verdict.plan_verdict import Verdict, source_as_json
from acquire.sweep import FloatArray, Plane, Sweep
from calibration.uncertainty.interval import Interval

COLUMNS = (
    "frequency_hz",
    "real",
    "imaginary",
    "return_loss_db",
    "vswr",
    "resistance_ohm",
    "reactance_ohm",
    "return_loss_low_db",
    "return_loss_high_db",
)
"""What each column of the CSV holds. Return loss is positive; the last two are the interval of
about 95 %, empty where none is known; impedance is empty where the plane is the unit's own."""


def as_csv(sweep: Sweep, interval: Interval | None = None) -> str:
    """One line a point, RFC 4180, points for decimals in every locale; empty: not known.

    sweep : at any plane. interval : how far each of its points can be trusted, if it is known.
    """
    low, high = (None, None) if interval is None else interval.return_loss_db
    reflection = sweep.reflection
    impedance = impedance_ohm(reflection)
    hidden = np.full(sweep.points, np.nan)
    raw = sweep.plane is Plane.RAW
    columns = (
        sweep.frequency_hz,
        reflection.real,
        reflection.imag,
        return_loss_db(reflection),
        vswr(reflection),
        hidden if raw else impedance.real,
        hidden if raw else impedance.imag,
        hidden if low is None else low,
        hidden if high is None else high,
    )
    rows = (
        ",".join(repr(float(value)) if np.isfinite(value) else "" for value in row)
        for row in zip(*columns, strict=True)
    )
    return "".join(f"{line}\r\n" for line in (",".join(COLUMNS), *rows))


def as_object(
    sweep: Sweep, interval: Interval | None = None, verdict: Verdict | None = None
) -> dict[str, object]:
    """A sweep and what is known of it, as JSON has it; what is not known is null."""
    low, high = (None, None) if interval is None else interval.return_loss_db
    return {
        "plane": str(sweep.plane),
        "taken_at": sweep.taken_at.isoformat(),
        "sequence": sweep.sequence,
        "source": source_as_json(sweep.source),
        "invented": sweep.source.kind == "virtual",
        "frequency_hz": sweep.frequency_hz.tolist(),
        "real": _numbers(sweep.reflection.real),
        "imaginary": _numbers(sweep.reflection.imag),
        "return_loss_low_db": None if low is None else _numbers(low),
        "return_loss_high_db": None if high is None else _numbers(high),
        "trust_floor_db": None if interval is None else _numbers(return_loss_db(interval.floor)),
        "verdict": None if verdict is None else verdict.answer(),
    }


def _numbers(values: FloatArray) -> list[float | None]:
    return [known(float(value)) for value in values]
