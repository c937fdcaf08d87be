"""The guided calibration: which standard next, how it goes, what was wrong with it.

The page and the terminal drive the same session. They show `state`, call `begin` when the
person says that the standard is on, feed every sweep to `add`, and in the end call `finish`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from acquire.coverage.spans import Span
from acquire.sweep import Source, Sweep, SweepRequest
from calibration.capture.guided_captures import Captures, Wanted
from calibration.capture.standard_capture import StandardReading
from calibration.errors import CalibrationError, OtherAnalyzerError, StandardError
from calibration.one_port_calibration import Calibration, calibrate, check_readings, solve_checked
from calibration.standards.kit import Kit


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
    ) -> None:
        """Start with nothing measured.

        request : the passes that every standard is captured with.
        spans : stretches inside which error terms may be interpolated, as
            `acquire.coverage.spans.continuous_spans` gives them for the analyzer's range steps.
        wanted_sweeps : steady sweeps to average for each standard, 4 or more.
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

    def finish(self, now: datetime, software: str) -> Calibration:
        """The calibration. Raises CalibrationError while a standard is missing.

        now : time of the last standard, with its zone.
        software : name and version of the program, kept with the calibration.
        """
        readings = self.readings()
        if self._source is None:
            raise CalibrationError("Nothing has been measured yet. Measure the standards first.")
        return calibrate(
            self._kit,
            readings,
            source=self._source,
            request=self.request,
            spans=self._spans,
            taken_at=now,
            software=software,
        )

    def _accept(self, reading: StandardReading, sweep: Sweep) -> None:
        """Keep a reading that agrees with those before it; raise StandardError if it does not."""
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

    def _require_same_analyzer(self, sweep: Sweep) -> None:
        why = "" if self._source is None else sweep.source.differs_from(self._source)
        if why:
            raise OtherAnalyzerError(
                f"The standards before were read otherwise: {why}. Go back to what it was, or "
                "start the calibration anew."
            )
