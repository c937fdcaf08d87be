"""`trust`: how far readings with a calibration can be trusted, what costs most, and what helps."""

from __future__ import annotations

import math

import typer
from rich.table import Table

from acceptance.limits.match import reflection_from_return_loss
from acceptance.plan.load import load_plan
from calibration.files.store import load_calibration
from calibration.uncertainty.ranking import (
    SensitivityRanking,
    advice,
    assumed_words,
    rank_sensitivities,
)
from calibration.verification.verified_budget import evidence_results, verified_budget
from dashboard.command_line.options import (
    AssumptionOptions,
    CalibrationNeeded,
    Json,
    PlaneOption,
    PlanFile,
    clock_of,
)
from dashboard.files.plane_option import plane_of_option
from dashboard.terminal.output import number, say, show, show_json, table

DEFAULT_LIMIT_DB = 10.0


def trust(
    context: typer.Context,
    *,
    calibration: CalibrationNeeded,
    plan: PlanFile = None,
    assumed: AssumptionOptions,
    plane: PlaneOption = None,
    as_json: Json = False,
) -> None:
    """Show how far to trust a reading, and what limits it.

    Also shows what would help most. Needs no hardware.
    """
    stored = load_calibration(calibration)
    assumptions = assumed.assumptions
    now = clock_of(context).now()
    there = plane_of_option(plane, stored)
    budget = there.of(verified_budget(stored, assumptions, now))
    if plan is None:
        limit = float(reflection_from_return_loss(DEFAULT_LIMIT_DB))
        stretches = [("", span, limit) for span in stored.spans]
    else:
        stretches = [
            (f"{target.name} {target.link}", (target.low_hz, target.high_hz), limit)
            for target in load_plan(plan).targets
            for limit in [target.limit.reflection]
        ]
    found = rank_sensitivities(budget, [(span, limit) for _, span, limit in stretches])
    names = {span: name for name, span, _ in stretches}
    if as_json:
        show_json([as_object(names[each.span], each) for each in found])
        return
    show(as_table(names, found))
    say()
    if there.between is not None:
        say(f"Of verdicts {there.words}.")
    say(advice(found))
    evidence = evidence_results(stored, assumptions)
    checked = [*(each.words for each in evidence.devices), *(d.words for d in evidence.drifts)]
    if evidence.repeatability is not None:
        checked.append(evidence.repeatability.words)
    for words in checked or [
        "Nothing was measured back yet; `bandwright verify` leads through it."
    ]:
        for line in words.split("\n"):
            say(line)
    say(assumed_words(budget))


def as_table(names: dict[tuple[float, float], str], found: tuple[SensitivityRanking, ...]) -> Table:
    """Return one row a stretch."""
    rows = table(
        "band",
        number("trust floor\ndB"),
        number("at the limit\ndB"),
        number("source\nmatch"),
        number("tracking\n± dB"),
        "most of it",
    )
    for each in found:
        low_db, high_db = each.interval_db
        cause, share = each.shares[0]
        low, high = (edge / 1e6 for edge in each.span)
        rows.add_row(
            names[each.span].removesuffix(" both") or f"{low:.0f} to {high:.0f} MHz",
            f"{each.floor_db:.1f}",
            f"{low_db:.1f} to {high_db:.1f}",
            f"{each.source_match_db:.1f}",
            f"{each.tracking_db:.2f}",
            f"{cause}, {share:.0%}",
        )
    return rows


def as_object(name: str, ranking: SensitivityRanking) -> dict[str, object]:
    """Return one entry of the list that `trust --json` prints."""
    low_db, high_db = ranking.interval_db
    return {
        "name": name,
        "low_hz": ranking.span[0],
        "high_hz": ranking.span[1],
        "trust_floor_db": ranking.floor_db if math.isfinite(ranking.floor_db) else None,
        "interval_at_limit_db": [low_db, high_db if math.isfinite(high_db) else None],
        "residual_source_match_db": ranking.source_match_db,
        "residual_tracking_db": ranking.tracking_db,
        "shares": dict(ranking.shares),
        "cures": [
            {"cause": c.cause, "words": c.words, "trust_floor_db": c.floor_db, "gain": c.gain}
            for c in ranking.cures
        ],
    }
