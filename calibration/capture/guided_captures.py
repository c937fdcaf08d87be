"""Guided captures: one thing after the other is screwed on and captured while it is steady.

What a calibration's session is to its standards, this is to whatever is measured of a calibration
once it is made; pages and terminals drive both alike.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

from acquire.sweep import Sweep, SweepRequest
from calibration.capture.standard_capture import CaptureState, StandardCapture, StandardReading
from calibration.errors import CalibrationError, StandardError

SessionPhase = Literal["screw on", "capturing", "refused", "complete"]

CAUTIONS = (
    "Turn only the nut and hold the body still: a turning pin wears both connectors.",
    "Nothing else on the port: no antenna, no transmitter, no modem, no power feed.",
    "Touch earthed metal before a centre pin: static can end the analyzer's receiver.",
    "Let go of the cable and leave it lying still.",
)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to screw on."""

    standard: str
    """Its name: a standard's in its kit, or a device's."""
    number: int
    """From 1, in the order wanted."""
    of: int
    """How many there are."""
    instruction: str
    """What to do, one sentence."""
    cautions: tuple[str, ...]
    """What to mind while doing it, a sentence each."""
    optional: bool = False
    """True where it may be skipped."""


@dataclass(frozen=True, slots=True)
class SessionState:
    """Everything a page or a terminal shows of captures in progress."""

    phase: SessionPhase
    step: Step | None
    """What it is about; None once all are taken."""
    capture: CaptureState | None
    """How far the capture is; None unless one runs or has just ended."""
    message: str
    """What goes on, or what was wrong, in one or two sentences."""
    taken: tuple[str, ...]
    """Accepted so far, in the order taken."""
    remaining: tuple[str, ...]
    """Still wanted, in order, the present one included."""
    warnings: tuple[str, ...] = ()
    """Once complete: what a person should know before trusting it."""


class Guided(Protocol):
    """What a page or a terminal needs of anything that is captured step by step."""

    @property
    def state(self) -> SessionState:
        """How things stand."""
        ...

    @property
    def request(self) -> tuple[SweepRequest, ...]:
        """The passes to sweep while it runs."""
        ...

    @property
    def refusal(self) -> CalibrationError | None:
        """Why the last capture was refused; None if it was not."""
        ...

    def begin(self) -> SessionState:
        """The person says that the thing asked for is on."""
        ...

    def add(self, sweep: Sweep) -> SessionState:
        """Take the next sweep."""
        ...

    def stop_capture(self) -> SessionState:
        """Drop what is being captured: it is asked for again."""
        ...

    def redo(self, name: str) -> SessionState:
        """Ask for one thing again."""
        ...

    def skip(self) -> SessionState:
        """Leave out what is asked for, where that may be left out."""
        ...


@dataclass(frozen=True, slots=True)
class Wanted:
    """One thing to capture."""

    name: str
    """As it is shown."""
    instruction: str
    """What to do, one sentence."""
    standard: str
    """What is screwed on, where that is one of the kit's standards; else empty."""
    optional: bool = False
    """True where it may be skipped."""


class Captures:
    """Captures what is wanted, in order, with one calibration's passes."""

    def __init__(
        self,
        wanted: Sequence[Wanted],
        request: Sequence[SweepRequest],
        fits: Callable[[Sweep], None],
        *,
        wanted_sweeps: int = 8,
    ) -> None:
        """Start with nothing captured.

        wanted : names differ. request : the passes of every capture.
        fits : raises CalibrationError for a sweep of another analyzer.
        wanted_sweeps : steady sweeps to average, 4 or more.
        """
        self._wanted = {each.name: each for each in wanted}
        self._request = tuple(request)
        self._fits = fits
        self._warnings: tuple[str, ...] = ()
        self._wanted_sweeps = wanted_sweeps
        self._taken: dict[str, StandardReading] = {}
        self._again: str | None = None
        self._capture: StandardCapture | None = None
        self._refusal: CalibrationError | None = None

    @property
    def request(self) -> tuple[SweepRequest, ...]:
        """The passes to sweep while this runs."""
        return self._request

    @property
    def refusal(self) -> CalibrationError | None:
        """Why the last capture was refused; None if it was not."""
        return self._refusal

    @property
    def state(self) -> SessionState:
        """How things stand."""
        name = self._current()
        step = None if name is None else self._step(name)
        remaining = tuple(each for each in self._wanted if each not in self._taken)
        capture = None if self._capture is None else self._capture.state
        phase: SessionPhase = "screw on"
        message = "All is captured, and ready." if step is None else step.instruction
        if step is None:
            phase = "complete"
        elif self._refusal is not None:
            phase, message = "refused", str(self._refusal)
        elif capture is not None:
            phase, message = "capturing", capture.message
        return SessionState(
            phase, step, capture, message, tuple(self._taken), remaining, self._warnings
        )

    def begin(self) -> SessionState:
        """The person says that it is on: capture it from the next sweep on."""
        name = self._current()
        if name is not None:
            self._refusal = None
            self._capture = StandardCapture(name, self._request, self._wanted_sweeps)
        return self.state

    def add(self, sweep: Sweep) -> SessionState:
        """Take the next sweep. Sweeps outside a capture change nothing."""
        if self._capture is None or self._refusal is not None:
            return self.state
        try:
            self._fits(sweep)
            capture = self._capture.add(sweep)
            if capture.phase == "unsteady":
                raise StandardError(capture.message, self._capture.name)
            if capture.phase == "done":
                self._accept(self._capture.result(), sweep)
        except CalibrationError as error:
            self._refuse(error)
        return self.state

    def stop_capture(self) -> SessionState:
        """Drop the capture that runs, if one does: what is on by the next sweep nobody knows."""
        if self._refusal is None:
            self._capture = None
        return self.state

    def redo(self, name: str) -> SessionState:
        """Throw away one capture, if there is one, and ask for it next."""
        if name not in self._wanted:
            raise CalibrationError(
                f"There is no {name} here. There are: {', '.join(self._wanted)}."
            )
        self._taken.pop(name, None)
        self._again, self._capture, self._refusal, self._warnings = name, None, None, ()
        return self.state

    def skip(self) -> SessionState:
        """Leave out what is asked for. Raises CalibrationError where it cannot be left out."""
        name = self._current()
        if name is None or not self._wanted[name].optional:
            raise CalibrationError("This cannot be skipped. Measure it, or leave all of it.")
        del self._wanted[name]
        self._taken.pop(name, None)
        self._again = self._capture = self._refusal = None
        return self.state

    def readings(self) -> tuple[StandardReading, ...]:
        """All captures, in the order wanted. Raises CalibrationError while one is missing."""
        name = self._current()
        if name is not None:
            raise CalibrationError(f"The {name} has not been measured yet. Measure it first.", name)
        return tuple(self._taken[each] for each in self._wanted)

    def _accept(self, reading: StandardReading, sweep: Sweep) -> None:
        """Keep a capture. May raise CalibrationError in its place; sweep was its last."""
        del sweep
        self._taken[reading.name] = reading
        self._again = self._capture = None

    def _refuse(self, error: CalibrationError) -> None:
        """Ask for the same again, or for the one the error names."""
        self._refusal = error
        if error.standard in self._wanted:
            self._taken.pop(error.standard, None)
            self._again = error.standard

    def _current(self) -> str | None:
        if self._again is not None:
            return self._again
        return next((each for each in self._wanted if each not in self._taken), None)

    def _step(self, name: str) -> Step:
        one, names = self._wanted[name], list(self._wanted)
        return Step(
            standard=one.standard or name,
            number=names.index(name) + 1,
            of=len(names),
            instruction=one.instruction,
            cautions=CAUTIONS,
            optional=one.optional,
        )
