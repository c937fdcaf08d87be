"""The guided calibration: which standard next, how it goes, what was wrong with it.

The page and the terminal drive the same session. They show `state`, call `begin` when the
person says that the standard is on, feed every sweep to `add`, and in the end call `finish`.

Where it knows the calibrations before it, it asks for one standard once more, off and on again:
that which reads otherwise than then, to say which of the two was wrong; or the load, where nothing
before speaks for it and a verdict will hang on it. It may be skipped, and the calibration says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from acquire.coverage.spans import Span
from acquire.sweep import Source, Sweep, SweepRequest
from calibration.capture.guided_captures import Captures, SessionState, Wanted
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms import plausibility
from calibration.errors import CalibrationError, OtherAnalyzerError, StandardError
from calibration.one_port_calibration import Calibration, calibrate, check_readings, solve_checked
from calibration.standards.agreement import loads_words
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.sensitivity import EXACT_STANDARDS
from calibration.verification.past_calibrations import PastComparison, compared_with_past, once_only
from calibration.verification.second_connection import SecondReading, compare_readings, load_decides


class CalibrationSession(Captures):
    """One calibration from the first standard to the last.

    A standard that is done is held at once against those taken before; if it would lie, or is
    unsteady, the state turns to "refused" and names the one to measure again.
    """

    def __init__(
        self,
        kit: Kit,
        request: Sequence[SweepRequest],
        spans: Sequence[Span],
        *,
        wanted_sweeps: int = 8,
        past: Sequence[Calibration] | None = None,
        cable: str = "",
        assumptions: Assumptions | None = None,
    ) -> None:
        """Start with nothing measured.

        request : the passes that every standard is captured with.
        spans : stretches inside which error terms may be interpolated, as
            `acquire.coverage.spans.continuous_spans` gives them for the analyzer's range steps.
        wanted_sweeps : steady sweeps to average for each standard, 4 or more.
        past : earlier calibrations to hold this one against; with None it is held against nothing,
            and no standard is asked for once more.
        cable : the test cable's name, if it has one. assumptions : what is taken to be so where
            nothing was stated; None takes what is common practice.
        Raises RangeError at once if the kit does not describe a standard at these frequencies.
        """
        for standard in kit.standards.values():
            for each in request:
                standard.reflection(each.grid_hz())
        place = f"the end of the cable, where the antenna will be (kit: {kit.connector})"
        wanted = [
            Wanted(name, f"Screw the {name.replace('-', ' ')} on to {place}.", name)
            for name in kit.standards
        ]
        super().__init__(wanted, request, self._require_same_analyzer, wanted_sweeps=wanted_sweeps)
        self._kit = kit
        self._spans = tuple(spans)
        self._source: Source | None = None
        self._past = past
        self._cable = cable
        self._assumptions = assumptions or Assumptions()
        self._once_more = ""
        self._skipped: SecondReading | None = None
        self._second: SecondReading | None = None
        self.comparison: PastComparison | None = None
        """What earlier calibrations say of this one; None before all standards are taken."""

    def finish(self, now: datetime, software: str) -> Calibration:
        """The calibration, with what earlier ones and a second connection leave in doubt.

        now : time of the last standard, with its zone. Raises CalibrationError while a standard is
        missing.
        software : name and version of the program, kept with the calibration.
        """
        self.readings()  # refuses while one is missing
        made = self._calibrated(now, software)
        if self._past is None:
            return made
        self.comparison = compared_with_past(made, self._past)
        remade = self._second.standard if self._second and self._second.agrees else ""
        doubts = [
            each
            for each in self.comparison.doubts
            if not (each.settled_by == "remake" and each.standard == remade)
        ]
        if self._skipped and not any(each.standard == self._skipped.standard for each in doubts):
            doubts.append(once_only(self._skipped.standard, self._difference_words(self._skipped)))
        return made.with_doubts(doubts)

    def findings(self, made: Calibration) -> str:
        """What was compared with what once it was finished, in a sentence or more; may be empty."""
        history = "" if self.comparison is None else self.comparison.words
        loads = loads_words(made.kit, made.readings, made.terms, self._assumptions)
        return f"{history} {loads}".strip()

    def skip(self) -> SessionState:
        """Leave out the standard that is asked for once more; the calibration says so."""
        skipped = self._second or SecondReading(self._once_more, agrees=False, largest=0, at_hz=0)
        state = super().skip()
        self._skipped = skipped
        return state

    def redo(self, name: str) -> SessionState:
        """Throw away one capture, and what was compared with it."""
        state = super().redo(name)
        if name not in self._kit.standards:
            return state
        self._wanted.pop(_named(self._once_more), None)
        self._taken.pop(_named(self._once_more), None)
        self._once_more, self._skipped, self._second = "", None, None
        return self.state

    def _calibrated(self, now: datetime, software: str) -> Calibration:
        if self._source is None:
            raise CalibrationError("Nothing has been measured yet. Measure the standards first.")
        return calibrate(
            self._kit,
            [self._taken[name] for name in self._kit.standards],
            source=self._source,
            request=self.request,
            spans=self._spans,
            taken_at=now,
            software=software,
            cable=self._cable,
        )

    def _accept(self, reading: StandardReading, sweep: Sweep) -> None:
        """Keep a reading that agrees with those before it; raise StandardError if it does not."""
        if reading.name not in self._kit.standards:
            self._accept_once_more(reading, sweep)
            return
        readings = [*(r for name, r in self._taken.items() if name != reading.name), reading]
        try:
            check_readings(self._kit, readings)
            if len(readings) == len(self._kit.standards):
                _, self._warnings = solve_checked(self._kit, readings, self._spans)
        except StandardError as error:
            if error.standard != reading.name:  # the new one is right, an earlier one was not
                super()._accept(reading, sweep)
            raise
        super()._accept(reading, sweep)
        self._source = self._source or sweep.source
        if self._past is not None and all(name in self._taken for name in self._kit.standards):
            self._ask_once_more(sweep)

    def _ask_once_more(self, sweep: Sweep) -> None:
        """Ask for the standard that an earlier calibration doubts, or for a load on its own."""
        now = self._calibrated(sweep.taken_at, "")
        found = compared_with_past(now, self._past or ())
        doubted = next((each.standard for each in found.doubts if each.standard), "")
        alone = not found.known and len(self._kit.standards) == EXACT_STANDARDS
        if not doubted and not (alone and load_decides(now, self._assumptions)):
            return
        name = doubted or "load"
        spoken = name.replace("-", " ")
        why = (
            f"The {spoken} reads otherwise than the last time"
            if found.change is not None and found.change.standard
            else f"Nothing before speaks for the {spoken}, and one that hangs loose passes for good"
        )
        self._once_more = name
        self._wanted[_named(name)] = Wanted(
            _named(name),
            f"{why}: take it off, and screw it on once more as you always do. This may be skipped.",
            name,
            optional=True,
        )

    def _accept_once_more(self, reading: StandardReading, sweep: Sweep) -> None:
        """Compare the two connections; where they differ, the later one counts, and one more must
        agree with it."""
        name = self._once_more
        plausibility.require_finite(name, reading.frequency_hz, reading.reflection)
        now = self._calibrated(sweep.taken_at, "")
        self._second = compare_readings(now, self._taken[name], reading)
        if self._second.agrees:
            super()._accept(reading, sweep)
            return
        later = replace(reading, name=name)
        rest = [self._taken[each] for each in self._kit.standards if each != name]
        _, self._warnings = solve_checked(self._kit, [*rest, later], self._spans)
        self._taken[name] = later
        raise StandardError(
            f"{self._difference_words(self._second)} One of the two connections was bad. Clean "
            "and tighten it, and put it on once more: two in a row must agree.",
            reading.name,
        )

    def _difference_words(self, second: SecondReading) -> str:
        if not second.at_hz:
            return ""
        spoken = second.standard.replace("-", " ")
        return (
            f"The {spoken}, connected once more, read otherwise by {second.largest:.2g} at "
            f"{second.at_hz / 1e6:.0f} MHz."
        )

    def _require_same_analyzer(self, sweep: Sweep) -> None:
        why = "" if self._source is None else sweep.source.differs_from(self._source)
        if why:
            raise OtherAnalyzerError(
                f"The standards before were read otherwise: {why}. Go back to what it was, or "
                "start the calibration anew."
            )


def _named(standard: str) -> str:
    """What a standard's second connection is called."""
    return f"{standard}, once more"
