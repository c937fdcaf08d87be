"""A calibration: readings of the standards, what they say of an analyzer, and when it holds."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Self

from acquire.coverage.spans import Span
from acquire.sweep import ComplexArray, FloatArray, Plane, Source, Sweep, SweepRequest
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms import one_port, plausibility
from calibration.error_terms.interpolation import same_grid, terms_at
from calibration.error_terms.one_port import ErrorTerms
from calibration.errors import CalibrationError, OtherAnalyzerError, StandardError
from calibration.evidence import (
    NO_EVIDENCE,
    ConnectionRepeats,
    DeviceCheck,
    Doubt,
    DriftCheck,
    Evidence,
)
from calibration.standards.agreement import disagreement
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions


@dataclass(frozen=True, slots=True, eq=False)
class Calibration:
    """Everything needed to correct a raw sweep, and to work the correction out again.

    Made by `calibrate`, which refuses what would lie.
    """

    kit: Kit
    """The whole definition, so that it holds without the kit's file."""
    readings: Mapping[str, StandardReading]
    """By standard, in the order measured."""
    terms: ErrorTerms
    source: Source
    """The analyzer it belongs to."""
    request: tuple[SweepRequest, ...]
    """The passes it was made with; empty if it was made from files."""
    spans: tuple[Span, ...]
    """Stretches inside which the terms may be interpolated."""
    taken_at: datetime
    """When the last standard was done; carries its time zone."""
    software: str
    """Name and version of the program that made it."""
    warnings: tuple[str, ...]
    """What a person should know before trusting it; one sentence each."""
    evidence: Evidence = NO_EVIDENCE
    """What was measured of it since."""
    remarks: tuple[str, ...] = ()
    """What else a person should know of it, and no reason to trust it less; a sentence each."""
    doubts: tuple[Doubt, ...] = ()
    """What speaks against it though its readings agree: see
    `calibration.verification.past_calibrations`. The words of each stand among the warnings."""
    cable: str = ""
    """What its person calls the test cable; empty where nobody gave it a name."""

    @property
    def frequency_hz(self) -> FloatArray:
        """The calibrated frequencies, Hz, shape (points,)."""
        return self.terms.frequency_hz

    @property
    def made(self) -> str:
        """When it was made, to the last digit: as good as its name."""
        return self.taken_at.astimezone(UTC).isoformat()

    def with_evidence(self, one: DeviceCheck | DriftCheck | ConnectionRepeats) -> Calibration:
        """The same calibration, with one more thing measured of it.

        Raises CalibrationError where that was measured at other frequencies, or before it.
        """
        takes = one.takes if isinstance(one, ConnectionRepeats) else (one.reading,)
        if not all(same_grid(each.frequency_hz, self.frequency_hz) for each in takes):
            raise CalibrationError(
                "What is measured of a calibration is measured at the frequencies that were "
                "calibrated. Sweep those."
            )
        if one.taken_at < self.taken_at:
            raise CalibrationError(
                "It was measured before the calibration was done, and says nothing of it. Measure "
                "it again."
            )
        return dataclasses.replace(self, evidence=self.evidence.with_one(one))

    def with_doubts(self, doubts: Sequence[Doubt]) -> Self:
        """The same calibration with these doubts in place of those it has."""
        before = {each.words for each in self.doubts}
        own = [each for each in self.warnings if each not in before]
        warnings = (*own, *(each.words for each in doubts))
        return dataclasses.replace(self, doubts=tuple(doubts), warnings=warnings)

    def fits(self, source: Source, request: Sequence[SweepRequest]) -> None:
        """Say nothing if sweeps of that analyzer and those passes can be corrected.

        Raises OtherUnitError or RangeError, in one sentence, if they cannot.
        """
        self._require_same_analyzer(source)
        if tuple(request) == self.request:
            return
        for each in request:
            self._terms_for(each.grid_hz())

    def correct(self, sweep: Sweep) -> Sweep:
        """The sweep at the connector's plane; all else of it unchanged.

        On the calibrated frequencies the terms are used as found, elsewhere they are
        interpolated within the spans. Points that were not measured stay so. Raises
        CalibrationError if the sweep is not raw, OtherUnitError if another analyzer took it,
        RangeError where the terms are not known.
        """
        if sweep.plane is not Plane.RAW:
            raise CalibrationError(
                f"Only a raw sweep can be corrected; this one is at the {sweep.plane.value} plane "
                f"already. Correct the raw readings kept beside it."
            )
        self._require_same_analyzer(sweep.source)
        terms = self._terms_for(sweep.frequency_hz)
        return sweep.with_reflection(one_port.correct(terms, sweep.reflection), Plane.CONNECTOR)

    def _terms_for(self, frequency_hz: FloatArray) -> ErrorTerms:
        if self.source.analyzer_corrected and not same_grid(frequency_hz, self.frequency_hz):
            raise OtherAnalyzerError(
                "This analyzer corrects its readings itself, and may do so differently on another "
                "sweep. Sweep the frequencies that were calibrated, or calibrate again."
            )
        return terms_at(self.terms, frequency_hz, self.spans)

    def _require_same_analyzer(self, source: Source) -> None:
        if why := source.differs_from(self.source):
            raise OtherAnalyzerError(
                f"The calibration does not hold for this analyzer as it is: {why}. Go back to what "
                "it was, load another calibration, or calibrate anew."
            )


def calibrate(
    kit: Kit,
    readings: Sequence[StandardReading],
    *,
    source: Source,
    request: Sequence[SweepRequest],
    spans: Sequence[Span],
    taken_at: datetime,
    software: str,
    cable: str = "",
    stored: bool = False,
) -> Calibration:
    """Check the readings, solve for the error terms, check those, and keep it all.

    readings : one for every standard of the kit that was measured, three or more, in the order
        they were taken, all on the same frequencies.
    spans : see `interpolation.terms_at`. cable : the test cable's name, if it has one.
    stored : True for readings that were accepted once: that four or more of them do not agree by
        today's measure is then a warning.
    Raises StandardError, naming the one standard to measure again; RangeError if the kit does
    not describe a standard at these frequencies; CalibrationError if there is no solution.
    """
    if taken_at.tzinfo is None:
        raise ValueError("A calibration's time must carry its time zone.")
    terms, warnings = solve_checked(kit, readings, spans, stored=stored)
    measured = [reading.name for reading in readings]
    return Calibration(
        kit=kit,
        readings={reading.name: reading for reading in readings},
        terms=terms,
        source=source,
        request=tuple(request),
        spans=tuple(spans),
        taken_at=taken_at,
        software=software,
        warnings=(*warnings, *kit.warnings, *kit.expired(taken_at.date(), measured)),
        remarks=plausibility.say_if_exchange_untold(terms, spans),
        cable=cable,
    )


def solve_checked(
    kit: Kit, readings: Sequence[StandardReading], spans: Sequence[Span], *, stored: bool = False
) -> tuple[ErrorTerms, tuple[str, ...]]:
    """Error terms that passed every check, and the warnings. Raises as `calibrate` does."""
    measured, actual = check_readings(kit, readings)
    if len(readings) < 3:
        raise CalibrationError(
            f"Three error terms need three standards or more, and {len(readings)} were measured."
        )
    frequency = readings[0].frequency_hz
    terms = one_port.solve(frequency, list(measured.values()), list(actual.values()))
    plausibility.require_possible(terms, measured, actual)
    plausibility.require_consistent(terms, measured, actual)
    warnings = plausibility.warn_if_exchanged(terms, spans) or plausibility.warn_if_unusual(terms)
    by_name = {each.name: each for each in readings}
    found = disagreement(kit, by_name, terms, Assumptions())
    if found is None:
        return terms, warnings
    if not stored:
        raise StandardError(f"{found.words} Measure the {found.culprit} again.", found.culprit)
    return terms, (*warnings, f"{found.words} Calibrate anew.")


def check_readings(
    kit: Kit, readings: Sequence[StandardReading]
) -> tuple[dict[str, ComplexArray], dict[str, ComplexArray]]:
    """Refuse readings that would lie, as far as can be seen before solving.

    Works from the first standard on, so that a mistake is found while the standard is at hand.
    Returns what was measured and what the kit says, by standard, shape (points,).
    Raises StandardError, naming the standard; RangeError if the kit does not describe it here.
    """
    measured: dict[str, ComplexArray] = {}
    actual: dict[str, ComplexArray] = {}
    for reading in readings:
        name, frequency = reading.name, reading.frequency_hz
        if name not in kit.standards or name in measured:
            raise CalibrationError(
                f"The kit {kit.name} wants each of {', '.join(kit.standards)} once; it has no "
                f"place for this {name}."
            )
        if measured and not same_grid(frequency, readings[0].frequency_hz):
            raise StandardError(
                f"The {name} was measured at other frequencies than the {readings[0].name}. "
                f"Measure the {name} again.",
                name,
            )
        plausibility.require_finite(name, frequency, reading.reflection)
        measured[name] = reading.reflection
        actual[name] = kit.standards[name].reflection(frequency)
    if readings:
        plausibility.require_apart(readings[0].frequency_hz, measured, actual)
        plausibility.require_load_reads_low(measured, actual)
    return measured, actual
