"""From what was done for an antenna to what follows: raw sweeps, calibration and plan to verdict.

A record comes about this way, and is checked this way years later: there is one way only.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace

from acceptance.cable.cable_faults import LineReflections, inspect_line
from acceptance.cable.verdict_through_cable import Wanted
from acceptance.errors import RecordError, VerdictError
from acceptance.limits.decision import State, most_severe
from acceptance.record.acceptance_record import (
    ALONG,
    CORRECTED,
    UNCERTAINTY_FILE,
    VERDICT,
    Acceptance,
    Condition,
    Record,
    as_json,
    as_utc,
    done_files,
    folder_name,
    touchstone_of,
)
from acceptance.record.check_after_sweep import (
    check_as_json,
    check_of,
    examined_check,
    with_check,
)
from acceptance.record.checksums import CHECKSUMS, format_checksums
from acceptance.record.conditions import (
    ConditionComparison,
    SweptCondition,
    condition_comparisons,
)
from acceptance.record.layouts import CHECKS
from acceptance.record.uncertainty_table import format_uncertainty_table, uncertainty_table
from acceptance.tuning.dips import Dip, find_dips
from acceptance.tuning.unserved_dips import unserved_dips
from acceptance.verdict.band_average import average_interval_db
from acceptance.verdict.band_verdict import BandVerdict, known
from acceptance.verdict.judged_sweep import (
    CorrectedReading,
    corrected_file,
    corrected_sweep,
)
from acceptance.verdict.plan_verdict import MATCH_ONLY, Verdict
from acquire.files.doubtful_figure import doubtful_figure
from acquire.sweep import Sweep
from calibration.capture.averaging import average
from calibration.errors import FaultError
from calibration.plane.reference_plane import CONNECTOR
from calibration.uncertainty.interval import Interval, Residuals, residuals
from calibration.verification.put_back import PutBack
from calibration.verification.reading_budget import ReadingBudget, noise_in


@dataclass(frozen=True, slots=True, eq=False)
class ExaminedCondition:
    """One condition, judged."""

    condition: Condition
    judged: bool
    """True where it decides; the others only show what changed."""
    corrected: Sweep
    interval: Interval
    """How far each of its points can be trusted."""
    residuals: Residuals
    """What the calibration leaves of its error terms there."""
    verdict: Verdict
    dips: tuple[Dip, ...]
    line: LineReflections | None = None
    """What its cable reflects, and where; None where nobody asked, or it cannot be told."""
    line_refused: str = ""
    """Why that cannot be told; else empty."""


@dataclass(frozen=True, slots=True, eq=False)
class Examined:
    """An acceptance and all that follows from it."""

    acceptance: Acceptance
    conditions: tuple[ExaminedCondition, ...]
    """In the order of its conditions."""
    condition_comparisons: tuple[ConditionComparison, ...]
    """What each condition after the first one does."""
    checks: tuple[PutBack, ...] = ()
    """What the checks after the sweep show, in the order taken."""

    @property
    def overall(self) -> State:
        """The most severe of the conditions that decide; one that was not swept is not measured."""
        swept = [each.verdict.overall for each in self.deciding]
        return most_severe([*swept, *(State.NOT_MEASURED for _ in self.unswept)])

    @property
    def deciding(self) -> tuple[ExaminedCondition, ...]:
        """Those that the plan lets decide."""
        return tuple(each for each in self.conditions if each.judged)

    @property
    def unswept(self) -> tuple[str, ...]:
        """Conditions that the plan lets decide and that were not swept, by name."""
        if self.acceptance.kind == "imported":  # its one reading decides
            return ()
        swept = {each.condition.name for each in self.conditions}
        return tuple(name for name in self.acceptance.plan.judged if name not in swept)

    @property
    def shown(self) -> tuple[ExaminedCondition, ...]:
        """Those whose bands are shown: the ones that decide; all while none of those is swept."""
        return self.deciding or self.conditions

    @property
    def worst(self) -> ExaminedCondition:
        """The one of those shown that stands for the whole: the first of the most severe."""
        state = most_severe(each.verdict.overall for each in self.shown)
        return next(each for each in self.shown if each.verdict.overall is state)

    @property
    def words(self) -> str:
        """The overall state as a person reads it."""
        state, worst = self.overall, self.worst.verdict
        return worst.words if worst.overall is state else str(state)


def examine(acceptance: Acceptance) -> Examined:
    """Average, correct and judge every condition of an acceptance.

    Raises VerdictError where sweeps of one condition do not agree with each other, or there is
    none; CalibrationError where the calibration does not fit them.
    """
    if not acceptance.conditions:
        raise VerdictError("Nothing was swept, so there is nothing to judge. Sweep the antenna.")
    checks = _examined_checks(acceptance)
    conditions = tuple(
        _examine_condition(acceptance, each, checks) for each in acceptance.conditions
    )
    swept = [
        SweptCondition(
            each.condition.name,
            each.dips,
            each.verdict,
            each.interval.budget,
            each.corrected.reflection,
        )
        for each in conditions
    ]
    compared = condition_comparisons(swept, acceptance.plan.targets)
    return Examined(acceptance, conditions, compared, checks)


def _examined_checks(acceptance: Acceptance) -> tuple[PutBack, ...]:
    after, calibration = acceptance.after_sweep, acceptance.calibration
    if after is None or calibration is None:
        return ()
    return tuple(
        examined_check(each, calibration, acceptance.assumptions, acceptance.plan)
        for each in after.checks
    )


def compose_record(
    examined: Examined, calibration: str | None, more: Mapping[str, bytes] | None = None
) -> Record:
    """Everything of a signed-off acceptance, to be written.

    calibration : the calibration's own JSON text. more : derived files made elsewhere, such as
    the report, by their names. Raises RecordError where it is not signed off.
    """
    acceptance = examined.acceptance
    if acceptance.accepted_at is None:
        raise RecordError(
            f"{acceptance.antenna} is not signed off, so there is no record to write. Sign it off."
        )
    files = {
        **done_files(acceptance, calibration),
        **derived_files(examined),
        **(more or {}),
    }
    return Record(folder_name(acceptance), {**files, CHECKSUMS: format_checksums(files)})


def derived_files(examined: Examined) -> dict[str, bytes]:
    """The files that follow from what was done, by their names: verdict, corrected sweeps, and how
    far each point of them can be trusted."""
    acceptance = examined.acceptance
    files = {
        f"{each.condition.name}/{CORRECTED}": touchstone_of(
            each.corrected, acceptance.antenna, acceptance.software, _de_embedding_words(each)
        )
        for each in examined.conditions
    }
    tables = {
        f"{each.condition.name}/{UNCERTAINTY_FILE}": format_uncertainty_table(
            uncertainty_table(each.interval, each.residuals)
        )
        for each in examined.conditions
    }
    lines = {
        f"{each.condition.name}/{ALONG}": each.line.as_csv().encode()
        for each in examined.conditions
        if each.line is not None
    }
    return {**files, **tables, **lines, VERDICT: as_json(verdict_as_json(examined))}


def _de_embedding_words(examined_condition: ExaminedCondition) -> str:
    """What a corrected sweep was moved through, in words; empty at the connector."""
    return (
        ""
        if examined_condition.verdict.de_embedding is None
        else examined_condition.verdict.de_embedding.words
    )


def verdict_as_json(examined: Examined) -> dict[str, object]:
    """What `verdict.json` tells."""
    return {
        "overall": str(examined.overall),
        "words": examined.words,
        "statement": MATCH_ONLY,
        "software": examined.acceptance.software,
        "conditions": [_condition_as_json(each) for each in examined.conditions],
        "shifts": [_comparison_as_json(each) for each in examined.condition_comparisons],
        **_checks_as_json(examined),
    }


def _checks_as_json(examined: Examined) -> dict[str, object]:
    """Of the checks after the sweep, only where they were asked for: older records have none."""
    if examined.acceptance.after_sweep is None:
        return {}
    return {
        CHECKS: {
            "rule": examined.acceptance.plan.check_after,
            "checks": [check_as_json(each) for each in examined.checks],
        }
    }


def _examine_condition(
    acceptance: Acceptance, condition: Condition, checks: Sequence[PutBack]
) -> ExaminedCondition:
    corrected = _corrected(acceptance, condition)
    imported = acceptance.calibration is None
    found = corrected.judged(CONNECTOR if imported else acceptance.plane, acceptance.plan)
    verdict = found.decided
    if acceptance.after_sweep is not None:
        check = check_of(condition.raw[-1].taken_at, checks)
        verdict = with_check(verdict, acceptance.plan.check_after, check)
    line, why = (None, "") if imported else _along(acceptance, corrected)
    reading = found.reading
    dips = tuple(find_dips(reading.frequency_hz, reading.reflection, found.noise))
    more = (*_doubtful_sizes(acceptance), *unserved_dips(verdict.bands, dips))
    return ExaminedCondition(
        condition,
        condition.name in acceptance.plan.judged or acceptance.kind == "imported",
        reading,
        found.interval,
        residuals(found.budget),
        replace(verdict, notes=(*verdict.notes, *more)),
        dips,
        line,
        why,
    )


def _doubtful_sizes(acceptance: Acceptance) -> tuple[str, ...]:
    """Which sizes, of the recipe or as finished, are hardly what was meant; a sentence each."""
    finished = (
        doubtful_figure("size_mm", size, f"The size {name}")
        for name, size in acceptance.sizes_mm.items()
    )
    return (*acceptance.recipe.warnings, *(each for each in finished if each))


def _corrected(acceptance: Acceptance, condition: Condition) -> CorrectedReading[Sweep]:
    """A condition's raw sweeps averaged and corrected; of an imported file, what it holds."""
    if acceptance.calibration is None:
        sweep = condition.raw[-1]
        return corrected_file(
            sweep, acceptance.assumptions, sweep.plane, sweep.source, condition.doubts
        )
    averaged = average(condition.raw)
    if averaged is None:
        raise VerdictError(
            f"The {len(condition.raw)} raw sweeps ({condition.label}) do not agree with each "
            "other, so they are no acceptance."
        )
    reading_budget = ReadingBudget(acceptance.assumptions)
    return corrected_sweep(
        averaged, acceptance.calibration, reading_budget, swept=condition.sweeps_since_calibration
    )


def _along(
    acceptance: Acceptance, at_connector: CorrectedReading[Sweep]
) -> tuple[LineReflections | None, str]:
    """What the cable reflects that was to be looked along, or why that cannot be told."""
    if acceptance.line is None:
        return None, ""
    reading, budget = at_connector.reading, at_connector.budget
    try:
        seen = inspect_line(
            acceptance.line,
            reading.frequency_hz,
            reading.reflection,
            left=residuals(budget),
            noise=noise_in(budget, reading.reflection),
            wanted=Wanted.of_plan(acceptance.plan),
            touch=acceptance.touch_test,
        )
    except FaultError as error:
        return None, str(error)
    return seen, ""


def _condition_as_json(examined_condition: ExaminedCondition) -> dict[str, object]:
    along: dict[str, object] = {}
    if examined_condition.line is not None:
        along = {"line": examined_condition.line.as_json()}
    elif examined_condition.line_refused:
        along = {"line": {"refused": examined_condition.line_refused}}
    return {
        **along,
        "name": examined_condition.condition.name,
        "label": examined_condition.condition.label,
        "judged": examined_condition.judged,
        "taken_at": as_utc(examined_condition.corrected.taken_at),
        "words": examined_condition.verdict.words,
        "verdict": examined_condition.verdict.as_json(),
        "details": [_detail(band, examined_condition) for band in examined_condition.verdict.bands],
        "notes": list(examined_condition.verdict.notes),
        "dips": [
            {
                "frequency_hz": each.frequency_hz,
                "return_loss_db": each.return_loss_db,
                "bandwidth_hz": each.bandwidth_hz,
                "beyond": each.beyond,
            }
            for each in examined_condition.dips
        ],
    }


def _detail(band: BandVerdict, of: ExaminedCondition) -> dict[str, object]:
    average_db = None
    if band.average_return_loss_db is not None:
        average_db = average_interval_db(
            of.interval, of.corrected.reflection, (band.low_hz, band.high_hz)
        )
    return {
        "name": band.name,
        "link": band.link,
        "low_hz": band.low_hz,
        "high_hz": band.high_hz,
        "words": band.words,
        "average_return_loss_db": known(band.average_return_loss_db),
        "average_better_than_db": known(band.average_better_than_db),
        "average_interval_db": None if average_db is None else [known(end) for end in average_db],
        "edge_error": band.edge_error,
        "reason": band.reason,
        "note": band.note,
    }


def _comparison_as_json(comparison: ConditionComparison) -> dict[str, object]:
    return {
        "before": comparison.before,
        "after": comparison.after,
        "words": comparison.words,
        "dips": [asdict(each) | {"shift_hz": each.shift_hz} for each in comparison.dips],
        "margins": [
            {
                "name": each.target.name,
                "link": each.target.link,
                "before_db": known(each.before_db),
                "after_db": known(each.after_db),
                "change_db": known(each.change_db),
                "uncertainty_db": each.uncertainty_db,
            }
            for each in comparison.margins
        ],
    }
