"""The risk that a band was passed falsely: that any point of it lies beyond its limit in truth.

It holds if what was stated of the standards holds. A band's points share their causes, each of
which has one value across the band; which points count is told by how near, in units of their own
uncertainty, they come to the limit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from acceptance.limits.decision import State, most_severe
from acceptance.verdict.band_verdict import BandVerdict
from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.error_sum import NORMAL_95
from calibration.uncertainty.exceedance import Exceedance, Indices, Readings
from calibration.uncertainty.interval import Interval

CONDITION = "if what was stated of the standards holds"
"""What every risk that is told goes with."""
LEAST_POINTS, MOST_POINTS = 3, 24
"""So many points of a band are asked, its nearest to the limit among them: one more for every turn
of the reading's phase by POINT_EVERY. Between two neighbours of them little changes."""
POINT_EVERY = np.deg2rad(18)
MOST_POINTS_TOGETHER = 24
"""So many of all bands, for the risk of the whole."""
FAR = 1.25
"""A point this many times its uncertainty inside its limit is beyond it in less than 1 of 200, and
only where all others are as far does it count."""
FURTHER = 0.25
LEAST_SIZE = 1e-12
DIGITS = 6
"""Distances that differ by less are one, so that each machine asks the same points."""


@dataclass(frozen=True, slots=True, eq=False)
class WithinLimit:
    """A band whose every point was read within its limit."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    reflection: ComplexArray
    """Shape (points,)."""
    size: FloatArray
    """|reflection|, and what interpolation may have missed of it; linear, shape (points,)."""
    upward: FloatArray
    """How much larger the truth may be, about 95 %, linear, shape (points,)."""
    limit: float

    def nearest(self) -> Indices:
        """The points to ask, in order of frequency."""
        away = np.round((self.limit - self.size) / np.maximum(self.upward, LEAST_SIZE), DIGITS)
        counting = np.flatnonzero(away <= max(FAR, float(away.min()) + FURTHER))
        read = self.reflection[counting]
        step = read[1:] * read[:-1].conj()
        turn = float(np.abs(np.arctan2(step.imag, step.real)).sum())
        most = min(LEAST_POINTS + int(turn / POINT_EVERY), MOST_POINTS)
        return _spread(counting, int(np.argmin(away)), most)


@dataclass(frozen=True, slots=True)
class Risks:
    """Probabilities of false passes."""

    bands: tuple[float, ...]
    """Of each band by itself: that any of its points lies beyond its limit."""
    overall: float
    """That any band does."""


def false_pass_risks(within: Sequence[WithinLimit], uncertainty: Interval) -> Risks:
    """Work the risks out; one band or more.

    Between bands the phase of one cause need not be the same: the risk of the whole is the larger
    of that with one phase for all bands and that with a phase for each, and never above the sum.
    Where only the interval's ends are known the law is taken as normal.
    """
    if uncertainty.budget is None:
        return _all_apart([_normal_risk(each) for each in within])
    chosen = [each.nearest() for each in within]
    drawn = Exceedance(
        uncertainty.budget, _readings(within, chosen, uncertainty.budget.frequency_hz)
    )
    own = _numbered(chosen)
    most = max(each.size for each in own)
    # a band with fewer has its last one more often
    padded = np.array([each[np.minimum(np.arange(most), each.size - 1)] for each in own])
    risks = drawn.any_of(padded.T).tolist()
    apart = _all_apart(risks)
    if len(within) == 1:
        return apart
    share = max(MOST_POINTS_TOGETHER // len(within), 1)
    together = []
    for band, points, numbers in zip(within, chosen, own, strict=True):
        nearest = int(np.argmin(np.round((band.limit - band.size)[points], DIGITS)))
        together.append(_spread(numbers, int(numbers[nearest]), share))
    shared = float(drawn.any_of(np.concatenate(together)[:, None])[0])
    return Risks(apart.bands, min(max(apart.overall, shared), sum(risks)))


def _numbered(chosen: Sequence[Indices]) -> list[Indices]:
    """The points of every band as they stand one after the other."""
    ends = np.cumsum([each.size for each in chosen]).tolist()
    return [np.arange(end - each.size, end) for each, end in zip(chosen, ends, strict=True)]


def overall_of(bands: Sequence[BandVerdict], risk: float | None, wanted: float | None) -> State:
    """The state of the whole: that of its bands; no pass where they keep to the risk that the plan
    wants one by one and not together."""
    state = most_severe(band.state for band in bands)
    if state is State.PASS and wanted is not None and risk is not None and risk > wanted:
        return State.CONDITIONAL_PASS
    return state


def with_risks(
    judged: Sequence[tuple[BandVerdict, WithinLimit | None]],
    uncertainty: Interval | None,
    wanted: float | None,
) -> tuple[tuple[BandVerdict, ...], float | None]:
    """The bands with their risks of a false pass, and the risk of the whole."""
    bands = [band for band, _ in judged]
    within = [(at, curve) for at, (_, curve) in enumerate(judged) if curve is not None]
    if uncertainty is None or not within:
        return tuple(bands), None
    risks = false_pass_risks([curve for _, curve in within], uncertainty)
    for (at, _), risk in zip(within, risks.bands, strict=True):
        risky = wanted is not None and risk > wanted and bands[at].state is State.PASS
        state = State.CONDITIONAL_PASS if risky else bands[at].state
        bands[at] = replace(bands[at], state=state, false_pass_risk=risk)
    return tuple(bands), risks.overall


def risk_notes(
    bands: Sequence[BandVerdict], risk: float | None, wanted: float | None
) -> Sequence[str]:
    """What is to be said where only all bands together are riskier than the plan allows."""
    if overall_of(bands, risk, wanted) is most_severe(band.state for band in bands):
        return ()
    return (
        "Each band by itself keeps to the risk of a false pass that the plan allows, and all of "
        "them together do not: so it is a conditional pass.",
    )


def _all_apart(risks: Sequence[float]) -> Risks:
    """Of the whole, as if no two bands shared a cause: one less that no band is beyond it."""
    overall = 1 - math.prod(1 - each for each in risks)
    return Risks(tuple(risks), max(overall, *risks, 0.0))


def _normal_risk(band: WithinLimit) -> float:
    """Largest of 1 - Phi((limit - size) / u), u = U / 1.96 (JCGM 106, clause 7 [memory])."""
    standard = np.maximum(band.upward / NORMAL_95, LEAST_SIZE)
    nearest = float(((band.limit - band.size) / standard).min())
    return 0.5 * math.erfc(nearest / math.sqrt(2))


def _spread(counting: Indices, always: int, most: int) -> Indices:
    """So many of these, evenly, their ends and the one that always counts among them."""
    if counting.size <= most:
        return counting
    last, steps = counting.size - 1, max(most - 2, 1)
    evenly = {int(counting[last * each // steps]) for each in range(most - 1)}
    return np.array(sorted(evenly | {always}), dtype=np.intp)


def _readings(
    within: Sequence[WithinLimit], chosen: Sequence[Indices], grid: FloatArray
) -> Readings:
    """The points of all bands, one after the other, each at the nearest one of the grid's."""
    pairs = list(zip(within, chosen, strict=True))
    frequency = np.concatenate([band.frequency_hz[points] for band, points in pairs])
    reflection = np.concatenate([band.reflection[points] for band, points in pairs])
    size = np.concatenate([band.size[points] for band, points in pairs])
    limit = np.concatenate([np.full(points.size, band.limit) for band, points in pairs])
    middles = (grid[:-1] + grid[1:]) / 2
    read: ComplexArray = np.where(np.abs(reflection) < LEAST_SIZE, LEAST_SIZE + 0j, reflection)
    sized: ComplexArray = np.maximum(size, LEAST_SIZE) / np.abs(read) * read
    return Readings(np.searchsorted(middles, frequency), sized, limit)
