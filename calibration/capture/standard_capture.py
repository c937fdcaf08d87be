"""One standard captured: several sweeps averaged, and only while they are steady.

How movement is told from noise stands at `calibration.capture.movement`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np

from acquire.sweep import ComplexArray, FloatArray, Plane, Sweep, SweepRequest
from calibration.capture.averaging import Averaged, Averaging
from calibration.capture.movement import MOST_NOISE, Change, continues
from calibration.errors import CalibrationError, StandardError

Phase = Literal["waiting", "settling", "steady", "done", "unsteady"]

UNSTEADY_AFTER_MULTIPLE, UNSTEADY_AFTER_S = 4, 10.0
"""Sweeps, in multiples of those wanted, and seconds, after which a standard is called unsteady:
a quick analyzer sweeps often while a hand still tightens the nut."""


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
        self._averaging = Averaging(wanted_sweeps)
        self._averaged: Averaged | None = None
        self._seen = 0
        self._began: datetime | None = None
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
        done = self._averaged
        if done is None or self.state.phase != "done":
            raise StandardError(
                f"The {self.name} has {self.state.sweeps} of {self._wanted} steady sweeps. "
                f"Wait until it is done, or measure the {self.name} again.",
                self.name,
            )
        frequency, mean = done.sweep.frequency_hz, done.sweep.reflection
        return StandardReading(self.name, frequency, mean, done.sweeps, done.noise)

    def _repeated(self, sweep: Sweep) -> bool:
        last = self._last
        return last is not None and last.sequence == sweep.sequence and last.source == sweep.source

    def _judge(self, sweep: Sweep) -> CaptureState:
        if self._request is not None and sweep.request != self._request:
            self._begin_anew()
            self._last = None
            return self._say(None, "Waiting for the sweep that was asked for.", phase="waiting")
        last, self._last = self._last, sweep
        self._seen += 1
        self._began = self._began or sweep.taken_at
        if last is not None and not continues(last, sweep):
            self._begin_anew()
            self._averaged, self._seen = self._averaging.add(sweep), 1
            self._began = sweep.taken_at
            return self._say(
                None, f"The sweep or the analyzer changed; the {self.name} starts again."
            )
        if not np.isfinite(sweep.reflection).all():
            self._begin_anew()
            lost = int(np.count_nonzero(~np.isfinite(sweep.reflection)))
            words = f"{lost} of {sweep.points} points were not measured. Check cable and analyzer."
            return self._say(None, words)
        self._averaged = self._averaging.add(sweep)
        return self._say(self._averaged.change, self._progress(self._averaged))

    def _begin_anew(self) -> None:
        self._averaging, self._averaged = Averaging(self._wanted), None

    def _progress(self, now: Averaged) -> str:
        change = now.change
        if change is None:
            return f"The first sweep of the {self.name} is in. Keep still."
        if not change.steady:
            return _why(self.name, change, drifts=now.sweeps > 1)
        if now.sweeps < self._wanted:
            return f"Steady: {now.sweeps} of {self._wanted} sweeps."
        left_out = "".join(f" {burst.words}" for burst in now.bursts)
        return f"The {self.name} is done: {now.sweeps} steady sweeps averaged.{left_out}"

    def _say(self, change: Change | None, words: str, phase: Phase | None = None) -> CaptureState:
        count = 0 if self._averaged is None else self._averaged.sweeps
        if phase is None:
            if count >= self._wanted:
                phase = "done"
            elif self._is_unsteady_for_long():
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
            None if change is None else self._noise(change),
            None if change is None else change.steadiness,
            words,
        )

    def _is_unsteady_for_long(self) -> bool:
        if (
            self._last is None
            or self._began is None
            or self._seen <= UNSTEADY_AFTER_MULTIPLE * self._wanted
        ):
            return False
        # a clock that was set back says nothing of how long it took
        return abs((self._last.taken_at - self._began).total_seconds()) >= UNSTEADY_AFTER_S

    def _noise(self, change: Change) -> float:
        scatter = None if self._averaged is None else self._averaged.noise
        if scatter is None:
            return change.noise / float(np.sqrt(2))
        return float(np.sqrt(np.mean(scatter**2)))


def _why(name: str, change: Change, *, drifts: bool) -> str:
    if drifts:
        return (
            f"The {name} drifts by {change.movement:.1g} while it is captured. Let it settle; "
            f"tighten the nut and keep your hands away."
        )
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
