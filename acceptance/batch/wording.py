"""A batch in sentences, the same for terminal and page."""

from __future__ import annotations

from collections.abc import Sequence

from acceptance.batch.charted_series import ChartedSeries
from acceptance.batch.control_chart import LEAST_DRAWN, SLOPE_CONFIDENCE
from acceptance.batch.recipe_batch import Batch
from acceptance.batch.size_effect import SizeEffect, Suggestion
from acceptance.catalogue.record_summary import RecordSummary


def yield_words(found: Batch) -> str:
    """How many pass, and how far so few can tell of the next ones."""
    low, high = (f"{100 * each:.0f}" for each in found.first.interval)
    first = (
        f"{found.first.passed} of {found.first.of}, which stands for {low} to {high} % of antennas "
        "built so (95 %)"
    )
    if not any(each.again for each in found.built):
        return f"Pass: {first}."
    return f"Pass the first time: {first}. Pass now: {found.newest.passed} of {found.newest.of}."


def series_words(series: ChartedSeries) -> str:
    """Mean and spread of a quantity, with the limits of the ordinary."""
    chart = series.chart
    name = series.name[0].upper() + series.name[1:]
    if chart.sd is None or chart.low is None or chart.high is None:
        return f"{name}: {chart.mean:.1f} {series.unit}, of one {series.of} alone."
    if not enough(series):
        values = [
            f"{value:.1f} ({each.label})"
            for value, each in zip(chart.values, series.charted, strict=True)
        ]
        return f"{name}, {series.unit}: {', '.join(values)}."
    guess = ", a guess with so few" if chart.provisional else ""
    return (
        f"{name}: mean {chart.mean:.1f} {series.unit}, standard deviation {chart.sd:.1f}; ordinary "
        f"is {chart.low:.1f} to {chart.high:.1f}{guess}."
    )


def enough(series: ChartedSeries) -> bool:
    """Whether there are enough values to draw a control chart of."""
    return len(series.chart.values) >= LEAST_DRAWN


def signals(series: ChartedSeries) -> list[str]:
    """What is out of the ordinary, one sentence each, or that nothing is, or why nobody knows."""
    chart, charted = series.chart, series.charted
    unit = series.unit
    without = [f"Without it: {', '.join(series.missing)}."] if series.missing else []
    if not enough(series):
        count = len(chart.values)
        return [
            f"{count} {series.of}{'' if count == 1 else 's'} cannot tell what is ordinary: from "
            f"{LEAST_DRAWN} on there is a control chart.",
            *without,
        ]

    def named(n: int) -> str:
        return f"{charted[n].label} ({charted[n].at:%Y-%m-%d})"

    sentences = []
    for n in chart.outliers:
        away = chart.values[n] - chart.mean
        sentences.append(
            f"Out of the ordinary: {named(n)}, {chart.values[n]:.1f} {unit}, {abs(away):.1f} "
            f"{'above' if away > 0 else 'below'} the mean."
        )
    suggestion = {*chart.outliers, *(n + 1 for n in chart.outliers)}
    for n in chart.jumps:
        if n not in suggestion:
            change = chart.values[n] - chart.values[n - 1]
            sentences.append(f"A jump: {named(n)} is {change:+.1f} {unit} against {named(n - 1)}.")
    for each in chart.runs:
        side = "above" if each.upward else "below"
        sentences.append(
            f"A run: {each.last - each.first + 1} in a row, {named(each.first)} to "
            f"{named(each.last)}, lie {side} the mean. Something has changed there."
        )
    for each in chart.climbs:
        way = "rise" if each.upward else "fall"
        sentences.append(
            f"A trend: {each.last - each.first + 1} in a row, {named(each.first)} to "
            f"{named(each.last)}, {way} each."
        )
    if chart.slope is not None:
        low, high = chart.slope.slope_interval(SLOPE_CONFIDENCE)
        sentences.append(
            f"A trend over all: {chart.slope.slope:+.2f} {unit} a {series.of} ({low:+.2f} to "
            f"{high:+.2f}, 99 %)."
        )
    sentences += without
    return sentences or ["Nothing is out of the ordinary."]


def suggestion_words(found: SizeEffect, suggestion: Suggestion) -> str:
    """The next cut, with how sure it is."""
    low, high = suggestion.size_within_mm
    sentences = (
        f"For a dip at {suggestion.target_mhz:.1f} MHz: {found.label} {suggestion.size_mm:.1f} mm "
        f"({low:.1f} to {high:.1f}). The next antenna of that size has its dip at "
        f"{suggestion.lands_mhz[0]:.1f} to {suggestion.lands_mhz[1]:.1f} MHz (95 %)."
    )
    if suggestion.leave_mm is not None:
        sentences += (
            f" Cut metal does not come back: leave {suggestion.leave_mm:.1f} mm first, "
            "which is not too "
            "short with 97.5 %, look, and trim the rest."
        )
    if suggestion.beyond and found.line is not None:
        sentences += (
            f" That lies beyond what was cut so far ({found.line.low_x:g} to "
            f"{found.line.high_x:g} mm), where nothing shows that the line still holds."
        )
    return sentences


def remarks(summaries: Sequence[RecordSummary], found: Batch) -> list[str]:
    """What a reader of a batch's figures should know besides.

    cards : all that were found; found : the batch that was made of them.
    """
    invented = sum(each.entry.invented for each in summaries)
    versions = len({each.recipe_checksum for each in summaries})
    plans = len({each.entry.plan for each in summaries})
    sentences = []
    if versions > 1:
        sentences.append(f"The recipe's text changed on the way: there are {versions} of it.")
    if plans > 1:
        sentences.append(f"They were judged by {plans} plans.")
    if len(found.built) < len(summaries):
        left = len(summaries) - len(found.built)
        sentences.append(f"{left} more record{'s are' if left > 1 else ' is'} not looked at here.")
    doubtful = [each.entry for each in summaries if each.entry.caveat]
    if doubtful:
        names = ", ".join(each.antenna for each in doubtful)
        sentences.append(f"Look closer at {names}: {doubtful[0].caveat}.")
    if invented:
        whose = "All of them" if invented == len(summaries) else f"{invented} of {len(summaries)}"
        sentences.append(f"{whose} come from the virtual bench: the data is invented.")
    return sentences
