"""A record checked in all that it holds: the one way, for page, command line and Python."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from acceptance.recheck.stored_report import held_reports
from acceptance.record.checksums import differences
from acceptance.record.recheck import Recheck, recheck
from acceptance.record.record_folder import parse_record, read_files
from acceptance.report.yes_no_ask import word_faults
from acceptance.version import software
from acquire.files.bounded_read import AnyPath


def recheck_folder(folder: AnyPath, now: datetime | None = None) -> Recheck:
    """Check a record's sums, work it out anew, and hold its verdict, reports and times against it.

    now : what no time of it may lie behind; this machine's clock where it is not given.
    Raises RecordError, one sentence, where something is missing or cannot be read.
    """
    folder = Path(folder)
    files = read_files(folder)
    record = parse_record(files, folder.resolve().name)
    found = recheck(record, differences(files), software(), now or datetime.now(UTC))
    if found.examined is None:
        return found
    reports = held_reports(files, found.examined, software())
    faults = (*reports.faults, *word_faults(found.examined))
    return replace(found, report_faults=faults, report_remarks=reports.remarks)
