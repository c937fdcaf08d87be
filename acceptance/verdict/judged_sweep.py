"""The one way from a reading to a verdict: correct, budget, move the plane, interval, judge.

Page, terminal, record, recheck, tour and touch test all go it, so that the same sweeps cannot come
to two verdicts. Nothing else calls `judge`; a guard holds that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Generic, TypeVar

from acceptance.errors import VerdictError
from acceptance.plan.acceptance_plan import Plan
from acceptance.verdict.plan_verdict import Verdict, judge
from acceptance.verdict.worst_of_sweeps import worst_of
from acquire.files.doubtful_figure import doubtful_figures
from acquire.sweep import Plane, Reading, Source, Sweep
from calibration.calibration_budget import budget_of_file
from calibration.capture.averaging import Averaged
from calibration.error_terms.time_order import without_early
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import CONNECTOR, DeEmbedding, ReferencePlane
from calibration.uncertainty.budget import DEFAULT_LOAD_DB, Assumptions, Budget
from calibration.uncertainty.interval import Interval, interval
from calibration.verification.reading_budget import ReadingBudget, noise_in
from calibration.verification.repeatability import connection_advice

UNKNOWN_CALIBRATION = (
    f"Nothing is known of the file's calibration: a load of {DEFAULT_LOAD_DB:g} dB of unknown "
    "phase is assumed. Say better with --load-db."
)
"""Goes with the verdict on every file whose load nobody stated, wherever that is judged."""

AnyReading = TypeVar("AnyReading", Sweep, Reading)
"""A sweep stays a sweep, a file's reading a reading."""


@dataclass(frozen=True, slots=True, eq=False)
class JudgedReading(Generic[AnyReading]):
    """What a reading amounts to at the plane where it is judged."""

    reading: AnyReading
    """Corrected, at that plane."""
    budget: Budget
    """What can be wrong with it there."""
    interval: Interval
    """How far each of its points can be trusted."""
    de_embedding: DeEmbedding | None
    """What was de-embedded to get there, and what that did; None where nothing was."""
    verdict: Verdict | None
    """None where there is no plan."""

    @property
    def decided(self) -> Verdict:
        """The verdict. Raises VerdictError where there was no plan."""
        if self.verdict is None:
            raise VerdictError("There was no plan to judge the sweep by. Name one.")
        return self.verdict

    @property
    def noise(self) -> float:
        """Complex noise of a point, rms, linear; 0 where nobody knows."""
        return noise_in(self.budget, self.reading.reflection)


@dataclass(frozen=True, slots=True, eq=False)
class CorrectedReading(Generic[AnyReading]):
    """A reading before its plane is moved, and what can be wrong with it."""

    reading: AnyReading
    plane: Plane
    """Where it holds: at the connector, but for a file that says otherwise."""
    source: Source
    budget: Budget
    warnings: tuple[str, ...] = ()
    """What its calibration warns of, and what speaks against its being a reflection, a sentence
    each: the verdict's doubts."""
    remarks: tuple[str, ...] = ()
    """What else is to be known of its calibration, likewise: notes of the verdict."""

    def judged(self, plane: ReferencePlane, plan: Plan | None) -> JudgedReading[AnyReading]:
        """Move it to a plane, and judge it there.

        plan : None where it is only to be shown, and there is no verdict.
        Raises CalibrationError where it cannot be moved there.
        """
        there = plane.move(self.reading, self.budget)
        uncertainty = interval(there.budget, there.reading.reflection)
        verdict = None
        if plan is not None:
            verdict = judge(
                plan,
                there.reading,
                self.plane if there.de_embedding is None else plane.plane,
                self.source,
                uncertainty=uncertainty,
                de_embedding=there.de_embedding,
                warnings=(*self.warnings, *plane.warnings),
                remarks=self.remarks,
            )
        return JudgedReading(there.reading, there.budget, uncertainty, there.de_embedding, verdict)


def corrected_sweep(
    raw: Averaged | Sweep,
    calibration: Calibration,
    reading_budget: ReadingBudget,
    *,
    swept: int = 0,
) -> CorrectedReading[Sweep]:
    """A raw sweep, or the average of several, at the connector.

    swept : sweeps since the calibration, or since it was last checked; they count into drift.
    What would have come back before it was sent is not measured. Raises CalibrationError where the
    calibration does not fit it.
    """
    averaged = raw if isinstance(raw, Averaged) else None
    corrected = calibration.correct(raw.sweep if isinstance(raw, Averaged) else raw)
    budget = reading_budget.budget(calibration, corrected, averaged, swept=swept)
    kept, early = without_early(corrected.frequency_hz, corrected.reflection)
    return CorrectedReading(
        replace(corrected, reflection=kept) if early else corrected,
        corrected.plane,
        corrected.source,
        budget,
        (*calibration.warnings, *assumption_warnings(reading_budget.assumptions), *early),
        (*calibration.remarks, *connection_advice(calibration, reading_budget.assumptions)),
    )


def assumption_warnings(assumptions: Assumptions) -> tuple[str, ...]:
    """Which of the assumptions are hardly what was meant, a sentence each."""
    return doubtful_figures(asdict(assumptions), "Assumed")


def corrected_file(
    reading: AnyReading,
    assumptions: Assumptions,
    plane: Plane,
    source: Source,
    doubts: Sequence[str] = (),
) -> CorrectedReading[AnyReading]:
    """What a file holds, of whose calibration nothing is known but what is assumed.

    plane : where the file's data holds. doubts : what says that the data may be another one than
    was read.
    """
    budget = budget_of_file(reading.frequency_hz, assumptions)
    remarks = () if assumptions.load_db is not None else (UNKNOWN_CALIBRATION,)
    warnings = (*assumption_warnings(assumptions), *doubts)
    return CorrectedReading(reading, plane, source, budget, warnings, remarks)


def judged_sweep(
    raw: Averaged | Sequence[Sweep],
    calibration: Calibration,
    reading_budget: ReadingBudget,
    *,
    plane: ReferencePlane = CONNECTOR,
    plan: Plan | None = None,
    swept: int = 0,
) -> JudgedReading[Sweep]:
    """From raw sweeps to what they amount to.

    raw : the average of sweeps that agree; or sweeps that do not, one or more. Of those the last
        one is shown, and the worst one decides in each band.
    swept : sweeps since the calibration, or since it was last checked; they count into drift.
    Raises CalibrationError where the calibration does not fit, or the plane cannot be had.
    """
    each = (raw,) if isinstance(raw, Averaged) else raw
    found = [
        corrected_sweep(one, calibration, reading_budget, swept=swept).judged(plane, plan)
        for one in each
    ]
    verdicts = [one.verdict for one in found if one.verdict is not None]
    return replace(found[-1], verdict=worst_of(verdicts)) if verdicts else found[-1]
