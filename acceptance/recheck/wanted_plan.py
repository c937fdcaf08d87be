"""A record's plan held against the one that was ordered: is it easier to pass anywhere?

A plan is no easier where every frequency that was ordered is judged by at least the limit ordered
there, whatever its bands are called, and where nothing that was ordered of guard, conditions and
checks is less. What it asks beyond that makes it no easier.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from acceptance.plan.acceptance_plan import Plan, Target
from acceptance.record.conditions import words_of

RISK_OF_A_FULL_GUARD = 0.025
"""Of a guard band of the whole uncertainty: the one-sided rest of an interval of about 95 %."""
LEAST_DIFFERENCE_DB = 1e-9
"""A limit written in the other metric may differ by its last digit."""
STRICTNESS = ("none", "batch", "each")
"""After which sweeps a standard is put back, the least first."""


def easier_than(wanted: Plan, used: Plan) -> tuple[str, ...]:
    """Where the plan that was used is easier to pass than the wanted one, a sentence each."""
    return (
        *_bands(wanted.targets, used.targets),
        *_guard(wanted, used),
        *_conditions(wanted, used),
        *_checks(wanted, used),
    )


def _bands(wanted: Sequence[Target], used: Sequence[Target]) -> Iterator[str]:
    for target in wanted:
        least_db = target.limit.return_loss_db - LEAST_DIFFERENCE_DB
        title = target.name if target.link == "both" else f"{target.name} {target.link}"
        place = f"{title} ({target.low_hz / 1e6:g} to {target.high_hz / 1e6:g} MHz)"
        if not _covers(target, [each for each in used if each.limit.return_loss_db >= least_db]):
            if not _covers(target, used):
                yield f"{place} was ordered and is not judged, or not all of it."
                continue
            over = [e for e in used if e.low_hz < target.high_hz and e.high_hz > target.low_hz]
            lowest = min(over, key=lambda each: each.limit.return_loss_db)
            yield (
                f"{place} was ordered with a return loss of {target.limit.return_loss_db:.4g} dB "
                f"and is judged by {lowest.limit.return_loss_db:.4g} dB."
            )


def _covers(target: Target, by: Sequence[Target]) -> bool:
    """True where every frequency of a target lies in one of these."""
    reached_hz = target.low_hz
    for each in sorted(by, key=lambda one: one.low_hz):
        if each.low_hz <= reached_hz:
            reached_hz = max(reached_hz, each.high_hz)
    return reached_hz >= target.high_hz


def _guard(wanted: Plan, used: Plan) -> Iterator[str]:
    if not _guards_as_well(wanted, used):
        yield f"Ordered was: {wanted.guard_words}. It is judged so: {used.guard_words}."


def _guards_as_well(wanted: Plan, used: Plan) -> bool:
    """True where nothing passes by the used guard that the wanted one would not let pass."""
    if wanted.false_pass_risk is None and used.false_pass_risk is None:
        return used.guard >= wanted.guard
    if wanted.false_pass_risk is None and wanted.guard == 0:
        return True
    # a risk and a guard band are compared where a guard band is whole; less of one is no measure
    wanted_risk = wanted.false_pass_risk
    used_risk = used.false_pass_risk
    if wanted_risk is None:
        wanted_risk = RISK_OF_A_FULL_GUARD
    if used_risk is None:
        used_risk = RISK_OF_A_FULL_GUARD if used.guard >= 1 else 1.0
    return used_risk <= wanted_risk


def _conditions(wanted: Plan, used: Plan) -> Iterator[str]:
    for name in wanted.conditions:
        if name not in used.conditions:
            yield f"It was ordered to be swept {words_of(name).label}, and that is not asked for."
    for name in wanted.judged:
        if name in used.conditions and name not in used.judged:
            yield f"{words_of(name).label.capitalize()} was to decide, and does not."


def _checks(wanted: Plan, used: Plan) -> Iterator[str]:
    if used.sweeps < wanted.sweeps:
        yield f"{wanted.sweeps} sweeps that agree were ordered, and {used.sweeps} are asked for."
    for what, hours, asked in (
        (
            "A known device measured back",
            wanted.verified_within_hours,
            used.verified_within_hours,
        ),
        ("A check for drift", wanted.drift_checked_within_hours, used.drift_checked_within_hours),
        ("The check piece", wanted.check_piece_within_hours, used.check_piece_within_hours),
    ):
        if hours is not None and (asked is None or asked > hours):
            rather = "it is not asked for" if asked is None else f"{asked:g} h are allowed"
            yield f"{what} was ordered within {hours:g} h, and {rather}."
    if wanted.touch_test and not used.touch_test:
        yield "A touch test was ordered, and is not asked for."
    if used.warm_up_minutes < wanted.warm_up_minutes:
        yield (
            f"A warm-up of {wanted.warm_up_minutes:g} minutes was ordered, and "
            f"{used.warm_up_minutes:g} are asked for."
        )
    if STRICTNESS.index(used.check_after) < STRICTNESS.index(wanted.check_after):
        after = "every antenna" if wanted.check_after == "each" else "a batch's antennas"
        rather = "it is waived" if used.check_after == "none" else "only a batch's are asked for"
        yield f"A standard put back after {after} was ordered, and {rather}."
    if used.antennas < wanted.antennas:
        yield (
            f"It was ordered as a unit of {wanted.antennas} antennas, and is judged as one of "
            f"{used.antennas}: that isolation was not measured is left out."
        )
