"""A record's stored reports held against what the record gives: a forged one is found."""

from __future__ import annotations

import dataclasses
import io
from pathlib import Path

import pypdf
import pytest
from pypdf.generic import NameObject

from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.recheck.stored_report import ReportFindings, held_reports
from acceptance.record.acceptance_record import Acceptance, Record
from acceptance.record.checksums import CHECKSUMS, format_checksums
from acceptance.record.examination import compose_record, examine
from acceptance.record.record_folder import write_record
from acceptance.report import report_files as module
from acceptance.report.report_files import REPORT_HTML, REPORT_PDF, Report, report_files
from acceptance.version import software
from calibration.files.calibration_file import calibration_text
from tests.acceptance.made import accepted, begun, sweeps, wide
from tests.wording import missing_words

OTHER = "bandwright 0.1.9"
EXAMINED = examine(accepted("weir-3", (838e6, 700e6)))
FILES, _ = report_files(EXAMINED)


def held(name: str, content: bytes, program: str | None = None) -> ReportFindings:
    return held_reports({name: content}, EXAMINED, program or software())


def report_of(acceptance: Acceptance) -> dict[str, bytes]:
    files, remark = report_files(examine(acceptance))
    assert not remark
    return files


@pytest.mark.slow
@pytest.mark.parametrize("acceptance", [accepted(), wide()], ids=["one", "many"])
def test_a_report_as_it_was_written_is_held_to_the_last_byte(acceptance: Acceptance) -> None:
    examined = examine(acceptance)
    found = held_reports(report_files(examined)[0], examined, software())
    assert found.faults == ()
    assert len(found.remarks) == 2
    assert all("to the last byte" in each for each in found.remarks)


@pytest.mark.parametrize(
    ("was", "now"),
    [
        (" fail</div>", " pass</div>"),
        (">weir-3</h1>", ">weir-4</h1>"),
        ("2026-05-01 14:14 +0200", "2026-05-01 15:14 +0200"),
        ("A. Volunteer", "B. Volunteer"),
        ("river gauge", "pond gauge"),
        ("</svg> fail</td>", "</svg> pass</td>"),
    ],
)
@pytest.mark.parametrize("program", [software(), OTHER])
def test_a_forged_page_is_found_whichever_version_it_says(was: str, now: str, program: str) -> None:
    text = FILES[REPORT_HTML].decode()
    assert was in text
    found = held(REPORT_HTML, text.replace(was, now).encode(), program)
    assert len(found.faults) == 1
    assert not missing_words(found.faults[0], "report.html", "does not follow")


def test_a_figure_of_a_band_that_was_changed_is_found_by_any_version() -> None:
    row = Report.of(EXAMINED, "x").sheet.bands[0]
    _, _, limit, worst, interval, margin, _ = row.cells
    for cell in (limit, worst, margin):
        digit = next(each for each in reversed(cell) if each.isdigit())
        at = cell.rindex(digit)
        changed = f"{cell[:at]}{(int(digit) + 1) % 10}{cell[at + 1 :]}"
        text = FILES[REPORT_HTML].decode().replace(f">{cell}<", f">{changed}<")
        for program in (software(), OTHER):
            assert held(REPORT_HTML, text.encode(), program).faults, (cell, changed, program)
    text = FILES[REPORT_HTML].decode().replace(f">{interval}<", ">1.0 to 2.0 dB<")
    assert held(REPORT_HTML, text.encode()).faults
    (remark,) = held(REPORT_HTML, text.encode(), OTHER).remarks
    assert not missing_words(remark, "figures of trust", "not held")


@pytest.mark.parametrize(
    "acting",
    [
        "<script>fetch('/x')</script>",
        "<img src=x onerror=alert(1)>",
        "<p onclick=alert(1)>look</p>",
        '<meta http-equiv="refresh" content="0;url=//elsewhere">',
        "<iframe></iframe>",
        '<a href="javascript:alert(1)"></a>',
    ],
)
def test_a_page_that_acts_is_found(acting: str) -> None:
    text = FILES[REPORT_HTML].decode().replace("</body>", f"{acting}</body>")
    for program in (software(), OTHER):
        (fault,) = held(REPORT_HTML, text.encode(), program).faults
        assert "which no report does" in fault


def test_what_cannot_be_held_is_said_to_be_unchecked() -> None:
    text = FILES[REPORT_HTML].decode().replace("M2", "M3", 1).replace("max-width: 62rem", "")
    (remark,) = held(REPORT_HTML, text.encode()).remarks
    assert not missing_words(remark, "every word and figure", "pictures", "look", "not held")
    worded = FILES[REPORT_HTML].decode().replace("A verdict on the match only", "Of the match only")
    (remark,) = held(REPORT_HTML, worded.encode(), OTHER).remarks
    assert not missing_words(remark, "wording", "not held")
    assert held(REPORT_HTML, worded.encode()).faults  # this version words it so itself


@pytest.mark.slow
@pytest.mark.parametrize("name", [REPORT_HTML, REPORT_PDF])
def test_the_report_of_another_record_is_found(name: str) -> None:
    plainer = begun()
    for condition in ("bare", "sealed"):
        plainer = plainer.with_condition(
            dataclasses.replace(EXAMINED.conditions[0].condition, name=condition, raw=sweeps(829e6))
        )
    better = dataclasses.replace(plainer, accepted_at=EXAMINED.acceptance.accepted_at)
    renamed = dataclasses.replace(EXAMINED.acceptance, antenna="weir-4")
    for other in (better, renamed):
        for program in (software(), OTHER):
            assert held(name, report_of(other)[name], program).faults


def test_the_words_of_a_pdf_from_another_machine_are_held(monkeypatch: pytest.MonkeyPatch) -> None:
    """Other fonts set other lines: its bytes differ, its words do not."""
    shipped = module._shipped("report.typ")
    monkeypatch.setattr(
        module,
        "_shipped",
        lambda _: shipped.replace("#set text(", '#set text(font: "DejaVu Sans Mono", '),
    )
    other = Report.of(EXAMINED, "weir-3_2026-05-01T121400Z").pdf()
    monkeypatch.undo()
    assert other != FILES[REPORT_PDF]
    (remark,) = held(REPORT_PDF, other).remarks
    assert "every word and figure" in remark


@pytest.mark.slow
def test_a_pdf_that_acts_has_more_pages_or_cannot_be_read_is_found() -> None:
    def rewritten(change: str) -> bytes:
        writer = pypdf.PdfWriter(clone_from=io.BytesIO(FILES[REPORT_PDF]))
        if change == "script":
            writer.root_object[NameObject("/OpenAction")] = NameObject("/Script")
        elif change == "page":
            writer.add_blank_page(100, 100)
        elif change == "annotation":
            page = writer.pages[0]
            page[NameObject("/Annots")] = pypdf.generic.ArrayObject([NameObject("/Link")])
        content = io.BytesIO()
        writer.write(content)
        return content.getvalue()

    assert held(REPORT_PDF, rewritten("nothing")).faults == ()
    for change in ("script", "page", "annotation"):
        assert held(REPORT_PDF, rewritten(change), OTHER).faults, change
    for content in (b"", b"%PDF-1.7\n", FILES[REPORT_PDF][:3000], b"x" * (17 * 2**20)):
        assert held(REPORT_PDF, content, OTHER).faults


@pytest.mark.parametrize("name", [REPORT_HTML, REPORT_PDF])
def test_a_forged_report_with_fresh_sums_does_not_hold(name: str, tmp_path: Path) -> None:
    calibration = EXAMINED.acceptance.calibration
    assert calibration is not None
    made = compose_record(EXAMINED, calibration_text(calibration), FILES)
    assert recheck_folder(write_record(made, tmp_path)).holds
    files = dict(made.files)
    renamed = dataclasses.replace(EXAMINED.acceptance, antenna="weir-4")
    files[name] = report_of(renamed)[name]
    files[CHECKSUMS] = format_checksums(files)
    found = recheck_folder(write_record(Record("forged", files), tmp_path))
    assert found.checksum_differences == ()
    assert not found.holds
    assert name in found.lines[0]
