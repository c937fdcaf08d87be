"""The report of a record: one page as PDF, and the same as HTML that needs nothing else.

The PDF is PDF/A-2b, made to be read in many years: all its letters are in it. A letter that no
font at hand has is shown as a square there, and the page says so; the HTML always has it.
"""

from __future__ import annotations

import dataclasses
import importlib.resources
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC
from typing import Literal

import jinja2

from acceptance.errors import RecordError
from acceptance.limits.decision import State
from acceptance.pictures.cable_picture import line_picture
from acceptance.pictures.svg_drawing import clean
from acceptance.pictures.sweep_pictures import (
    MOST_CURVES,
    Trace,
    by_name,
    mark_picture,
    overview,
    strip,
)
from acceptance.record.acceptance_record import folder_name
from acceptance.record.examination import Examined
from acceptance.report.report_text import Sheet, sheet
from acceptance.report.typesetting import TypesettingError, not_in_fonts, pdf
from acceptance.verdict.band_verdict import known

Paper = Literal["a4", "letter"]
PAPERS: Mapping[Paper, str] = {"a4": "a4", "letter": "us-letter"}
REPORT_PDF, REPORT_HTML = "report.pdf", "report.html"
WIDTH = 540.0
"""Of the overview, points; a page's own width is about that."""
STRIP = 150.0
"""Of a band's picture, points, before the page scales it to its column."""
FEW_BANDS = 12
"""Bands whose pictures may take more room than they need."""
HEIGHTS = tuple((130.0 + 22.0 * more, 84.0 + 15.0 * more) for more in range(7))
"""Of overview and strips, points."""
LOW_HEIGHTS = ((96.0, 66.0),)
ON_SCREEN = 2
"""The HTML's pictures, of those that there are: it has as much room as it likes."""
LEGEND = (
    "Thick bars: the limits. Grey: where the truth lies, about 95 %. Dotted: the trust floor; what "
    "reads deeper is not proven. Rings: the worst points."
)
BETTER_LEGEND = "With an arrow: it reads deeper, and no better than the ring is proven."
MISSING_LETTERS_REMARK = (
    "Letters that no font on the machine has are shown as □ here; report.html and record.json "
    "hold them."
)
SQUARE = "□"
NO_REPORT_REMARK = "The record stands without its report, which could not be made: {why}"
HTML_ALONE_REMARK = "The record has its report as HTML alone. {why}"


def report_files(examined: Examined) -> tuple[dict[str, bytes], str]:
    """The report's files for a record that is about to be written, by their names.

    Also a sentence, empty unless one of them could not be made: no report is worth a record.
    """
    files: dict[str, bytes] = {}
    try:
        report = Report.of(examined, folder_name(examined.acceptance))
        files[REPORT_HTML] = report.html().encode()
        files[REPORT_PDF] = report.pdf()
    except Exception as error:  # noqa: BLE001 - whatever it is, the record comes first
        remark = HTML_ALONE_REMARK if REPORT_HTML in files else NO_REPORT_REMARK
        return files, remark.format(why=error)
    return files, ""


@dataclass(frozen=True, slots=True)
class Pictures:
    """What was swept, of one height; SVG, as all pictures here."""

    overview: str
    strips: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """A report, ready to be set on paper or screen."""

    sheet: Sheet
    pictures: tuple[Pictures, ...]
    """The same ones, each time taller: a page takes the tallest it has room for."""
    marks: Mapping[State, str]
    shown: str
    """Which condition the pictures show; empty where there is one only."""
    line: str = ""
    """Reflection along the cable; empty where nobody asked."""
    dated: tuple[int, ...] = ()
    """Year to second of the signing off, UTC: the PDF's own date; empty before it."""

    @classmethod
    def of(cls, examined: Examined, folder: str) -> Report:
        """Of a record.

        folder : its own name.
        """
        result, at = examined.worst, examined.acceptance.accepted_at
        bands = result.verdict.bands
        main = Trace.of(result.corrected, result.interval, result.condition.label)
        others = [
            Trace.of(each.corrected, label=each.condition.label)
            for each in examined.conditions
            if each is not result
        ]
        groups = by_name(bands)
        traces = [main, *others[: MOST_CURVES - 1]]
        heights = HEIGHTS if len(groups) <= FEW_BANDS else LOW_HEIGHTS
        return cls(
            sheet(examined, folder),
            tuple(
                Pictures(
                    overview(WIDTH, high, traces, bands).svg(),
                    tuple(strip(STRIP, low, [main], group).svg() for group in groups),
                )
                for high, low in heights
            ),
            {state: mark_picture(state).svg() for state in State},
            result.condition.label if others else "",
            "" if result.line is None else line_picture(result.line, WIDTH, 110).svg(),
            () if at is None else at.astimezone(UTC).timetuple()[:6],
        )

    def html(self) -> str:
        """A page of its own: no script, nothing fetched, all pictures in it."""
        environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
        template = environment.from_string(_shipped("report.html.jinja"))
        shown = self.pictures[min(ON_SCREEN, len(self.pictures) - 1)]
        return template.render(
            sheet=self.sheet,
            overview=shown.overview,
            strips=shown.strips,
            marks=self.marks,
            legend=self._legend,
            several=any(row.condition for row in self.sheet.bands),
            line=self.line,
        )

    def pdf(self, paper: Paper = "a4") -> bytes:
        """One page. Raises RecordError where it cannot be set."""
        data = json.dumps(self._template_data(paper), ensure_ascii=False)
        hidden = not_in_fonts(data)
        if hidden:
            data = json.dumps(
                self._template_data(paper, MISSING_LETTERS_REMARK), ensure_ascii=False
            )
        pictures = {
            **{f"overview {tall}.svg": each.overview for tall, each in enumerate(self.pictures)},
            **({"line.svg": self.line} if self.line else {}),
            **{
                f"strip {tall} {at}.svg": svg
                for tall, each in enumerate(self.pictures)
                for at, svg in enumerate(each.strips)
            },
            **{f"mark {state}.svg": each for state, each in self.marks.items()},
        }
        files = {"main.typ": _shipped("report.typ"), **pictures}
        table = dict.fromkeys(map(ord, hidden), SQUARE)
        try:
            return pdf(
                {name: text.translate(table) for name, text in files.items()},
                data=data.translate(table),
            )
        except TypesettingError as error:
            raise RecordError(
                f"The report could not be set: {str(error).rstrip('.')}. The record itself is "
                "whole; print report.html instead."
            ) from error

    @property
    def _legend(self) -> str:
        lines = [LEGEND]
        if any(known(row.band.better_than_db) is not None for row in self.sheet.bands):
            lines.append(BETTER_LEGEND)
        if self.shown:
            lines.append(f"Solid, and the strips: {self.shown}.")
        return " ".join(lines)

    def _template_data(self, paper: Paper, remark: str = "") -> object:
        lines = dataclasses.asdict(self.sheet)
        notes = [*self.sheet.notes, *([remark] if remark else [])]
        count = len(self.pictures[0].strips)
        return _clean(
            {
                **lines,
                "paper": PAPERS[paper],
                "dated": list(self.dated),
                "bands": [
                    {"cells": row.cells, "state": row.band.state, "condition": row.condition}
                    for row in self.sheet.bands
                ],
                "several": any(row.condition for row in self.sheet.bands),
                "notes": notes,
                "legend": self._legend,
                "strips": count,
                "heights": len(self.pictures),
                "line_drawn": bool(self.line),
                "columns": 3 if count <= 3 else 4 if count <= 8 else 5 if count <= 15 else 6,
            }
        )


def _clean(value: object) -> object:
    """All text without control characters, in any depth."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, Mapping):
        return {str(key): _clean(each) for key, each in value.items()}
    if isinstance(value, Sequence):
        return [_clean(each) for each in value]
    return value


def _shipped(name: str) -> str:
    return importlib.resources.files("acceptance.report").joinpath(name).read_text(encoding="utf-8")
