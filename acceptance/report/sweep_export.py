"""A sweep in open forms, for whatever else reads it: CSV for spreadsheets, JSON for programs.

Touchstone is `acquire.touchstone.reader`'s; a sweep's own `to_network` gives scikit-rf's Network.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from acceptance.bands.band_table import Span
from acceptance.limits.match import impedance_ohm, return_loss_db, vswr
from acceptance.verdict.band_verdict import known
from acceptance.verdict.plan_verdict import Verdict, source_as_json
from acquire.sweep import FloatArray, Plane, Sweep
from calibration.uncertainty.covariance import covariance
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
    "variance_real",
    "covariance_real_imaginary",
    "variance_imaginary",
)
"""What each column of the CSV holds. Return loss is positive, and its two ends are the interval of
about 95 %. The last three are the covariance of real and imaginary part, linear. What is not known
is empty; so is impedance where the plane is the analyzer's own."""


def as_csv(
    sweep: Sweep,
    interval: Interval | None = None,
    *,
    part: Span | None = None,
    held: Sequence[tuple[str, Sweep]] = (),
) -> str:
    """One line a point, RFC 4180, points for decimals in every locale; empty: not known.

    sweep : at any plane. interval : how far each of its points can be trusted, if it is known.
    part : only the points in this range of frequencies; None: all. held : sweeps of the same
    frequencies whose return loss stands in columns of its own, each by its name.
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
        *_covariance(sweep, interval),
        *(return_loss_db(each.reflection) for _, each in held),
    )
    low_hz, high_hz = part or (-np.inf, np.inf)
    rows = (
        ",".join(repr(float(value)) if np.isfinite(value) else "" for value in row)
        for row in zip(*columns, strict=True)
        if low_hz <= row[0] <= high_hz
    )
    names = (*COLUMNS, *(_quoted(f"return_loss_db of {name}") for name, _ in held))
    return "".join(f"{line}\r\n" for line in (",".join(names), *rows))


def _quoted(text: str) -> str:
    """A cell of free text, after RFC 4180."""
    doubled = text.replace('"', '""')
    return f'"{doubled}"'


def as_object(
    sweep: Sweep, interval: Interval | None = None, verdict: Verdict | None = None
) -> dict[str, object]:
    """A sweep and what is known of it, as JSON has it; what is not known is null.

    Of each cause of uncertainty it holds the law and, point by point, what it does to the reading:
    times any phase, times the cosine of any phase, or times a complex normal number whose
    components have a deviation of 1. Where `every_point` says so, each point has another; else one
    number goes for all of them.
    """
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
        **_uncertainty_as_object(sweep, interval),
        "verdict": None if verdict is None else verdict.answer(),
    }


def _covariance(
    sweep: Sweep, interval: Interval | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Variance of the real part, covariance, variance of the imaginary part, shape (points,)."""
    if interval is None or interval.budget is None:
        hidden = np.full(sweep.points, np.nan)
        return hidden, hidden, hidden
    found = covariance(interval.budget, sweep.reflection)
    return found[:, 0, 0], found[:, 0, 1], found[:, 1, 1]


def _uncertainty_as_object(sweep: Sweep, interval: Interval | None) -> dict[str, object]:
    """Covariance and causes; nothing where they are not known."""
    if interval is None or interval.budget is None:
        return {}
    columns = zip(COLUMNS[-3:], _covariance(sweep, interval), strict=True)
    causes = []
    for each in interval.budget.contributions:
        value = each.at(sweep.reflection)
        causes.append(
            {
                "name": each.name,
                "cause": each.cause or each.name,
                "origin": each.origin,
                "words": each.words,
                "law": each.law,
                "every_reading": each.anew,
                "every_point": each.by_point,
                "real": _numbers(value.real),
                "imaginary": _numbers(value.imag),
            }
        )
    return {**{name: _numbers(values) for name, values in columns}, "causes": causes}


def _numbers(values: FloatArray) -> list[float | None]:
    return [known(float(value)) for value in values]
