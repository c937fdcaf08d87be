"""Checks of a calibration, guided: what to screw on, and what came of it.

Three kinds: a known device measured back, one of the calibration's own standards put back, and
one standard taken off and put on again, several times.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from acquire.coverage.spans import Span
from acquire.sweep import FloatArray
from calibration.capture.guided_captures import Captures, Wanted
from calibration.capture.standard_capture import StandardReading
from calibration.errors import CalibrationError
from calibration.evidence import ConnectionRepeats, DeviceCheck, DriftCheck, KnownDevice
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.uncertainty.interval import interval
from calibration.verification.past_calibrations import settled
from calibration.verification.repeatability import LEAST_REMADE
from calibration.verification.verification_device import OwnStandard
from calibration.verification.verified_budget import evidence_results, verified_budget

ORDINARY_TIMES = 5
"""Makings of a connector that say enough of the next one [practice]."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasureDevice:
    """A known device is to be measured back."""

    device: KnownDevice


@dataclass(frozen=True, slots=True)
class RemeasureStandard:
    """A standard of the calibration is to be put back."""

    standard: str


@dataclass(frozen=True, slots=True)
class RepeatConnection:
    """A standard is to be taken off and put on again."""

    standard: str
    times: int = ORDINARY_TIMES


Check = MeasureDevice | RemeasureStandard | RepeatConnection


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a check showed."""

    agrees: bool
    """False where the calibration must not be relied on as it is."""
    words: tuple[str, ...]
    """What a person should know, a sentence or two each."""
    asks: bool = False
    """True where a person must say something before what was measured counts."""


def captures_for(calibration: Calibration, check: Check, *, wanted_sweeps: int = 8) -> Captures:
    """The guided captures of a check.

    Raises CalibrationError, with the names there are, for a standard that was not measured, and
    for a calibration made from files, which tells of no passes.
    """
    if not calibration.request:
        raise CalibrationError(
            "This calibration was made from files and names no passes to sweep. Calibrate with "
            "the analyzer."
        )
    if not isinstance(check, MeasureDevice):
        OwnStandard.of(calibration, check.standard)  # refuses one that was not measured
    return Captures(
        _wanted(check),
        calibration.request,
        lambda sweep: calibration.fits(sweep.source, sweep.request),
        wanted_sweeps=wanted_sweeps,
    )


def concluded(
    calibration: Calibration, check: Check, readings: Sequence[StandardReading], at: datetime
) -> Calibration:
    """The calibration with what was captured, and without the doubts that this takes away.

    readings : of `captures_for`'s captures. at : when the last one was done, with its zone.
    Raises CalibrationError where the readings say nothing (makings of two different things).
    """
    match check:
        case MeasureDevice():
            result = calibration.with_evidence(DeviceCheck(check.device, readings[0], at))
        case RemeasureStandard():
            result = calibration.with_evidence(DriftCheck(check.standard, readings[0], at))
        case RepeatConnection():
            takes = tuple(
                StandardReading(
                    check.standard, each.frequency_hz, each.reflection, each.sweeps, each.noise
                )
                for each in readings
            )
            result = calibration.with_evidence(ConnectionRepeats(check.standard, takes, at))
    evidence_results(result, Assumptions())  # refuses what cannot be judged
    return settled(result, Assumptions())


def outcome(
    before: Calibration,
    after: Calibration,
    check: Check,
    assumptions: Assumptions,
    *,
    at: datetime,
    spans: Sequence[Span] | None = None,
) -> Outcome:
    """Say what a check showed, and what it is worth.

    before, after : the calibration without and with it. spans : the bands to tell apart, Hz.
    """
    found = evidence_results(after, assumptions, spans)
    agrees, asks = True, False
    match check:
        case MeasureDevice():
            asks = found.devices[-1].asks
            agrees, sentences = found.devices[-1].passed, [found.devices[-1].words]
        case RemeasureStandard():
            drift = found.drifts[-1]
            advice = {each.advice for each in drift.spans}
            agrees = "carry on" in advice and "recalibrate" not in advice
            sentences = drift.words.split("\n")
        case RepeatConnection():
            sentences = [] if found.repeatability is None else [found.repeatability.words]
            loose = found.drifts[len(after.evidence.drift_checks) :]
            agrees = not loose
            sentences += [line for each in loose for line in each.words.split("\n")]
    budgets = [verified_budget(each, assumptions, at) for each in (before, after)]
    return Outcome(agrees, (*sentences, _floor_change_words(*budgets)), asks)


def floor_db(budget: Budget) -> FloatArray:
    """The trust floor as return loss, dB, shape (points,); infinite where nothing is in doubt."""
    nothing = np.zeros(budget.frequency_hz.size, dtype=np.complex128)
    with np.errstate(divide="ignore"):
        decibels: FloatArray = -20 * np.log10(interval(budget, nothing).floor)
    return decibels


def range_words(decibels: FloatArray) -> str:
    """As "24.1 to 26.0 dB", or "26.0 dB"."""
    low, high = f"{decibels.min():.1f}", f"{decibels.max():.1f}"
    return f"{low} dB" if low == high else f"{low} to {high} dB"


def _floor_change_words(before: Budget, after: Budget) -> str:
    was, now = range_words(floor_db(before)), range_words(floor_db(after))
    if was == now:
        return f"The trust floor stays at {now}."
    return f"The trust floor was {was}, and is {now} with what this proves."


def _wanted(check: Check) -> Sequence[Wanted]:
    end = "the end of the cable, where the antenna will be"
    match check:
        case MeasureDevice():
            name = check.device.name
            return [Wanted(name, f"Screw the {name} on to {end}.", "")]
        case RemeasureStandard():
            standard = check.standard
            words = f"Screw the {_spoken(standard)} on to {end}, as it was while calibrating."
            return [Wanted(standard, words, standard)]
        case RepeatConnection():
            if check.times < LEAST_REMADE:
                raise CalibrationError(
                    f"{check.times} makings say too little of the next one. Make the connector "
                    f"{LEAST_REMADE} times or more; {ORDINARY_TIMES} do well."
                )
            spoken = _spoken(check.standard)
            first = f"Screw the {spoken} on to {end}."
            again = f"Take the {spoken} off, and screw it on again as you always do."
            return [
                Wanted(f"{spoken}, making {n}", first if n == 1 else again, check.standard)
                for n in range(1, check.times + 1)
            ]


def _spoken(standard: str) -> str:
    return standard.replace("-", " ")
