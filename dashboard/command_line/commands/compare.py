"""`compare`: antennas over one another, band by band and dip by dip."""

from __future__ import annotations

import cmath
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

import numpy as np
import typer
from rich.table import Column
from rich.text import Text

from acceptance.batch.margin_difference import MarginDifference
from acceptance.batch.record_comparison import (
    BandRow,
    ComparedRecord,
    RecordComparison,
    compare_records,
)
from acceptance.catalogue.query import Query
from acceptance.catalogue.record_catalogue import Catalogue
from acceptance.catalogue.record_summary import RecordSummary
from acceptance.limits.match import return_loss_db
from acceptance.verdict.wording import margin_of, short_limit
from acquire.sweep import Reading
from dashboard.command_line.options import Json
from dashboard.command_line.record_selection import CatalogueOptions, Condition
from dashboard.errors import SetupError
from dashboard.files.catalogue_access import entry_object, invented_words
from dashboard.files.record_readings import difference_of, readings_of
from dashboard.terminal.output import (
    MARKS,
    UNKNOWN,
    mark,
    number,
    say,
    show,
    show_json,
    spelt,
    stdout,
    table,
)
from dashboard.terminal.text_chart import FULL as FULL_PENS
from dashboard.terminal.text_chart import PLAIN as PLAIN_PENS
from dashboard.terminal.text_chart import Chart
from dashboard.terminal.text_scale import FULL, PLAIN, Marks, Scale

SCALE_LETTERS = 54
"""Letters that a scale of frequency is drawn in."""
CURVE, CURVE_HEIGHT, DEEPEST_DB = 72, 15, 30
"""Letters of a picture of curves, and how deep it goes."""
IN_ONE_TABLE = 6
"""Antennas whose margins fit beside each other in 80 columns."""


def compare(
    antennas: Annotated[
        list[str],
        typer.Argument(
            metavar="ANTENNA", help="Up to twelve antennas, or folder names of records."
        ),
    ],
    *,
    every: Annotated[
        bool,
        typer.Option("--every", help="Compare every record of each antenna, not only the newest."),
    ] = False,
    curves: Annotated[
        bool,
        typer.Option("--curves", help="Plot the return loss of all of them, one letter each."),
    ] = False,
    condition: Condition = "",
    records: CatalogueOptions,
    as_json: Json = False,
) -> None:
    """Compare up to twelve antennas.

    Needs no hardware.
    """
    with records.opened() as opened:
        summaries = chosen(antennas, opened, every=every)
        found = compare_records(summaries, condition)
        readings = readings_of(found, opened) if curves else {}
        furthest = furthest_band(found)
        apart = None if furthest is None else difference_of(found, furthest, opened)
    if as_json:
        show_json(as_object(found, readings, apart))
    else:
        show_line_up(found, readings, apart)


def chosen(names: Sequence[str], catalogue: Catalogue, *, every: bool) -> list[RecordSummary]:
    """Return the newest record of each antenna named, or all of them, in the order named.

    Raises SetupError for an antenna that has no record.
    """
    found: dict[tuple[str, str], RecordSummary] = {}
    for name in names:
        summaries = catalogue.summaries(Query(antennas=(name,)))
        if not summaries:
            raise SetupError(
                f'There is no record of an antenna "{name}". `bandwright records` lists those '
                f"there "
                "are."
            )
        for summary in summaries if every else summaries[-1:]:
            found[summary.entry.bench, summary.entry.folder] = summary
    return list(found.values())


def show_line_up(
    found: RecordComparison,
    readings: Mapping[str, Reading | str],
    apart: MarginDifference | None,
) -> None:
    """Show who is who, the margins in a table, dips in lanes, and curves where they were read.

    apart : how far the two antennas furthest apart are, where that is known.
    """
    ascii_only = not stdout().encoding.lower().startswith("utf")
    _show_antennas(found.antennas, ascii_only=ascii_only)
    say()
    for start in range(0, len(found.antennas), IN_ONE_TABLE):
        _show_margins(found, slice(start, start + IN_ONE_TABLE), ascii_only=ascii_only)
        say()
    furthest = furthest_apart(found)
    if furthest:
        sure = "" if apart is None else spelt(f" {apart.words}", ascii_only=ascii_only)
        say(f"{furthest}{sure}")
    for low_hz, high_hz in found.scales:
        _show_dips(found, low_hz, high_hz, PLAIN if ascii_only else FULL)
    if readings:
        show_curves(found, readings)
    doubtful = [each for each in found.antennas if each.summary.entry.caveat]
    for each in doubtful:
        say(f"{each.summary.entry.antenna}: {each.summary.entry.caveat}.")
    for words in invented_words(found):
        say()
        say(words)


def _show_antennas(antennas: Sequence[ComparedRecord], *, ascii_only: bool) -> None:

    conditions = {each.result.name for each in antennas}
    rows = table(
        "",
        Column(header="antenna", overflow="fold"),
        Column(header="signed off", no_wrap=True),
        Column(header="verdict", no_wrap=True),
        *([Column(header="condition", overflow="fold")] if len(conditions) > 1 else []),
        Column(header="recipe", overflow="fold"),
    )
    for each in antennas:
        entry = each.summary.entry
        rows.add_row(
            each.letter,
            entry.antenna,
            f"{entry.at:%Y-%m-%d %H:%M}",
            mark(each.result.overall, each.result.words, ascii_only=ascii_only),
            *([each.result.label] if len(conditions) > 1 else []),
            entry.recipe or "-",
        )
    show(rows)


def _show_margins(found: RecordComparison, some: slice, *, ascii_only: bool) -> None:

    rows = table(
        Column(header="margin dB", overflow="fold"),
        Column(header="limit", no_wrap=True),
        *(number(each.letter) for each in found.antennas[some]),
    )
    for row in found.bands:
        cells = []
        for result in row.results[some]:
            if result is None:
                cells.append(Text(""))
                continue
            shape, letters, colour = MARKS[str(result.state)]
            margin = (
                margin_of(result.margin_or_bound_db, margin_is_bound=result.margin_is_bound)
                or UNKNOWN
            )
            value = spelt(margin.removesuffix(" dB"), ascii_only=ascii_only)
            cells.append(Text(f"{value} {letters if ascii_only else shape}", style=colour))
        limit = spelt(short_limit(row.judged.limit), ascii_only=ascii_only)
        rows.add_row(row.judged.title, limit, *cells)
    show(rows)


def furthest_band(found: RecordComparison) -> BandRow | None:
    """Return the band in which the antennas differ most; None for fewer than two."""

    def apart_db(row: BandRow) -> float:
        margins = [
            each.margin_or_bound_db
            for each in row.results
            if each and each.margin_or_bound_db is not None
        ]
        return max(margins) - min(margins)

    rows = [row for row in found.bands if row.ends is not None]
    return max(rows, key=apart_db) if rows else None


def furthest_apart(found: RecordComparison) -> str:
    """Return in which band the antennas differ most, and which ones; empty for fewer than two."""
    row = furthest_band(found)
    if row is None:
        return ""
    worst, best = row.ends or (0, 0)
    ends = []
    for which in (worst, best):
        result, antenna = row.results[which], found.antennas[which]
        margin = margin_of(None if result is None else result.margin_or_bound_db)
        ends.append(f"{antenna.letter} ({antenna.summary.entry.antenna}) has {margin}")
    return f"Furthest apart in {row.judged.title}: {ends[0]}, {ends[1]}."


def _show_dips(found: RecordComparison, low_hz: float, high_hz: float, marks: Marks) -> None:

    scale = Scale(low_hz, high_hz, SCALE_LETTERS, marks)
    drawn = {
        row.judged.title: scale.stretch(row.judged.low_hz, row.judged.high_hz)
        for row in found.bands
    }
    width = max(len(title) for title, line in {**drawn, "      ": "x"}.items() if line)
    ruler = scale.ruler(f"{low_hz / 1e6:.0f}", "dips, MHz", f"{high_hz / 1e6:.0f}")
    say()
    say(f"{'':{width}}  {ruler}", style="bold")
    for title, line in drawn.items():
        if line:
            say(f"{title:{width}}  {line}", style="dim")
    for each in found.antennas:
        inside = [dip for dip in each.result.dips if low_hz <= dip.frequency_hz <= high_hz]
        line = scale.line(dip.frequency_hz for dip in inside)
        where = ", ".join(f"{dip.beyond} {dip.frequency_hz / 1e6:.1f}".strip() for dip in inside)
        say(f"{each.letter:{width}}  {line:{SCALE_LETTERS}}  {where}".rstrip())


def show_curves(found: RecordComparison, readings: Mapping[str, Reading | str]) -> None:
    """Show return loss over frequency, dips pointing down, each antenna by its letter."""
    pens = FULL_PENS if stdout().encoding.lower().startswith("utf") else PLAIN_PENS
    for low_hz, high_hz in found.scales:
        drawn = Chart((low_hz, high_hz), (-DEEPEST_DB, 0.0), CURVE, CURVE_HEIGHT, pens)
        for db in range(0, DEEPEST_DB, 5):
            drawn.beside(-float(db), str(db))
        for row in found.bands:
            judged = row.judged
            drawn.stretch(judged.low_hz, judged.high_hz, -judged.limit.return_loss_db, pens.limit)
        at = low_hz + (high_hz - low_hz) * (np.arange(CURVE) + 0.5) / CURVE
        for letter, reading in readings.items():
            if isinstance(reading, str):
                continue
            size = np.interp(
                at, reading.frequency_hz, np.abs(reading.reflection), left=np.nan, right=np.nan
            )
            depth = np.minimum(return_loss_db(np.maximum(size, 1e-6)), DEEPEST_DB)
            for hz, db in zip(at, depth, strict=True):
                if np.isfinite(db):
                    drawn.letter(float(hz), -float(db), letter)
        say()
        say(f"Return loss, dB, {low_hz / 1e6:.0f} to {high_hz / 1e6:.0f} MHz", style="bold")
        for line in drawn.lines():
            say(line)
    for letter, why in readings.items():
        if isinstance(why, str):
            say(f"{letter} is not drawn: {why}.")


def as_object(
    found: RecordComparison,
    readings: Mapping[str, Reading | str],
    apart: MarginDifference | None = None,
) -> dict[str, Any]:
    """Return the object that `compare --json` prints; the curves with it, where they were read."""
    return {
        "furthest_apart": _furthest_object(found, apart),
        "antennas": [
            {
                "letter": each.letter,
                **entry_object(each.summary.entry),
                "condition": each.result.name,
                "sizes_mm": each.summary.sizes_mm,
                **_curve_object(readings.get(each.letter)),
                "dips": [
                    {
                        "frequency_hz": dip.frequency_hz,
                        "return_loss_db": dip.return_loss_db,
                        "bandwidth_hz": dip.bandwidth_hz,
                        "beyond": dip.beyond or None,
                    }
                    for dip in each.result.dips
                ],
            }
            for each in found.antennas
        ],
        "bands": [
            {
                "name": row.judged.name,
                "link": row.judged.link,
                "low_hz": row.judged.low_hz,
                "high_hz": row.judged.high_hz,
                "limit": row.judged.limit.as_json(),
                "antennas": [
                    None
                    if each is None
                    else {
                        "state": str(each.state),
                        "margin_db": each.margin_or_bound_db,
                        "or_better": each.margin_is_bound,
                    }
                    for each in row.results
                ],
            }
            for row in found.bands
        ],
    }


def _furthest_object(
    found: RecordComparison, apart: MarginDifference | None
) -> dict[str, Any] | None:
    row = furthest_band(found)
    if row is None or row.ends is None:
        return None
    return {
        "band": row.judged.title,
        "antennas": [found.antennas[which].letter for which in row.ends],
        "difference_db": None if apart is None else apart.difference_db,
        "uncertainty_db": None if apart is None else apart.uncertainty_db,
        "one_calibration": None if apart is None else apart.one_calibration,
    }


def _curve_object(reading: Reading | str | None) -> dict[str, Any]:
    if reading is None:
        return {}
    if isinstance(reading, str):
        return {"curve": None}
    points = zip(reading.frequency_hz.tolist(), reading.reflection.tolist(), strict=True)
    return {
        "curve": [
            [hz, g.real, g.imag] if cmath.isfinite(g) else [hz, None, None] for hz, g in points
        ]
    }
