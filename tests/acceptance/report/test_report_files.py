"""The report: one page, the verdict first, every name as data, and never at a record's cost."""

from __future__ import annotations

import dataclasses
import io
import sys
from html.parser import HTMLParser

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.errors import RecordError
from acceptance.limits.decision import State
from acceptance.record.acceptance_record import Acceptance
from acceptance.record.examination import Examined, examine
from acceptance.report import report_files as module
from acceptance.report.report_files import (
    BETTER_LEGEND,
    MISSING_LETTERS_REMARK,
    REPORT_HTML,
    REPORT_PDF,
    Paper,
    Report,
    report_files,
)
from acceptance.report.report_text import sheet
from acceptance.report.typesetting import not_in_fonts
from calibration.uncertainty.budget import Assumptions
from tests.acceptance.made import accepted, wide
from tests.counts import examples
from tests.wording import missing_words

FOLDER = "weir-3_2026-05-01T120900Z"
LONG = "overflow-gauge-behind-the-old-mill-lane-weir-with-a-name-that-nobody-will-say-aloud"
SIZES = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}
"""ISO 216 and ANSI Y14.1, in points [memory]."""


class Page(HTMLParser):
    """What a browser would see of a page: its elements and its words."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            if name in ("href", "src", "data", "action", "srcset") or name.startswith("on"):
                self.links.append(f"{name}={value}")
            if name == "id":
                self.ids.append(value or "")

    def handle_data(self, data: str) -> None:
        self.words += data


def named(acceptance: Acceptance, name: str) -> Examined:
    return examine(dataclasses.replace(acceptance, antenna=name, operator=name, note=name))


def text_of(page: pypdf.PageObject) -> str:
    return " ".join(page.extract_text().split())


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(("bands", "name"), [(1, "weir-3"), (6, "weir-3"), (24, LONG)])
def test_it_is_one_page_with_every_band_and_nothing_beyond_its_edges(
    paper: Paper, bands: int, name: str
) -> None:
    examined = examine(wide(bands, name, name))
    pdf = pypdf.PdfReader(io.BytesIO(Report.of(examined, FOLDER).pdf(paper)))
    assert len(pdf.pages) == 1
    (page,) = pdf.pages
    width, height = float(page.mediabox.width), float(page.mediabox.height)
    assert (width, height) == pytest.approx(SIZES[paper], abs=0.5)
    outside: list[str] = []

    def result(text: str, matrix: list[float], place: list[float], *_: object) -> None:
        x = matrix[0] * place[4] + matrix[2] * place[5] + matrix[4]
        y = matrix[1] * place[4] + matrix[3] * place[5] + matrix[5]
        if text.strip() and not (20 < x < width - 10 and 20 < y < height - 20):
            outside.append(text)

    page.extract_text(visitor_text=result)
    assert outside == []
    told = text_of(page).replace(" ", "")
    said = sheet(examined, FOLDER)
    for row in said.bands:
        for cell in row.cells:
            assert cell.replace(" ", "") in told
    for line in (*said.notes, said.cautions, *said.recheck, said.headline, said.words):
        assert line.replace(" ", "") in told.replace("-\n", "")


def heights_of(report: Report) -> dict[str, float]:
    """Each line of its page, and how far above the page's lower edge it stands, points."""
    found: dict[str, float] = {}

    def result(text: str, matrix: list[float], place: list[float], *_: object) -> None:
        if text.strip():
            found[text.strip()] = matrix[1] * place[4] + matrix[3] * place[5] + matrix[5]

    pypdf.PdfReader(io.BytesIO(report.pdf())).pages[0].extract_text(visitor_text=result)
    return found


def test_a_page_that_has_room_has_tall_pictures_and_air_below_the_name() -> None:
    """The name's letters reach 0.25 of their size below its line, the next ones 0.7 above theirs;
    at 19.5 and 10 points that is 12 [derived]."""
    heights = heights_of(Report.of(examine(accepted()), FOLDER))
    name, about = heights["weir-3"], next(y for text, y in heights.items() if "Match of" in text)
    assert name - about > 14
    assert min(heights.values()) < 90


@pytest.mark.parametrize("passed", [True, False])
def test_only_what_passed_is_called_accepted(passed: bool) -> None:
    examined = examine(accepted() if passed else wide(2))
    assert (examined.overall is State.PASS) is passed
    said = sheet(examined, FOLDER)
    assert ("Accepted" in dict(said.facts), "Recorded" in dict(said.facts)) == (passed, not passed)
    page = Page(Report.of(examined, FOLDER).html()).words
    assert ("accepted by its record" in page, "on record" in page) == (passed, not passed)


def test_rings_beyond_the_floor_are_told_of_where_there_are_any() -> None:
    report = Report.of(examine(accepted()), FOLDER)
    assert BETTER_LEGEND not in report.html()
    row, *rows = report.sheet.bands
    deep = dataclasses.replace(row, band=dataclasses.replace(row.band, better_than_db=20.0))
    told = dataclasses.replace(report, sheet=dataclasses.replace(report.sheet, bands=(deep, *rows)))
    assert BETTER_LEGEND in told.html()


def test_both_forms_tell_what_the_sheet_says() -> None:
    examined = examine(accepted())
    said = sheet(examined, FOLDER)
    page = Page(Report.of(examined, FOLDER).html())
    words = " ".join(page.words.split())
    for name, value in (*said.facts, *said.basis):
        assert name in words
        assert value in words
    for row in said.conditions:
        assert row.change in words


def test_the_sheet_says_what_the_verdict_says() -> None:
    examined = examine(accepted())
    said = sheet(examined, FOLDER)
    (result,) = examined.deciding
    assert said.state is examined.overall
    for row, band in zip(said.bands, result.verdict.bands, strict=True):
        assert row.band is band
        assert f"{band.worst_return_loss_db:.1f} dB at " in row.cells[3]
        assert row.cells[5] == f"+{band.margin_db:.1f} dB"
    assert dict(said.facts)["Sizes"] == "arm a 84.5 mm"
    assert dict(said.basis)["Calibration"].endswith("load stated as 40 dB.")
    assert "taken on trust" in dict(said.basis)["Verification"]
    assert said.deciding == "sealed"
    assert said.conditions[1].change.startswith("Sealed against bare: the dip at 838 MHz lies 18")


def test_of_several_conditions_that_decide_each_band_is_told_where_it_is_worst() -> None:
    examined = examine(wide(6))
    order = list(State)
    for at, row in enumerate(sheet(examined, FOLDER).bands):
        seen = {each.condition.label: each.verdict.bands[at] for each in examined.deciding}
        assert len(seen) == 3
        assert row.band is seen[row.condition]
        assert order.index(row.band.state) == max(order.index(b.state) for b in seen.values())


def test_it_says_that_isolation_was_not_measured_and_that_data_is_invented() -> None:
    page = Page(Report.of(examine(wide(2)), FOLDER).html())
    assert "Isolation was not measured" in page.words
    assert "Invented data" in page.words
    assert "match only, not gain or pattern" in page.words


def test_the_html_needs_nothing_else_and_runs_nothing() -> None:
    page = Page(Report.of(examine(wide(8)), FOLDER).html())
    assert page.links == []
    assert not {"script", "link", "iframe", "object", "img", "form"} & set(page.tags)
    assert len(page.ids) == len(set(page.ids))


def test_names_are_data_in_both_forms() -> None:
    name = '<script>alert("1")</script> #panic("x") *b* $ \\ {{ 7*7 }} \x1b[31m\u202eabc'
    report = Report.of(named(accepted(), name), FOLDER)
    page = Page(report.html())
    assert "script" not in page.tags
    assert '<script>alert("1")</script> #panic("x")' in page.words
    (sheet_of_paper,) = pypdf.PdfReader(io.BytesIO(report.pdf())).pages
    told = text_of(sheet_of_paper).replace(" ", "")
    assert '<script>alert("1")</script>#panic("x")*b*$\\{{7*7}}' in told
    assert "\x1b" not in told


@pytest.mark.slow
@examples(20)
@given(st.text(min_size=1, max_size=60).filter(lambda text: text.strip() != ""))
def test_a_name_in_any_language_is_set(name: str) -> None:
    report = Report.of(named(accepted(), name), FOLDER)
    assert len(pypdf.PdfReader(io.BytesIO(report.pdf())).pages) == 1
    if name.isprintable():
        assert " ".join(name.split()) in " ".join(Page(report.html()).words.split())


def test_what_no_font_has_is_shown_as_a_square_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    report = Report.of(named(accepted(), "Жук ελ weir"), FOLDER)
    (page,) = pypdf.PdfReader(io.BytesIO(report.pdf())).pages
    assert "Жук ελ weir" in text_of(page)
    assert MISSING_LETTERS_REMARK not in text_of(page)
    monkeypatch.setattr(module, "not_in_fonts", lambda _: frozenset("Ж"))
    (page,) = pypdf.PdfReader(io.BytesIO(report.pdf())).pages
    assert "□ук ελ weir" in text_of(page)
    assert MISSING_LETTERS_REMARK in text_of(page)


def test_a_letter_that_no_font_has_is_found() -> None:
    found = not_in_fonts("weir Ж \U0010fffd\U0001fad9")
    assert "\U0010fffd" in found
    assert not found & set("weir Ж")
    assert not_in_fonts("weir") == frozenset()


def test_its_letters_are_in_the_file() -> None:
    pdf = pypdf.PdfReader(io.BytesIO(Report.of(examine(accepted()), FOLDER).pdf()))
    fonts = pdf.pages[0]["/Resources"]["/Font"]  # type: ignore[index]
    for font in fonts.values():
        (descendant,) = font.get_object()["/DescendantFonts"]
        descriptor = descendant.get_object()["/FontDescriptor"].get_object()
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)
    metadata = pdf.xmp_metadata
    assert metadata is not None
    assert b"pdfaid" in metadata.stream.get_data()


def test_a_report_that_cannot_be_made_never_costs_the_record(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail(*_: object) -> bytes:
        raise RecordError("The page is too small.")

    examined = examine(accepted())
    files, remark = report_files(examined)
    assert set(files) == {REPORT_HTML, REPORT_PDF}
    assert remark == ""
    monkeypatch.setattr(Report, "pdf", fail)
    files, remark = report_files(examined)
    assert set(files) == {REPORT_HTML}
    assert remark.endswith("The page is too small.")


def test_an_imported_file_is_reported_as_one() -> None:
    bare = accepted()
    imported = dataclasses.replace(
        bare,
        calibration=None,
        kind="imported",
        assumptions=Assumptions(),
        conditions=bare.conditions[1:],
    )
    said = sheet(examine(imported), FOLDER)
    assert said.state is not State.PASS
    assert dict(said.basis)["Calibration"] == "Not known: an imported file."
    assert any("known of the file's calibration" in note for note in said.notes)


def test_without_the_engine_the_html_still_comes_with_one_sentence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """There is no wheel of it for Windows on ARM."""
    monkeypatch.setitem(sys.modules, "typst", None)
    files, remark = report_files(examine(accepted()))
    assert list(files) == ["report.html"]
    assert not missing_words(remark, "HTML alone", "typst", "Print report.html")
    with pytest.raises(RecordError, match="typst"):
        Report.of(examine(accepted()), FOLDER).pdf()
