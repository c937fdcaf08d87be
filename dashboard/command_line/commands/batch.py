"""`batch`: what the records of one recipe tell together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

import typer

from acceptance.batch import recipe_batch as batches
from acceptance.batch.charted_series import ChartedSeries
from acceptance.batch.recipe_batch import Batch
from acceptance.batch.size_effect import (
    SizeEffect,
    Suggestion,
    chosen_size_effects,
    suggest_next_sizes,
)
from acceptance.catalogue.query import Query
from dashboard.command_line.options import Json
from dashboard.command_line.record_selection import CatalogueOptions, Condition, PeriodOptions
from dashboard.errors import SetupError
from dashboard.files.catalogue_access import recipe_named
from dashboard.terminal.batch_tables import show_batch
from dashboard.terminal.output import show_json


def batch(
    recipe: Annotated[
        str | None,
        typer.Argument(
            metavar="RECIPE", help="Name of the recipe. Not needed if there is only one."
        ),
    ] = None,
    *,
    target: Annotated[
        float | None,
        typer.Option(
            "--target",
            metavar="MHZ",
            help="Suggest the next cut that puts a dip at this frequency.",
        ),
    ] = None,
    dimension: Annotated[
        str,
        typer.Option("--dimension", metavar="NAME", help="Show and plot this dimension alone."),
    ] = "",
    dip: Annotated[
        int | None,
        typer.Option(
            "--dip",
            metavar="N",
            min=1,
            help="With --dimension: plot against this dip, counted from the lowest. Default: the "
            "one that the recipe says it moves, or else the best match.",
        ),
    ] = None,
    newest: Annotated[
        bool, typer.Option("--newest", help="Only the newest record of each antenna.")
    ] = False,
    condition: Condition = "",
    period: PeriodOptions,
    records: CatalogueOptions,
    as_json: Json = False,
) -> None:
    """Show yield, spread and drift for one recipe.

    Also shows how much each dimension moves each dip, and where to cut next. Needs no hardware.
    """
    if dip is not None and not dimension:
        raise SetupError("--dip goes with --dimension: name the size to hold against it.")
    with records.opened() as opened:
        name = recipe_named(recipe, opened.recipes())
        since, until = period.days
        wanted = Query(recipe=name, operator=period.operator, since=since, until=until)
        summaries = opened.summaries(wanted)
        built_by = opened.recipe_of(summaries)
    found = batches.batch(summaries, condition, newest_only=newest)
    against = chosen_size_effects(found, built_by, dimension, dip)
    suggestions = suggest_next_sizes(against, found, target, built_by, alone=bool(dimension))
    if as_json:
        show_json(as_object(name, found, against, suggestions))
    else:
        show_batch(name, summaries, found, against, suggestions, alone=bool(dimension))


def as_object(
    name: str,
    found: Batch,
    against: Sequence[SizeEffect],
    suggestions: Sequence[tuple[SizeEffect, Suggestion | str]],
) -> dict[str, Any]:
    """Return the object that `batch --json` prints."""
    quantities = [*found.dips, *([found.margin] if found.margin else [])]
    return {
        "recipe": name,
        "records": len(found.built),
        "antennas": found.antennas,
        "first_time": _share(found.first),
        "now": _share(found.newest),
        "bands": [
            {
                "name": each.judged.name,
                "link": each.judged.link,
                "limit": each.judged.limit.as_json(),
                "first_time": _share(each.first),
                "now": _share(each.newest),
                "states": {str(state): count for state, count in each.states.items()},
                "least_margin_db": each.least_db,
                "least_margin_of": each.least_antenna or None,
            }
            for each in found.bands
        ],
        "charts": [_series_object(each) for each in quantities],
        "size_effects": [
            {
                "dimension": each.dimension,
                "dip": each.dip,
                "sizes_mm": list(each.sizes_mm),
                "dips_mhz": list(each.dips_mhz),
                "mhz_per_mm": None if each.line is None else each.line.slope,
                "mhz_per_mm_interval": (
                    None if each.line is None else list(each.line.slope_interval())
                ),
                "scatter_mhz": None if each.line is None else each.line.scatter,
                "why_not": each.why_not or None,
            }
            for each in against
        ],
        "next": [_next_object(cut, suggestion) for cut, suggestion in suggestions],
    }


def _share(suggestion: Any) -> dict[str, Any]:
    return {"passed": suggestion.passed, "of": suggestion.of, "interval": list(suggestion.interval)}


def _series_object(series: ChartedSeries) -> dict[str, Any]:
    chart = series.chart
    return {
        "name": series.name,
        "unit": series.unit,
        "values": [
            {"antenna": each.label, "record": each.folder, "value": value}
            for each, value in zip(series.charted, chart.values, strict=True)
        ],
        "mean": chart.mean,
        "standard_deviation": chart.sd,
        "limits": None if chart.low is None else [chart.low, chart.high],
        "mean_moving_range": chart.moving_range,
        "provisional": chart.provisional,
        "outliers": [series.charted[n].folder for n in chart.outliers],
        "jumps": [series.charted[n].folder for n in chart.jumps],
        "runs": [[series.charted[n].folder for n in (r.first, r.last)] for r in chart.runs],
        "climbs": [[series.charted[n].folder for n in (r.first, r.last)] for r in chart.climbs],
        "per_record": None if chart.slope is None else chart.slope.slope,
        "missing": list(series.missing),
    }


def _next_object(cut: SizeEffect, suggestion: Suggestion | str) -> dict[str, Any]:
    if isinstance(suggestion, str):
        return {"dimension": cut.dimension, "dip": cut.dip, "size_mm": None, "why_not": suggestion}
    return {
        "dimension": cut.dimension,
        "dip": cut.dip,
        "target_mhz": suggestion.target_mhz,
        "size_mm": suggestion.size_mm,
        "size_interval_mm": list(suggestion.size_within_mm),
        "lands_mhz": list(suggestion.lands_mhz),
        "leave_mm": suggestion.leave_mm,
        "beyond_what_was_cut": suggestion.beyond,
        "why_not": None,
    }
