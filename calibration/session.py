"""The guided calibration: which standard next, how it goes, what was wrong with it.

The page and the terminal drive the same session. They show `state`, call `begin` when the
person says that the standard is on, feed every sweep to `add`, and in the end call `finish`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from acquire.coverage import Span
from acquire.sweep import Source, Sweep, SweepRequest
from calibration.calibrated import Calibration, calibrate, check_readings, solve_checked
from calibration.capture import CaptureState, StandardCapture, StandardReading
from calibration.errors import CalibrationError, OtherUnitError, StandardError
from calibration.kit import Kit

SessionPhase = Literal["screw on", "capturing", "refused", "complete"]

CAUTIONS = (
    "Turn only the nut and hold the body still: a turning pin wears both connectors.",
    "Nothing else on the port: no antenna, no transmitter, no modem, no power feed.",
    "Touch earthed metal before a centre pin: static can end the unit's receiver.",
    "Let go of the cable and leave it lying still.",
)


@dataclass(frozen=True, slots=True)
class Step:
    """One standard to screw on."""

    standard: str
    """Its name in the kit."""
    number: int
    """From 1, in the kit's order."""
    of: int
    """How many the kit wants."""
    instruction: str
    """What to do, one sentence."""
    cautions: tuple[str, ...]
    """What to mind while doing it, a sentence each."""


@dataclass(frozen=True, slots=True)
class SessionState:
    """Everything a page or a terminal shows of a calibration in progress."""

    phase: SessionPhase
    step: Step | None
    """The standard it is about; None once all are taken."""
    capture: CaptureState | None
    """How far the capture is; None unless one runs or has just ended."""
    message: str
    """What goes on, or what was wrong, in one or two sentences."""
    taken: tuple[str, ...]
    """Standards accepted so far, in the order taken."""
    remaining: tuple[str, ...]
    """Standards still wanted, in the kit's order, the present one included."""
    warnings: tuple[str, ...] = ()
    """Once complete: what a person should know before trusting it."""


class CalibrationSession:
    """One calibration from the first standard to the last."""

    def __init__(
        self,
        kit: Kit,
        request: Sequence[SweepRequest],
        spans: Sequence[Span],
        *,
        wanted_sweeps: int = 8,
    ) -> None:
        """Start with nothing measured.

        request : the passes that every standard is captured with.
        spans : stretches inside which error terms may be interpolated, as
            `acquire.coverage.continuous_spans` gives them for the unit's range steps.
        wanted_sweeps : steady sweeps to average for each standard, 4 or more.
        Raises RangeError at once if the kit does not describe a standard at these frequencies.
        """
        for standard in kit.standards.values():
            for each in request:
                standard.reflection(each.grid_hz())
        self._kit = kit
        self._request = tuple(request)
        self._spans = tuple(spans)
        self._wanted_sweeps = wanted_sweeps
        self._readings: dict[str, StandardReading] = {}
        self._source: Source | None = None
        self._capture: StandardCapture | None = None
        self._wanted: str | None = None
        self._refusal: CalibrationError | None = None
        self._warnings: tuple[str, ...] = ()

    @property
    def request(self) -> tuple[SweepRequest, ...]:
        """The passes to sweep while this session runs."""
        return self._request

    @property
    def refusal(self) -> CalibrationError | None:
        """Why the last standard was refused; None if it was not."""
        return self._refusal

    @property
    def state(self) -> SessionState:
        """How things stand."""
        name = self._current()
        step = None if name is None else self._step(name)
        remaining = tuple(each for each in self._kit.standards if each not in self._readings)
        capture = None if self._capture is None else self._capture.state
        if step is None:
            phase: SessionPhase = "complete"
            message = "All standards are taken. The calibration is ready."
        elif self._refusal is not None:
            phase, message = "refused", str(self._refusal)
        elif capture is not None:
            phase, message = "capturing", capture.message
        else:
            phase, message = "screw on", step.instruction
        return SessionState(
            phase, step, capture, message, tuple(self._readings), remaining, self._warnings
        )

    def begin(self) -> SessionState:
        """The person says that the standard is on: capture it from the next sweep on."""
        name = self._current()
        if name is not None:
            self._refusal = None
            self._capture = StandardCapture(name, self._request, self._wanted_sweeps)
        return self.state

    def add(self, sweep: Sweep) -> SessionState:
        """Take the next sweep. Sweeps outside a capture change nothing.

        A standard that is done is held at once against those taken before; if it would lie, or
        is unsteady, the state turns to "refused" and names the one to measure again.
        """
        if self._capture is None or self._refusal is not None:
            return self.state
        try:
            self._require_same_unit(sweep.source)
            capture = self._capture.add(sweep)
            if capture.phase == "unsteady":
                raise StandardError(capture.message, self._capture.name)
            if capture.phase == "done":
                self._accept(self._capture.result(), sweep.source)
        except CalibrationError as error:
            self._refuse(error)
        return self.state

    def redo(self, name: str) -> SessionState:
        """Throw away one standard's reading, if there is one, and ask for it next."""
        if name not in self._kit.standards:
            raise CalibrationError(
                f"The kit {self._kit.name} has no {name}. It has: {', '.join(self._kit.standards)}."
            )
        self._readings.pop(name, None)
        self._wanted, self._capture, self._refusal, self._warnings = name, None, None, ()
        return self.state

    def finish(self, now: datetime, software: str) -> Calibration:
        """The calibration. Raises CalibrationError while a standard is missing.

        now : time of the last standard, with its zone.
        software : name and version of the program, kept with the calibration.
        """
        name = self._current()
        if name is not None or self._source is None:
            raise CalibrationError(f"The {name} has not been measured yet. Measure it first.", name)
        return calibrate(
            self._kit,
            list(self._readings.values()),
            source=self._source,
            request=self._request,
            spans=self._spans,
            taken_at=now,
            software=software,
        )

    def _current(self) -> str | None:
        """The standard to screw on now; None if all are taken."""
        if self._wanted is not None:
            return self._wanted
        return next((name for name in self._kit.standards if name not in self._readings), None)

    def _step(self, name: str) -> Step:
        names = list(self._kit.standards)
        spoken = name.replace("-", " ")
        return Step(
            standard=name,
            number=names.index(name) + 1,
            of=len(names),
            instruction=(
                f"Screw the {spoken} on to the end of the cable, where the antenna will be "
                f"(kit: {self._kit.connector})."
            ),
            cautions=CAUTIONS,
        )

    def _accept(self, reading: StandardReading, source: Source) -> None:
        """Keep a reading that agrees with those before it; raise StandardError if it does not."""
        readings = self._readings | {reading.name: reading}
        try:
            check_readings(self._kit, list(readings.values()))
            if len(readings) == len(self._kit.standards):
                _, self._warnings = solve_checked(self._kit, list(readings.values()), self._spans)
        except StandardError as error:
            if error.standard != reading.name:  # the new one is right, an earlier one was not
                self._readings = readings
            raise
        self._readings, self._source = readings, self._source or source
        self._wanted, self._capture = None, None

    def _refuse(self, error: CalibrationError) -> None:
        self._refusal = error
        if error.standard is not None:
            self._readings.pop(error.standard, None)
            self._wanted = error.standard

    def _require_same_unit(self, source: Source) -> None:
        first = self._source
        if first is not None and first.unit != source.unit:
            raise OtherUnitError(
                f"The standards before were read by {first.unit!r}, this sweep by {source.unit!r}. "
                f"Connect the first unit again, or start the calibration anew."
            )
