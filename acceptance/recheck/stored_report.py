"""A record's stored reports held against what the record gives.

Byte for byte the same as one made now is held whole, pictures included. Else its text is held: the
whole of it where this version wrote it, and what no wording changes where another did: names,
dates, states, limits, worst points, margins. What cannot be held then is said.
"""

from __future__ import annotations

import io
import itertools
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any

import pypdf

from acceptance.errors import RecordError
from acceptance.record.acceptance_record import folder_name
from acceptance.record.examination import Examined
from acceptance.report.report_files import MISSING_LETTERS_REMARK, REPORT_HTML, REPORT_PDF, Report
from acceptance.report.report_text import Sheet, record_time

LARGEST_REPORT = 4 * 2**20
"""Bytes of a report that is looked at; ours take a tenth of it."""
LARGEST_STREAM = 2 * 2**20
"""Bytes of what one stream of a PDF holds; ours hold a tenth of it."""
PDF_BOUNDS: Mapping[str, Any] = {
    "maximum_declared_stream_length": LARGEST_REPORT,
    "array_based_stream_maximum_output_length": LARGEST_STREAM,
    "lzw_maximum_output_length": LARGEST_STREAM,
    "run_length_maximum_output_length": LARGEST_STREAM,
    "zlib_maximum_output_length": LARGEST_STREAM,
    "brotli_maximum_output_length": LARGEST_STREAM,
    "stream_parsing_work_maximum_count": 500_000,
    "xform_maximum_invocations_per_extraction": 2_000,
    "page_tree_maximum_entries": 100,
    "page_tree_maximum_page_entries": 10_000,
}
"""What reading a PDF may take; one of ours takes a tenth of it, or less."""
MOST_STEPS = 200_000
"""So many operations a page may take; one of 24 bands and five conditions takes 20,000."""
NUMBER = re.compile(r"[+−]?\d+(?:\.\d+)?")
DATE = re.compile(r"(?<!\d)\d{4}-\d\d-\d\d \d\d:\d\d")
ACTIVE_TAGS = frozenset(
    [
        "script",
        "iframe",
        "frame",
        "frameset",
        "object",
        "embed",
        "applet",
        "form",
        "input",
        "button",
        "textarea",
        "select",
        "link",
        "base",
        "a",
        "area",
        "audio",
        "video",
        "source",
        "track",
        "img",
        "image",
        "foreignobject",
        "animate",
        "set",
        "template",
        "portal",
    ]
)
"""Elements that run, fetch, send or lead somewhere; a report has none."""
ACTIVE_KEYS = ("/OpenAction", "/AA", "/AcroForm", "/URI", "/Annots")
ACTIVE_NAMES = ("/JavaScript", "/EmbeddedFiles")
SHOWN_CHARACTERS = 60


@dataclass(frozen=True, slots=True)
class ReportFindings:
    """What the stored reports show."""

    faults: tuple[str, ...] = ()
    """Where one does not follow from the record; a sentence each."""
    remarks: tuple[str, ...] = ()
    """What was held, and what was not; a sentence each."""


def held_reports(files: Mapping[str, bytes], examined: Examined, software: str) -> ReportFindings:
    """Hold the reports among a record's files against what follows from it.

    software : this program's name and version.
    """
    report = Report.of(examined, folder_name(examined.acceptance))
    ours = software == examined.acceptance.software
    faults: list[str] = []
    remarks: list[str] = []
    for name, compare in ((REPORT_HTML, _html), (REPORT_PDF, _pdf)):
        if name not in files:
            continue
        try:
            remarks.append(f"{name}: {_held(compare, files[name], report, examined, ours=ours)}.")
        except _ForgedError as error:
            faults.append(f"{name} does not follow from the record: {error}.")
        except RecordError as error:
            remarks.append(f"{name} was not held: {error}")
        except Exception as error:  # noqa: BLE001 - a forged file may break a reader in any way
            why = _printable(str(error))[:SHOWN_CHARACTERS].rstrip(".")
            faults.append(f"{name} cannot be read: {why}.")
    return ReportFindings(tuple(faults), tuple(remarks))


class _ForgedError(Exception):
    """What in a stored report does not follow."""


@dataclass(frozen=True, slots=True)
class _Compared:
    """A stored report and the one made now."""

    same: bool
    """True where they are so byte for byte."""
    acts: str
    """What in the stored one runs or leads somewhere; else empty."""
    stored: str
    """All text of it, in its own order."""
    made: str


def _held(
    compare: Callable[[bytes, Report], _Compared],
    content: bytes,
    report: Report,
    examined: Examined,
    *,
    ours: bool,
) -> str:
    """What of a stored report is as the record gives it, and what was not held.

    ours : True where this version wrote it. Raises _ForgedError for what is not so.
    """
    if len(content) > LARGEST_REPORT:
        raise _ForgedError("it is larger than a report can be, and was not read")
    compared = compare(content, report)
    if compared.same:
        return "what the record gives, to the last byte"
    if compared.acts:
        raise _ForgedError(f"it holds {compared.acts}, which no report does")
    stored, made = _squeezed(compared.stored), _squeezed(compared.made)
    if stored == made:
        return (
            "every word and figure is what the record gives; its pictures and its look were not "
            "held"
        )
    for missing in _missing_facts(compared.stored, report.sheet, examined):
        raise _ForgedError(missing)
    if ours and MISSING_LETTERS_REMARK not in compared.made + compared.stored:
        pairs = enumerate(zip(stored, made, strict=False))
        at = next((n for n, (one, other) in pairs if one != other), min(len(stored), len(made)))
        says, gives = (_printable(each[at : at + SHOWN_CHARACTERS]) for each in (stored, made))
        raise _ForgedError(f'it says "{says}" where the record gives "{gives}"')
    return (
        "names, dates, states, limits, worst points and margins are what the record gives; its "
        "wording, its figures of trust, its pictures and its look were not held"
    )


def _missing_facts(text: str, sheet: Sheet, examined: Examined) -> Iterator[str]:
    """What a report of any version tells of a record, where this text tells it otherwise."""
    stored = _squeezed(text)
    if not stored.startswith(_squeezed(sheet.antenna + sheet.words)):
        yield f'it does not begin with "{sheet.antenna}" and "{sheet.words}"'
    acceptance = examined.acceptance
    facts = [acceptance.operator, acceptance.plan.name, acceptance.recipe.name, acceptance.note]
    dates = [acceptance.accepted_at, examined.worst.corrected.taken_at]
    dates += [acceptance.calibration.taken_at] if acceptance.calibration else []
    facts += [record_time(each) for each in dates if each is not None]
    for value in facts:
        if value and _squeezed(value) not in stored:
            yield f'it does not tell "{_printable(value)[:SHOWN_CHARACTERS]}"'
    known = {*DATE.findall("\n".join([*facts, *(value for _, value in sheet.basis)]))}
    for at in DATE.findall(text):
        if at not in known and not any(at in words for words in facts):
            yield f"it tells of {at}, which the record does not"
    for row in sheet.bands:
        title, state, limit, worst, _, margin, _ = row.cells
        figures = NUMBER.findall(" ".join((limit, worst)))
        pattern = r"\D{0,60}?".join((re.escape(_squeezed(title + state)), *map(re.escape, figures)))
        if numbers := NUMBER.findall(margin):
            pattern += rf".{{0,80}}?{re.escape(numbers[0])}"
        if re.search(pattern, stored) is None:
            yield f"of {title} it does not tell {state}, {worst}, {margin}"
    for condition in sheet.conditions:
        if _squeezed(condition.label + condition.words) not in stored:
            yield f"of the unit {condition.label} it does not tell {condition.words}"


def _squeezed(text: str) -> str:
    """Without what a line's end may add or take: spaces and hyphens."""
    return re.sub(r"[\s\u00ad\u2010-]+", "", unicodedata.normalize("NFKC", text))


def _printable(text: str) -> str:
    return "".join(each if each.isprintable() else "?" for each in text)


class _Words(HTMLParser):
    """The words of a page that are seen, and what in it would act."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.acts = ""
        self._hidden: list[str] = []
        self._marks = 0
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ACTIVE_TAGS:
            self.acts = self.acts or f"an element <{tag}>"
        for name, value in attrs:
            if name.startswith("on") or (tag == "meta" and _acts(name, value)):
                self.acts = self.acts or f'an attribute {name}="{_printable(value or "")[:20]}"'
        if tag in ("head", "style", "title", "svg"):
            self._hidden.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._hidden and tag == self._hidden[-1]:
            self._hidden.pop()

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.words.append(data)


def _acts(name: str, value: str | None) -> bool:
    return name == "http-equiv" and (value or "").lower() == "refresh"


def _html(content: bytes, report: Report) -> _Compared:
    text, made = content.decode(), report.html()
    stored = _Words(text)
    return _Compared(
        text == made, stored.acts, "\n".join(stored.words), "\n".join(_Words(made).words)
    )


def _counting() -> Callable[..., None]:
    """What ends a page that draws itself over and over, as nested forms can."""
    steps = itertools.count()

    def count(*_: object) -> None:
        if next(steps) > MOST_STEPS:
            raise _ForgedError("its page takes more steps than a report's does")

    return count


def _pdf(content: bytes, report: Report) -> _Compared:
    made = report.pdf()
    if content == made:
        return _Compared(True, "", "", "")
    with pypdf.apply_configuration(**PDF_BOUNDS):
        reader = pypdf.PdfReader(io.BytesIO(content), strict=True)
        acts = _acts_in(reader)
        if acts:
            return _Compared(False, acts, "", "")
        ours = pypdf.PdfReader(io.BytesIO(made))
        stored, again = (
            each.pages[0].extract_text(visitor_operand_before=_counting())
            for each in (reader, ours)
        )
    return _Compared(False, "", stored, again)


def _acts_in(reader: pypdf.PdfReader) -> str:
    """What in a PDF runs, asks or leads elsewhere, or is another page; else empty."""
    if len(reader.pages) != 1:
        return f"{len(reader.pages)} pages"
    (page,) = reader.pages
    root = reader.root_object
    for key in ACTIVE_KEYS:
        if key in root or key in page:
            return key
    names = root.get("/Names")
    held = {} if names is None else names.get_object()
    return next((key for key in ACTIVE_NAMES if key in held), "")
