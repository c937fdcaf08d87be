"""The report of a record: as someone asks for it, and with all a page can hold."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from acceptance.record.examination import compose_record, examine
from acceptance.record.record_folder import write_record
from acceptance.report.report_files import Report
from benchmarks.row import Goal, Row
from benchmarks.starting import run
from calibration.files.calibration_file import calibration_text
from tests.acceptance.made import wide


@contextmanager
def rows() -> Iterator[list[Row]]:
    """Yield the rows; the record is invented, 24 bands in five conditions."""
    acceptance = wide(24)
    assert acceptance.calibration is not None
    examined = examine(acceptance)
    written = compose_record(examined, calibration_text(acceptance.calibration))
    with tempfile.TemporaryDirectory() as name:
        record = write_record(written, Path(name))
        yield [
            Row(
                "report of a record of 24 bands and 5 conditions, cold process",
                lambda: run("-m", "dashboard", "report", str(record)),
                "",
                None,
                Goal(within_s=3.0),
                5,
            ),
            Row(
                "the same made again, PDF and HTML, in a process that runs",
                lambda: _both(Report.of(examined, record.name)),
                "",
                None,
                Goal(within_s=3.0),
                5,
            ),
        ]


def _both(report: Report) -> None:
    report.pdf()
    report.html()
