"""One standard captured: several sweeps averaged, and only while they are steady.

How movement is told from noise. The difference d of two sweeps of the same thing is noise, and
noise at one frequency knows nothing of its neighbour. What moves (a nut still turning, a cable
bent, a hand near) changes neighbouring frequencies alike, but for a steady turn of phase. So the
part of the power that neighbours share,

    movement^2 = |sum of d[i+1] conj(d[i])| / (points - 1),

is movement, and what is left of the mean of |d|^2 is noise. Derived here; checked on noise of
1e-3 and of 1e-6, on drift and on wiggle, in the tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acquire.sweep import ComplexArray, FloatArray, Plane, Source, Sweep, SweepRequest
from calibration.errors import CalibrationError, StandardError
from calibration.interpolation import same_grid

Phase = Literal["waiting", "settling", "steady", "done", "unsteady"]

NEGLIGIBLE = 1e-3
"""A change below 60 dB is never called movement: no load at hand is known that well."""
MOST_NOISE = 0.02
"""Scatter above this, 34 dB below full reflection, is a fault and not noise."""
SHARED_BY_CHANCE = 4.0
"""Noise alone shares less than this, over the root of the points, but once in 1e7 [derived]."""
MOST_SHARED_BY_CHANCE = 0.8
"""On a handful of points the rule above says nothing; what moves shares nearly everything."""
JUMP = 10.0
"""A point this many times off the noise was disturbed: a burst, a contact that broke."""
PATIENCE = 4
"""Sweeps, in multiples of those wanted, after which a standard is called unsteady."""


@dataclass(frozen=True, slots=True, eq=False)
class StandardReading:
    """The averaged raw reading of one standard."""

    name: str
    """The standard's name in its kit."""
    frequency_hz: FloatArray
    """Shape (points,)."""
    reflection: ComplexArray
    """Shape (points,), raw, the mean of the sweeps."""
    sweeps: int
    """How many sweeps were averaged."""
    noise: FloatArray | None
    """Shape (points,): rms scatter of one sweep about the mean, linear; None is unknown.
    The mean's own scatter is smaller by the root of `sweeps`."""


@dataclass(frozen=True, slots=True)
class CaptureState:
    """How far a capture is, in numbers and in one sentence."""

    phase: Phase
    sweeps: int
    """Steady sweeps so far."""
    wanted: int
    """Steady sweeps needed."""
    movement: float | None
    """Movement between the last two sweeps, linear; None before there are two."""
    noise: float | None
    """Noise of one sweep, rms, linear; None before there are two."""
    steadiness: float | None
    """1 where nothing but noise changed, 0.1 where it moves ten times too much; None before."""
    message: str


@dataclass(frozen=True, slots=True)
class Change:
    """What differs between two readings of the same thing."""

    movement: float
    """Linear, rms: the part of the difference that neighbouring frequencies share."""
    noise: float
    """Linear, rms: the part of the difference that they do not share."""
    jump: float
    """Linear: the largest difference at any one frequency."""
    movement_limit: float
    """The movement that noise alone, or 60 dB, explains."""

    @property
    def steady(self) -> bool:
        """True where nothing but noise changed."""
        return (
            self.movement <= self.movement_limit
            and self.noise <= MOST_NOISE * np.sqrt(2)
            and self.jump <= max(JUMP * self.noise, 10 * NEGLIGIBLE)
        )

    @property
    def steadiness(self) -> float:
        """From 0 to 1: how much of the movement noise or 60 dB explains."""
        return min(1.0, self.movement_limit / max(self.movement, 1e-12))


def change_between(earlier: ComplexArray, later: ComplexArray) -> Change:
    """Split the difference of two readings, each of shape (points,), into movement and noise."""
    difference = later - earlier
    power = float(np.mean(np.abs(difference) ** 2))
    if difference.size < 2:
        shared = power
    else:
        shared = abs(complex(np.mean(difference[1:] * difference[:-1].conj())))
    chance = power * min(
        SHARED_BY_CHANCE / np.sqrt(max(difference.size - 1, 1)), MOST_SHARED_BY_CHANCE
    )
    return Change(
        movement=float(np.sqrt(shared)),
        noise=float(np.sqrt(max(power - shared, 0.0))),
        jump=float(np.abs(difference).max()),
        movement_limit=float(np.sqrt(max(NEGLIGIBLE**2, chance))),
    )


class StandardCapture:
    """Gathers sweeps of one standard until enough in a row are steady."""

    def __init__(
        self, name: str, request: Sequence[SweepRequest] | None = None, wanted_sweeps: int = 8
    ) -> None:
        """Wait for `name`.

        request : the passes to capture; sweeps of other passes are left aside. None takes those
            of the first sweep, and starts again when they change.
        wanted_sweeps : steady sweeps to average, 4 or more: fewer cannot show a drift.
        """
        if wanted_sweeps < 4:
            raise ValueError(f"Four sweeps show whether a standard is steady, not {wanted_sweeps}.")
        self.name = name
        self._request = None if request is None else tuple(request)
        self._wanted = wanted_sweeps
        self._window: list[Sweep] = []
        self._seen = 0
        self._last: Sweep | None = None
        self.state = CaptureState(
            "waiting",
            0,
            wanted_sweeps,
            None,
            None,
            None,
            f"Waiting for the first sweep of the {name}.",
        )

    def add(self, sweep: Sweep) -> CaptureState:
        """Take the next sweep and say how things stand.

        A sweep seen already, and any after the capture is done, changes nothing. Raises
        CalibrationError for a sweep that is not raw.
        """
        if sweep.plane is not Plane.RAW:
            raise CalibrationError(
                f"A standard is captured from raw sweeps, not at the {sweep.plane.value} plane."
            )
        if self.state.phase == "done" or self._repeated(sweep):
            return self.state
        self.state = self._judge(sweep)
        return self.state

    def result(self) -> StandardReading:
        """The mean of the steady sweeps. Raises StandardError while there are not enough."""
        if self.state.phase != "done":
            raise StandardError(
                f"The {self.name} has {self.state.sweeps} of {self._wanted} steady sweeps. "
                f"Wait until it is done, or measure the {self.name} again.",
                self.name,
            )
        stack = np.stack([sweep.reflection for sweep in self._window])
        mean = stack.mean(axis=0)
        scatter = np.sqrt(np.sum(np.abs(stack - mean) ** 2, axis=0) / (len(stack) - 1))
        return StandardReading(self.name, self._window[0].frequency_hz, mean, len(stack), scatter)

    def _repeated(self, sweep: Sweep) -> bool:
        last = self._last
        return last is not None and last.sequence == sweep.sequence and last.source == sweep.source

    def _judge(self, sweep: Sweep) -> CaptureState:
        if self._request is not None and sweep.request != self._request:
            self._window, self._last = [], None
            return self._say(None, "Waiting for the sweep that was asked for.", phase="waiting")
        last, self._last = self._last, sweep
        self._seen += 1
        change: Change | None = None
        if last is not None and not _continues(last, sweep):
            self._window, self._seen = [sweep], 1
            words = f"The sweep or the unit changed; the {self.name} starts again."
        elif not np.isfinite(sweep.reflection).all():
            self._window = []
            lost = int(np.count_nonzero(~np.isfinite(sweep.reflection)))
            words = f"{lost} of {sweep.points} points were not measured. Check cable and unit."
        elif not self._window:
            self._window = [sweep]
            words = f"The first sweep of the {self.name} is in. Keep still."
        else:
            change, words = self._compared(sweep)
        return self._say(change, words)

    def _compared(self, sweep: Sweep) -> tuple[Change, str]:
        """Hold the sweep against the one before; keep it, or begin again with it."""
        change = change_between(self._window[-1].reflection, sweep.reflection)
        if not change.steady:
            self._window = [sweep]
            return change, _why(self.name, change)
        self._window.append(sweep)
        if len(self._window) < self._wanted:
            return change, f"Steady: {len(self._window)} of {self._wanted} sweeps."
        return self._drifted(change)

    def _drifted(self, change: Change) -> tuple[Change, str]:
        """Hold the newer half against the older: a slow drift hides between neighbours."""
        half = len(self._window) // 2
        older, newer = (
            np.mean([sweep.reflection for sweep in part], axis=0)
            for part in (self._window[:half], self._window[half:])
        )
        drift = change_between(older, newer)
        if drift.steady:
            return change, f"The {self.name} is done: {len(self._window)} steady sweeps averaged."
        self._window = self._window[half:]
        return drift, (
            f"The {self.name} drifts by {drift.movement:.1g} while it is captured. Let it settle; "
            f"tighten the nut and keep your hands away."
        )

    def _say(self, change: Change | None, words: str, phase: Phase | None = None) -> CaptureState:
        count = len(self._window)
        if phase is None:
            if count >= self._wanted:
                phase = "done"
            elif self._seen > PATIENCE * self._wanted:
                phase = "unsteady"
                words = (
                    f"The {self.name} is unsteady: {self._seen} sweeps came and never "
                    f"{self._wanted} alike in a row. {words} Look for a loose nut or a cable that "
                    f"moves, then measure the {self.name} again."
                )
            else:
                phase = "steady" if count > 1 else "settling"
        return CaptureState(
            phase,
            count,
            self._wanted,
            None if change is None else change.movement,
            None if change is None else change.noise / float(np.sqrt(2)),
            None if change is None else change.steadiness,
            words,
        )


def _continues(last: Sweep, sweep: Sweep) -> bool:
    """True where two sweeps may be averaged: same unit, same passes, same frequencies, in order."""
    return (
        _same_unit(last.source, sweep.source)
        and last.request == sweep.request
        and sweep.sequence > last.sequence
        and same_grid(last.frequency_hz, sweep.frequency_hz)
    )


def _same_unit(one: Source, other: Source) -> bool:
    return (one.unit, one.profile, one.unit_corrected) == (
        other.unit,
        other.profile,
        other.unit_corrected,
    )


def _why(name: str, change: Change) -> str:
    if change.movement > change.movement_limit:
        return (
            f"The {name} still moves: {change.movement:.1g} from one sweep to the next. Tighten "
            f"the nut, let go of the cable and keep your hands away."
        )
    if change.noise > MOST_NOISE * np.sqrt(2):
        return (
            f"The readings of the {name} scatter by {change.noise:.1g}. Look for a loose contact "
            f"or a transmitter nearby."
        )
    return (
        f"One frequency jumped by {change.jump:.1g}. Look for a loose contact or a transmitter "
        f"nearby."
    )
