"""A recheck stays below 512 MB whatever it is given, and refuses in a sentence what would not."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pypdf
import pytest
from pypdf.generic import DecodedStreamObject, NameObject

from acceptance.errors import RecordError
from acceptance.record.acceptance_record import Record
from acceptance.record.checksums import CHECKSUMS, format_checksums
from acceptance.record.examination import examine
from acceptance.record.record_folder import parse_record, write_record
from acceptance.record.record_size import LARGEST_JSON, require_bounded
from acceptance.report.report_files import REPORT_HTML, REPORT_PDF, report_files
from tests.acceptance.made import accepted, record

TOP = Path(__file__).parents[3]
MOST_MB = 512
MB = 2**20
REPORTS, _ = report_files(examine(accepted()))


@pytest.mark.parametrize("name", ["record.json", "verdict.json", "calibration.json"])
@pytest.mark.parametrize(
    ("piece", "mb"), [(b"[1.5,", 17), (b"{},", 15), (b"1,", 15), (b'"a":1,', 15), (b" ", 17)]
)
def test_json_that_would_grow_is_refused_before_it_is_read(
    name: str, piece: bytes, mb: int
) -> None:
    files = {**record().files, name: piece * (mb * MB // len(piece))}
    with pytest.raises(RecordError, match=name) as refused:
        require_bounded(files, "weir-3")
    assert " MB" in str(refused.value) or "more values" in str(refused.value)


def test_what_a_bench_writes_is_far_from_the_bounds() -> None:
    """Twelve conditions of a hundred sweeps at 1,001 points: the most that a plan may ask for."""
    raw = (b"760000000.000 -0.123456789 0.123456789\n" * 1001)[:-1]
    files = {f"c{c}/raw-{n:03}.s1p": raw for c in range(12) for n in range(100)}
    require_bounded({**record().files, **files}, "weir-3")
    numbers = b",".join(b"-0.12345678901234567" for _ in range(9 * 50_000))
    require_bounded({"calibration.json": b"[" + numbers + b"]"}, "weir-3")
    assert len(numbers) < LARGEST_JSON


def sweep(points: int) -> bytes:
    f = np.linspace(760e6, 900e6, points)
    rows = b"".join(b"%.3f 0.1 0.1\n" % hz for hz in f)
    return b"# hz s ri r 50\n" + rows


def bomb() -> bytes:
    """A PDF of one page whose stream unpacks to a hundred megabytes."""
    writer = pypdf.PdfWriter(clone_from=io.BytesIO(REPORTS[REPORT_PDF]))
    stream = DecodedStreamObject()
    stream._data = zlib.compress(b"Q\n" * (50 * MB))
    stream[NameObject("/Filter")] = NameObject("/FlateDecode")
    writer.pages[0][NameObject("/Contents")] = writer._add_object(stream)
    content = io.BytesIO()
    writer.write(content)
    return content.getvalue()


def attacks(kind: str) -> dict[str, bytes]:  # noqa: PLR0911 - one an attack
    """Files that take a record's places."""
    raw = ("sealed/raw-01.s1p", "sealed/raw-02.s1p")
    face = "\U0001f600".encode()  # with one such letter each of a text takes four bytes
    match kind:
        case "values":
            many = b"[" + b"{}," * (5 * MB) + b"{}]"
            return dict.fromkeys(("record.json", "verdict.json"), many)
        case "just let in":
            return {"verdict.json": b'{"words": [' + b"1.25," * 1_200_000 + b"1]}"}
        case "letters":
            return {"verdict.json": b'{"words": "' + face + b"x" * (15 * MB) + b'"}'}
        case "points":
            return dict.fromkeys(raw, sweep(900_000))
        case "fewer points":
            return dict.fromkeys(raw, sweep(90_000))
        case "table":
            return {"sealed/trust.csv": b"1,1,1,1,1,1,1,1\n" * 5_000_000}
        case "page":
            return {REPORT_HTML: face + b"<b>" * (MB + MB // 4)}
        case _:
            return {REPORT_PDF: bomb()}


@pytest.mark.process
@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="getrusage is POSIX only")
@pytest.mark.parametrize(
    "kind",
    ["values", "just let in", "letters", "points", "fewer points", "table", "page", "pdf"],
)
def test_a_recheck_peaks_below_512_mb_whatever_it_is_given(kind: str, tmp_path: Path) -> None:
    made = record()
    files = {**made.files, **REPORTS, **attacks(kind)}
    files[CHECKSUMS] = format_checksums(files)
    folder = write_record(Record(made.folder, files), tmp_path)
    run = subprocess.run(
        [sys.executable, "-m", "tests.acceptance.recheck.peak", str(folder)],
        cwd=TOP,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    peak, _, said = run.stdout.partition(" ")
    assert peak.isdigit()
    assert int(peak) < MOST_MB, said
    assert "True" not in said


@pytest.mark.parametrize("content", [b"[1]", b'"x"', b"7", b"null"])
def test_a_verdict_that_is_no_object_is_refused_in_a_sentence(content: bytes) -> None:
    files = {**record().files, "verdict.json": content}
    with pytest.raises(RecordError, match="another kind"):
        parse_record(files, "weir-3")
