"""A batch in the terminal: yield as a table, control charts and the next cut drawn in letters."""

from __future__ import annotations

from collections.abc import Sequence

from rich.table import Column

from acceptance.batch.charted_series import ChartedSeries
from acceptance.batch.recipe_batch import Batch
from acceptance.batch.size_effect import SizeEffect, Suggestion
from acceptance.batch.wording import (
    enough,
    remarks,
    series_words,
    signals,
    suggestion_words,
    yield_words,
)
from acceptance.catalogue.record_summary import RecordSummary
from acceptance.limits.decision import State
from acceptance.verdict.wording import margin_of, short_limit
from dashboard.terminal.output import MARKS, UNKNOWN, number, say, show, spelt, stdout, table
from dashboard.terminal.text_chart import FULL, PLAIN, Chart, Pens, ends_of, numbered

WIDTH, HEIGHT = 64, 9
"""Letters of a control chart."""
PLOT_HEIGHT = 12


def show_batch(
    name: str,
    summaries: Sequence[RecordSummary],
    found: Batch,
    against: Sequence[SizeEffect],
    suggestions: Sequence[tuple[SizeEffect, Suggestion | str]],
    *,
    alone: bool,
) -> None:
    """Show all of it; with one size alone, that size."""
    pens = FULL if stdout().encoding.lower().startswith("utf") else PLAIN
    records = len(found.built)
    days = sorted({f"{each.at:%Y-%m-%d}" for each in found.built})
    when = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
    of = f"{records} records of {found.antennas} antennas" if records != 1 else "1 record"
    say(f"{name}: {of}, {when}.", style="bold")
    if not alone:
        _show_yield(found)
        for series in (*found.dips, *([found.margin] if found.margin else [])):
            show_series(series, pens)
    _show_cuts(against)
    if alone:
        _show_plot(against[0], suggestions, pens)
    for cut, suggestion in suggestions:
        if not isinstance(suggestion, str):
            say()
            say(suggestion_words(cut, suggestion))
    if suggestions and all(isinstance(suggestion, str) for _, suggestion in suggestions):
        say()
        say("So no next cut is suggested.")
    remark_lines = remarks(summaries, found)
    if remark_lines:
        say()
    for sentence in remark_lines:
        say(sentence)


def _show_yield(found: Batch) -> None:

    ascii_only = not stdout().encoding.lower().startswith("utf")
    say(yield_words(found))
    say()
    reworked = any(each.again for each in found.built)
    rows = table(
        Column(header="band", overflow="fold"),
        Column(header="limit", no_wrap=True),
        *([number("pass\nat first")] if reworked else []),
        number("pass\nnow"),
        Column(header="others", no_wrap=True),
        number("least\nmargin"),
        Column(header="of", overflow="fold"),
    )
    for band in found.bands:
        others = " ".join(
            f"{band.states[state]}{MARKS[state][ascii_only]}"
            for state in State
            if state is not State.PASS and band.states.get(state)
        )
        rows.add_row(
            band.judged.title,
            spelt(short_limit(band.judged.limit), ascii_only=ascii_only),
            *([f"{band.first.passed} of {band.first.of}"] if reworked else []),
            f"{band.newest.passed} of {band.newest.of}",
            others or "-",
            spelt(margin_of(band.least_db) or UNKNOWN, ascii_only=ascii_only),
            band.least_antenna or UNKNOWN,
        )
    show(rows)


def show_series(series: ChartedSeries, pens: Pens) -> None:
    """Show a quantity's chart, and what is out of the ordinary in it."""
    chart, count = series.chart, len(series.chart.values)
    shown = min(count, WIDTH)
    values = chart.values[-shown:]
    say()
    say(series_words(series), style="bold")
    if enough(series) and chart.low is not None and chart.high is not None:
        wide = shown * max(1, min(WIDTH // shown, 3))
        drawn = Chart(
            (0.0, float(shown)),
            ends_of([*values, chart.low, chart.high]),
            wide,
            HEIGHT,
            pens,
        )
        drawn.level(chart.low, pens.limit, f"{chart.low:.1f}")
        drawn.level(chart.high, pens.limit, f"{chart.high:.1f}")
        drawn.level(chart.mean, pens.centre, f"{chart.mean:.1f}")
        for n, value in enumerate(values):
            drawn.point(n + 0.25, value, marked=n + count - shown in chart.outliers)
        for line in drawn.lines():
            say(line)
        if shown == count:
            say(" " * drawn.indent + numbered(count, wide))
    for sentence in signals(series):
        say(sentence)


def _show_cuts(against: Sequence[SizeEffect]) -> None:

    if not against:
        say()
        say("No record tells finished sizes: give them to `accept` with --size.")
        return
    say()
    rows = table(
        Column(header="what you cut", overflow="fold"),
        Column(header="what it gave", no_wrap=True),
        number("a millimetre\ndoes, MHz"),
        number("scatter\nMHz"),
        number("records"),
        number("sizes, mm"),
    )
    for each in against:
        rows.add_row(
            f"{each.label} ({each.dimension})" if each.label != each.dimension else each.label,
            f"dip {each.dip}",
            _slope_words(each),
            "-" if each.line is None else f"{each.line.scatter:.1f}",
            str(len(each.built)),
            f"{min(each.sizes_mm):g} to {max(each.sizes_mm):g}" if each.sizes_mm else "-",
        )
    show(rows)
    for each in against:
        if each.why_not:
            say(f"{_capital(each.label)}: {each.why_not}")


def _slope_words(found: SizeEffect) -> str:
    if found.line is None:
        return "-"
    low, high = found.line.slope_interval()
    return f"{found.line.slope:+.1f}\n({low:+.1f} to {high:+.1f})"


def _show_plot(
    found: SizeEffect, suggestions: Sequence[tuple[SizeEffect, Suggestion | str]], pens: Pens
) -> None:
    if not found.sizes_mm:
        return
    target = [
        suggestion.target_mhz for _, suggestion in suggestions if not isinstance(suggestion, str)
    ]
    wanted = [
        suggestion.size_mm for _, suggestion in suggestions if not isinstance(suggestion, str)
    ]
    x, y = ends_of([*found.sizes_mm, *wanted], 0.03), ends_of([*found.dips_mhz, *target])
    drawn = Chart(x, y, WIDTH, PLOT_HEIGHT, pens)
    say()
    say(f"Dip {found.dip}, MHz, over {found.label}, mm", style="bold")
    for mhz in target:
        drawn.level(mhz, pens.limit, f"{mhz:.1f}")
    for mhz in (min(found.dips_mhz), max(found.dips_mhz)):
        drawn.beside(mhz, f"{mhz:.1f}")
    if found.line is not None:
        drawn.curve(found.line.at)
    for size, mhz in zip(found.sizes_mm, found.dips_mhz, strict=True):
        drawn.point(size, mhz)
    for size, mhz in zip(wanted, target, strict=True):
        drawn.point(size, mhz, marked=True)
    for line in drawn.lines():
        say(line)
    ends = f"{x[0]:.1f}", f"{x[1]:.1f}"
    say(f"{'':{drawn.indent}}{ends[0]}{ends[1]:>{WIDTH - len(ends[0])}}")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
