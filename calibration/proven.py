"""The budget of a calibration together with all that was measured of it since.

Known devices and standards put back are judged by the budget of their own moment. What they
prove then bounds the budget (`calibration.proof`); what drifted up to the newest check is what
the check shows, and from there on drift grows again at the assumed rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from acquire.coverage import Span
from acquire.sweep import FloatArray, Plane, Sweep
from calibration.budget import Assumptions, Budget
from calibration.calibrated import Calibration
from calibration.capture import StandardReading
from calibration.contributions import budget_of, drift, on_grid
from calibration.drift import Drift, drift_since
from calibration.evidence import PutBack
from calibration.proof import bound_by
from calibration.repeatability import Repeatability, repeatability
from calibration.verification import Verification, verify

TOGETHER = timedelta(minutes=15)
"""Standards put back within so long of the newest one show the drift of one moment."""


@dataclass(frozen=True, slots=True, eq=False)
class Proven:
    """What the evidence says."""

    devices: tuple[Verification, ...]
    drifts: tuple[Drift, ...]
    repeatability: Repeatability | None

    def youngest_agreement(self) -> datetime | None:
        """When a known device last agreed with the calibration; None if none ever did.

        A device that contradicted it later takes that back.
        """
        newest = max(self.devices, key=lambda each: each.taken_at, default=None)
        return None if newest is None or not newest.passed else newest.taken_at

    def youngest_drift_check(self) -> datetime | None:
        """When a standard was last put back and nothing had drifted; None if never."""
        newest = max(self.drifts, key=lambda each: each.taken_at, default=None)
        return None if newest is None or newest.advice != "carry on" else newest.taken_at


def proven(
    calibration: Calibration, assumptions: Assumptions, spans: Sequence[Span] | None = None
) -> Proven:
    """Judge every piece of a calibration's evidence.

    spans : the bands to judge drift by, Hz; None takes the calibration's own spans.
    """
    evidence = calibration.evidence
    repeats = _repeats(calibration)
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
        for one in evidence.put_back
    ]
    return Proven(tuple(devices), tuple(drifts), repeats)


def proven_budget(
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
    newest drift check on, where there is one.
    Evidence from after `at` counts as well: it is of the same calibration.
    """
    found = proven(calibration, assumptions)
    newest = _newest_together(calibration.evidence.put_back)
    drifted = [each.check for each in found.drifts if each.taken_at in newest]
    times = newest or {each.taken_at for each in found.devices} or {at}
    bounded_at = min(times) if newest else max(times)
    budget = budget_of(
        calibration,
        assumptions,
        age_s=(bounded_at - calibration.taken_at).total_seconds(),
        sweeps=sweeps,
        connection_rms=None if found.repeatability is None else found.repeatability.rms,
    )
    budget = bound_by(budget, [*found.devices, *drifted])
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


def _repeats(calibration: Calibration) -> Repeatability | None:
    makings = calibration.evidence.makings
    return repeatability(calibration, makings[-1].takes) if makings else None


def _newest_together(checks: Sequence[PutBack]) -> set[datetime]:
    times = {each.taken_at for each in checks}
    return {each for each in times if max(times) - each <= TOGETHER}
