"""The budget of a calibration together with all that was measured of it since.

Known devices and standards put back are judged by the budget of their own moment. What they
prove then bounds the budget (`calibration.verification.residual_bounds`); what drifted up to the
newest check is what the check shows, and from there on drift grows again at the assumed rate.

What contradicts stands until the same device or standard agrees: another one, measured later, may
be blind to what the first one saw. A load, for one, says nothing of tracking.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from acquire.coverage.spans import Span
from acquire.sweep import FloatArray, Plane, Sweep
from calibration.calibration_budget import budget_of, drift, on_grid
from calibration.capture.standard_capture import StandardReading
from calibration.evidence import ConnectionRepeats
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.verification.device_comparison import Verification, verify
from calibration.verification.drift import Drift, drift_since
from calibration.verification.repeatability import (
    LEAST_TAKES,
    UNLIKE_STANDARD_FACTOR,
    Repeatability,
    repeatability,
    rms_between,
    with_own_take,
)
from calibration.verification.residual_bounds import bound_by, is_small

SAME_DRIFT_WITHIN = timedelta(minutes=15)
"""Standards put back within so long of the newest one show the drift of one moment."""


@dataclass(frozen=True, slots=True, eq=False)
class EvidenceResults:
    """What the evidence says."""

    devices: tuple[Verification, ...]
    drifts: tuple[Drift, ...]
    repeatability: Repeatability | None

    @property
    def contradictions(self) -> tuple[Verification | Drift, ...]:
        """What does not agree with the calibration, the oldest first."""
        against: list[Verification | Drift] = [each for each in self.devices if not each.passed]
        against += [each for each in self.drifts if each.advice == "recalibrate"]
        return tuple(sorted(against, key=lambda each: each.taken_at))

    def youngest_agreement(self) -> datetime | None:
        """When a known device last agreed with the calibration; None if none ever did.

        Whatever contradicts takes that back.
        """
        if self.contradictions:
            return None
        counted = [each.taken_at for each in self.devices if not each.asks]
        return max(counted, default=None)

    def youngest_drift_check(self) -> datetime | None:
        """When something last showed that nothing had drifted; None if nothing ever did.

        A standard put back, or a known device, that reflects: what reflects next to nothing
        tells of directivity alone. Whatever contradicts takes that back.
        """
        if self.contradictions:
            return None
        unchanged = [each.check for each in self.drifts if each.advice == "carry on"]
        seen = [each for each in (*self.devices, *unchanged) if not is_small(each)]
        return max((each.taken_at for each in seen), default=None)


def evidence_results(
    calibration: Calibration, assumptions: Assumptions, spans: Sequence[Span] | None = None
) -> EvidenceResults:
    """Judge every piece of a calibration's evidence.

    spans : the bands to judge drift by, Hz; None takes the calibration's own spans.
    """
    evidence = calibration.evidence
    remade = [
        _remade(calibration, each, assumptions, spans) for each in evidence.connection_repeats
    ]
    repeats = _repeats(calibration, remade)
    rms = None if repeats is None else repeats.rms
    devices = []
    for one in evidence.devices:
        age_s = (one.taken_at - calibration.taken_at).total_seconds()
        sweeps = one.reading.sweeps
        budget = budget_of(calibration, assumptions, age_s=age_s, sweeps=sweeps, connection_rms=rms)
        sweep = as_sweep(calibration, one.reading, one.taken_at)
        devices.append(verify(calibration, budget, one.device, sweep))
    drifts = [
        drift_since(
            calibration,
            one.standard,
            as_sweep(calibration, one.reading, one.taken_at),
            assumptions=assumptions,
            sweeps=one.reading.sweeps,
            connection_rms=rms,
            spans=spans,
        )
        for one in evidence.drift_checks
    ]
    loose = [each for each in remade if each.advice == "recalibrate"]
    return EvidenceResults(tuple(devices), (*drifts, *loose), repeats)


def verified_budget(
    calibration: Calibration,
    assumptions: Assumptions,
    at: datetime,
    *,
    swept: int = 0,
    sweeps: int = 1,
    frequency_hz: FloatArray | None = None,
) -> Budget:
    """Say what can be wrong with a reading at some time, by all that is known by then.

    at : when the reading was taken. The rest as `budget_of` takes it; swept counts from the
    drift check on, where there is one.
    Evidence from after `at` counts as well: it is of the same calibration.
    """
    found = evidence_results(calibration, assumptions)
    drifted = _standing(found.drifts)
    times = [each.taken_at for each in drifted or found.devices] or [at]
    bounded_at = min(times) if drifted else max(times)
    budget = budget_of(
        calibration,
        assumptions,
        age_s=(bounded_at - calibration.taken_at).total_seconds(),
        sweeps=sweeps,
        connection_rms=None if found.repeatability is None else found.repeatability.rms,
    )
    budget = bound_by(budget, [*found.devices, *(each.check for each in drifted)])
    if drifted:
        since = at - bounded_at
        name, words = "drift since the check", "a standard was put back"
    else:
        since = at - calibration.taken_at
        budget, name, words = budget.without("drift"), "drift", "calibrating"
    later = drift(
        calibration.terms, assumptions, since.total_seconds(), swept, name=name, since=words
    )
    return on_grid(
        replace(budget, contributions=(*budget.contributions, *later)), calibration, frequency_hz
    )


def as_sweep(calibration: Calibration, reading: StandardReading, taken_at: datetime) -> Sweep:
    """A captured reading as the raw sweep it stands for."""
    return Sweep(
        frequency_hz=reading.frequency_hz,
        reflection=np.asarray(reading.reflection),
        plane=Plane.RAW,
        taken_at=taken_at,
        sequence=1,
        source=calibration.source,
        request=calibration.request,
    )


def _remade(
    calibration: Calibration,
    repeats: ConnectionRepeats,
    assumptions: Assumptions,
    spans: Sequence[Span] | None,
) -> Drift:
    """A standard that was made anew, held against the making it was calibrated by.

    What the new makings differ from each other by is allowed, or what is assumed, if that is more:
    a nut that was loose while calibrating lies far outside both. Never so much that what differs
    like another standard would pass.
    """
    load_db = assumptions.load_stated_db(calibration.kit.load_return_loss_db)
    assumed = assumptions.connection_behind(load_db) * np.maximum(
        calibration.frequency_hz / 1e9, 0.1
    )
    return drift_since(
        calibration,
        repeats.standard,
        as_sweep(calibration, repeats.takes[-1], repeats.taken_at),
        assumptions=assumptions,
        sweeps=repeats.takes[-1].sweeps,
        connection_rms=np.minimum(
            np.maximum(assumed, rms_between(calibration, repeats.takes)), UNLIKE_STANDARD_FACTOR / 4
        ),
        spans=spans,
    )


def _repeats(calibration: Calibration, remade: Sequence[Drift]) -> Repeatability | None:
    """None where nothing was made anew, or too little beside a making that was loose."""
    if not remade:
        return None
    repeats = calibration.evidence.connection_repeats[-1]
    if remade[-1].advice == "recalibrate":
        enough = len(repeats.takes) >= LEAST_TAKES
        return repeatability(calibration, repeats.takes) if enough else None
    return repeatability(calibration, with_own_take(calibration, repeats))


def _standing(drifts: Sequence[Drift]) -> list[Drift]:
    """The checks that tell of now: the newest, those made with it, and what contradicts."""
    newest = max((each.taken_at for each in drifts), default=None)
    return [
        each
        for each in drifts
        if each.advice == "recalibrate" or (newest and newest - each.taken_at <= SAME_DRIFT_WITHIN)
    ]
