"""How far apart two antennas' margins are in a band, and how sure that is.

Two readings under one calibration have most of its errors in common: what is wrong with the load is
wrong alike in both, and gone from their difference. Under two calibrations nobody knows what they
share, so each reading's own uncertainty counts in full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acceptance.catalogue.record_summary import Judged
from acceptance.record.conditions import SweptCondition
from acceptance.record.examination import Examined, ExaminedCondition
from acceptance.verdict.band_verdict import BandVerdict, known
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.covariance import uncertainty_of, uncertainty_of_difference


@dataclass(frozen=True, slots=True)
class MarginDifference:
    """The margins of two antennas in one band."""

    difference_db: float
    """The second's margin less the first's."""
    uncertainty_db: float
    """How far that may be off, about 95 %."""
    one_calibration: bool
    """True where both were swept under one calibration, on one grid, so that what it has wrong
    alike in both is left out."""

    @property
    def words(self) -> str:
        """One sentence."""
        how = (
            "one calibration corrected both, and what it has wrong alike is left out"
            if self.one_calibration
            else "they were not swept under one calibration, so each may be off by its own"
        )
        apart = f"{abs(self.difference_db):.1f} ± {self.uncertainty_db:.1f} dB apart ({how})"
        if abs(self.difference_db) > self.uncertainty_db:
            return f"They are {apart}."
        return f"They read {apart}: that is no more than the readings may be off."


def margin_difference(
    judged: Judged, pair: Sequence[tuple[str, Examined]]
) -> MarginDifference | None:
    """Of two antennas; None where a margin or its uncertainty is not known.

    pair : the condition of each, by name, and its record worked out.
    """
    found = [_in_band(judged, name, examined) for name, examined in pair]
    if any(each is None for each in found):
        return None
    one, other = (each for each in found if each is not None)
    first, second = one.band.margin_or_bound_db, other.band.margin_or_bound_db
    here = one.swept.depth_at(one.band.worst_frequency_hz)
    there = other.swept.depth_at(other.band.worst_frequency_hz)
    if first is None or second is None or here is None or there is None:
        return None
    shared = _is_one(*(examined.acceptance.calibration for _, examined in pair))
    if shared and np.array_equal(here.budget.frequency_hz, there.budget.frequency_hz):
        unsure = uncertainty_of_difference(here, there)
    else:
        shared, unsure = False, uncertainty_of(here) + uncertainty_of(there)
    if known(unsure) is None:
        return None
    return MarginDifference(second - first, unsure, shared)


@dataclass(frozen=True, slots=True, eq=False)
class _InBand:
    """One antenna's band, and the sweep that it was judged by."""

    band: BandVerdict
    swept: SweptCondition


def _in_band(judged: Judged, name: str, examined: Examined) -> _InBand | None:
    condition = next((one for one in examined.conditions if one.condition.name == name), None)
    if condition is None:
        return None
    for band in condition.verdict.bands:
        if (band.name, band.link, band.low_hz, band.high_hz, band.limit) == (
            judged.name,
            judged.link,
            judged.low_hz,
            judged.high_hz,
            judged.limit,
        ):
            return _InBand(band, _swept(condition))
    return None


def _swept(condition: ExaminedCondition) -> SweptCondition:
    return SweptCondition(
        condition.condition.name,
        condition.dips,
        condition.verdict,
        condition.interval.budget,
        condition.corrected.reflection,
    )


def _is_one(one: Calibration | None, other: Calibration | None) -> bool:
    """True for one calibration, whatever was measured of it since."""
    if one is None or other is None or one.made != other.made or one.source != other.source:
        return False
    return all(
        np.array_equal(getattr(one.terms, name), getattr(other.terms, name))
        for name in ("frequency_hz", "directivity", "source_match", "reflection_tracking")
    )
