"""One standard put back after a sweep: does the calibration still hold?

What was measured in between is worth what the calibration was worth at both ends of it. An open or
a short of the calibration, put back, is read as it read while calibrating; its definition cancels,
so what is left may be drift, the cable handled, two makings of a joint by hand, and noise. Beyond
the bound for those something changed that the interval does not know: another cable, a nut that
hangs loose, another calibration's terms.

    bound = sqrt(sum of squares of drift and cable) + k sqrt(joint^2 + noise^2),  k = 3.26

k leaves 1 of 200 of a complex normal law outside: sqrt(2 ln 200) [derived]. A load says nothing of
tracking, since it reflects next to nothing, so it is refused. A short carries the current through
the joint, so it shows a series resistance or inductance there best; an ideal open hides both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from acquire.coverage.spans import Span
from acquire.sweep import ComplexArray, FloatArray, Sweep
from calibration.calibration_budget import budget_of
from calibration.capture.averaging import Averaged
from calibration.errors import CalibrationError
from calibration.one_port_calibration import Calibration
from calibration.standards.standard import Kind
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.verification.device_comparison import SHARE_INSIDE
from calibration.verification.drift import age_words
from calibration.verification.repeatability import repeatability
from calibration.verification.verification_device import OwnStandard

HAND_TIGHTENED_RMS = 0.01
"""What two makings of a joint by hand differ by at worst, rms each, linear, where nobody measured
it: .003 to .01 are seen of hand-tightened nuts [practice]."""
ONE_IN_200 = float(np.sqrt(2 * np.log(200)))
"""Standard deviations of a component that 199 of 200 complex normal values lie within [derived]."""
MOST_CHANGE = 0.07
"""A larger change is never put down to age, linear: it moves a 10 dB reading by about 0.6 dB, and
calibrating anew costs less than arguing with it [derived: 20 log10(1 + .07)]."""
HIDDEN = "An open hides a loose nut's resistance, which the short would show."
SMALL = 0.35
"""What reflects less than this at most frequencies is no open and no short, even behind 2 dB of
loss that were not there before."""
STILL_ON = 0.1
"""A reading so near to another one, rms, is of the same thing."""
FRINGE_PS = (0.0, 1.0, 2.0, 3.0)
"""Delays, one way, at which an empty connector looks open [practice]."""


@dataclass(frozen=True, slots=True, eq=False)
class PutBack:
    """What a standard that was put back shows."""

    standard: str
    """The one it reads like."""
    kind: Kind
    taken_at: datetime
    age_s: float
    """Seconds from the calibration to this."""
    frequency_hz: FloatArray
    """Shape (points,)."""
    change: FloatArray
    """|now - captured| at the connector, linear, shape (points,); nan where not measured."""
    allowed: FloatArray
    """The bound, linear, shape (points,)."""
    holds: bool
    """False where something changed that the bound does not allow."""

    @property
    def worst(self) -> int:
        """Index of the largest change against its bound."""
        return int(np.nanargmax(self.change / self.allowed))

    @property
    def figures(self) -> str:
        """As "0.012 of 0.041 allowed, at 838 MHz"."""
        at = self.worst
        return (
            f"{self.change[at]:.2g} of {self.allowed[at]:.2g} allowed, at "
            f"{self.frequency_hz[at] / 1e6:.6g} MHz"
        )

    @property
    def words(self) -> str:
        """What it shows, with what to do about it."""
        what = f"the {spoken(self.standard)}, put back {age_words(self.age_s)} after calibrating,"
        if self.holds:
            hidden = "" if self.kind == "short" else f" {HIDDEN}"
            return f"After the sweep {what} reads as it did: {self.figures}.{hidden}"
        return (
            f"After the sweep {what} reads otherwise: {self.figures}. The calibration no longer "
            "holds for what was swept: a nut hangs loose, the cable is another one, or the "
            "analyzer drifted. Tighten every joint, calibrate anew, and sweep the antenna again."
        )


def spoken(standard: str) -> str:
    """A standard's name as it is said."""
    return standard.replace("-", " ")


def standards_to_put_back(calibration: Calibration) -> tuple[str, ...]:
    """Those of its standards that show whether it still holds, the best first: shorts, opens.

    Empty for a calibration of loads alone, which there is none of.
    """
    kinds = {name: calibration.kit.standards[name].kind for name in calibration.readings}
    return tuple(
        name for wanted in ("short", "open") for name, kind in kinds.items() if kind == wanted
    )


def put_back(
    calibration: Calibration,
    reading: Averaged | Sweep,
    assumptions: Assumptions,
    *,
    swept: int = 0,
    antenna: Sweep | None = None,
    spans: Sequence[Span] | None = None,
) -> PutBack:
    """Hold a standard that was put back against itself when it was captured.

    reading : raw, one sweep or the average of several, of an open or a short of the calibration;
        which one is told by what it reads like.
    swept : sweeps since the calibration. antenna : raw, what was swept just before, so that it is
        known again where it is still on. spans : the bands, Hz; a whole band beyond the bound is
        enough. None takes the calibration's own.
    Raises CalibrationError where it is no open and no short, with what to do; it counts for nothing
    then. RangeError where the calibration does not reach.
    """
    sweep = reading.sweep if isinstance(reading, Averaged) else reading
    sweeps = reading.sweeps if isinstance(reading, Averaged) else 1
    age_s = (sweep.taken_at - calibration.taken_at).total_seconds()
    read = calibration.correct(sweep).reflection
    f, known = sweep.frequency_hz, np.isfinite(read)
    if not known.any():
        raise CalibrationError("No point of the sweep was measured. Check cable and analyzer.")
    before = None if antenna is None else calibration.correct(antenna)
    same_points = before is not None and np.array_equal(before.frequency_hz, f)
    if same_points and before is not None and _apart(read, before.reflection) < STILL_ON:
        raise CalibrationError(
            f"This reads as the antenna did: it is still on. {asked(calibration)}"
        )
    if float(np.median(np.abs(read[known]))) < SMALL:
        raise CalibrationError(
            "This reflects next to nothing, as a load or an antenna does, and so says nothing of "
            f"tracking. {asked(calibration)}"
        )
    captured = {
        name: OwnStandard.of(calibration, name).reflection(f)
        for name in standards_to_put_back(calibration)
    }
    if not captured:
        raise CalibrationError(
            "The calibration was made without an open and without a short, so nothing can be put "
            "back. Calibrate with both."
        )
    name = min(captured, key=lambda each: _apart(read, captured[each]))
    if _apart(read, captured[name]) > STILL_ON and _is_empty(f, read):
        raise CalibrationError(f"This reads like an empty connector. {asked(calibration)}")
    change = np.abs(read - captured[name])
    allowed = bound(calibration, assumptions, f, read, age_s=age_s, swept=swept, sweeps=sweeps)
    wanted = calibration.spans if spans is None else spans
    kind = calibration.kit.standards[name].kind
    return PutBack(
        name, kind, sweep.taken_at, age_s, f, change, allowed, _holds(f, change / allowed, wanted)
    )


def asked(calibration: Calibration) -> str:
    """The one sentence that asks for the standard."""
    first, *others = standards_to_put_back(calibration) or ("short",)
    either = f" (or the {spoken(others[0])})" if others else ""
    return (
        f"Put the {spoken(first)}{either} back on the end of the cable, as it was while "
        "calibrating, hands off."
    )


def bound(
    calibration: Calibration,
    assumptions: Assumptions,
    frequency_hz: FloatArray,
    read: ComplexArray,
    *,
    age_s: float,
    swept: int,
    sweeps: int,
) -> FloatArray:
    """How far a standard put back may read from itself, linear, shape (points,).

    read : it, corrected, complex, shape (points,). The rest as `budget_of` takes it.
    """
    repeats = calibration.evidence.connection_repeats
    rms = repeatability(calibration, repeats[-1].takes).rms if repeats else None
    budget = budget_of(
        calibration,
        assumptions,
        age_s=age_s,
        swept=swept,
        sweeps=sweeps,
        connection_rms=rms,
        frequency_hz=frequency_hz,
    ).without("definition")  # it is compared with itself
    joint, noise, systematic = _parts(budget, read)
    if rms is None:
        joint = np.maximum(joint, HAND_TIGHTENED_RMS)
    random = ONE_IN_200 * np.hypot(joint, noise)
    return np.minimum(systematic + random, MOST_CHANGE)


def _parts(budget: Budget, read: ComplexArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Joints and noise as a component's standard deviation, and all that is bounded."""
    squares = {"joint": np.zeros(read.size), "noise": np.zeros(read.size)}
    systematic = np.zeros(read.size)
    for each in budget.contributions:
        square = each.size(np.nan_to_num(read)) ** 2
        if each.bounded:
            systematic = systematic + square
        else:
            squares["joint" if each.cause == "the connector" else "noise"] += square
    return np.sqrt(squares["joint"]), np.sqrt(squares["noise"]), np.sqrt(systematic)


def _holds(frequency_hz: FloatArray, ratio: FloatArray, spans: Sequence[Span]) -> bool:
    """True where all but a few points are within the bound, and most of every band.

    A point that was not measured, since a burst disturbed it, counts for nothing.
    """
    known = np.isfinite(ratio)
    inside = ratio <= 1
    whole = float(np.mean(inside[known])) >= SHARE_INSIDE
    bands = [known & (frequency_hz >= low) & (frequency_hz <= high) for low, high in spans]
    return whole and all(float(np.mean(inside[band])) >= 0.5 for band in bands if band.any())


def _apart(one: ComplexArray, other: ComplexArray) -> float:
    """How far two readings lie apart, rms over the points that both have, linear."""
    return float(np.sqrt(np.nanmean(np.abs(one - other) ** 2)))


def _is_empty(frequency_hz: FloatArray, read: ComplexArray) -> bool:
    return any(
        _apart(read, np.exp(-4j * np.pi * frequency_hz * each * 1e-12)) < STILL_ON
        for each in FRINGE_PS
    )
