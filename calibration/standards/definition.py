"""How far a standard may be from what its kit says, and which way.

The plane of an open or a short turns what it reflects, by an angle along a known direction; all
else has a bound and no direction. Budget and the agreement of four standards take it from here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import FloatArray
from calibration.standards.standard import DataStandard, IdealStandard, Standard
from calibration.uncertainty.budget import DEFAULT_LOAD_DB, Assumptions, Origin


@dataclass(frozen=True, slots=True, eq=False)
class Definition:
    """What may be wrong with one standard's definition."""

    size: FloatArray
    """Bound of what has no known direction, linear, shape (points,)."""
    turn: FloatArray | None
    """Largest angle by which the plane turns the reflection, radian, at most pi, shape (points,);
    None for a load and for data, whose phase is as unsure as their size."""
    origin: Origin
    words: str
    """Where the figures come from, in a few words."""

    @property
    def bound(self) -> FloatArray:
        """How far it may be off in any direction, linear, shape (points,): |exp(j turn) - 1| is
        2 sin(turn / 2)."""
        if self.turn is None:
            return self.size
        both: FloatArray = np.hypot(2 * np.sin(self.turn / 2), self.size)
        return both


def definition_of(
    standard: Standard,
    frequency_hz: FloatArray,
    assumptions: Assumptions,
    load_db: float | None = None,
) -> Definition:
    """What is stated or assumed of a standard.

    load_db : a load's return loss, dB, where it is stated.
    """
    points = frequency_hz.shape
    if isinstance(standard, DataStandard):
        known = standard.error_at(frequency_hz)
        size = np.full(points, assumptions.data_error) if known is None else known
        data_origin: Origin = "assumed" if known is None else "stated"
        return Definition(size, None, data_origin, f"data good to {size.max():.2g} {data_origin}")
    if standard.kind == "load":
        decibels = DEFAULT_LOAD_DB if load_db is None else load_db
        origin: Origin = "assumed" if load_db is None else "stated"
        size = np.full(points, 10 ** (-decibels / 20))
        return Definition(size, None, origin, f"{decibels:g} dB {origin}, phase unknown")
    ideal = isinstance(standard, IdealStandard)
    offset_ps = assumptions.ideal_offset_ps if ideal else assumptions.modelled_offset_ps
    words = f"{'called ideal' if ideal else 'modelled'}, plane known to {offset_ps:g} ps"
    turn = np.minimum(4 * np.pi * frequency_hz * offset_ps * 1e-12, np.pi)
    return Definition(np.full(points, assumptions.definition_floor), turn, "assumed", words)
