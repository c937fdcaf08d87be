"""`report`: made from a record, and never into it."""

from __future__ import annotations

from pathlib import Path

import pypdf
import pytest

from acceptance.record.record_folder import write_record
from dashboard.command_line.main import main
from tests.acceptance.made import record


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return write_record(record(), tmp_path)


def test_it_is_written_beside_the_record(folder: Path) -> None:
    before = {each: each.read_bytes() for each in folder.rglob("*") if each.is_file()}
    assert main(["report", str(folder), "--paper", "letter"]) == 0
    (page,) = pypdf.PdfReader(folder.with_name(f"{folder.name}.pdf")).pages
    assert float(page.mediabox.height) == 792
    assert {each: each.read_bytes() for each in folder.rglob("*") if each.is_file()} == before


def test_it_is_written_where_it_is_wanted(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "weir.html"
    assert main(["report", str(folder), "--to", str(target)]) == 0
    assert "weir-3" in target.read_text(encoding="utf-8")


def test_another_form_is_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", str(folder), "--to", "weir.doc"]) == 2
    assert "a report is a .pdf or an .html" in capsys.readouterr().err


def test_what_is_no_record_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", str(tmp_path / "nothing")]) == 2
    assert "There is no record" in capsys.readouterr().err
