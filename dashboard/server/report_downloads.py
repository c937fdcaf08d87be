"""The reports of records that lie in this bench's folder, as the page opens them, and the folders
themselves as archives.

Reports are made from the record each time. The stored ones may come from anyone, and what is served
here speaks for the bench: a page of its own origin can read its token and change what is there.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from acceptance.record.examination import examine
from acceptance.record.record_folder import load_record
from acceptance.report.report_files import REPORT_HTML, REPORT_PDF, Report
from acquire.errors import BandwrightError
from acquire.files.named_file import in_folder
from dashboard.access.security_headers import CONTENT_POLICY, RUNS_NOTHING
from dashboard.server.record_exports import attachment, record_zip

Answer = Callable[[Request], Awaitable[Response]]
RECORD_ZIP = "record.zip"
FORMS = {
    REPORT_HTML: "text/html; charset=utf-8",
    REPORT_PDF: "application/pdf",
    RECORD_ZIP: "application/zip",
}


def report_of(records: Path) -> Answer:
    """Serve a record's report, made from it and under a policy that runs nothing.

    records : the folder of all records. 404 for a name that is no record's, or no report's.
    """

    async def serve(request: Request) -> Response:
        record, name = request.path_params["record"], request.path_params["name"]
        if name not in FORMS:
            return PlainTextResponse("Not found", 404)
        try:
            content = await asyncio.to_thread(_content, records, record, name)
        except (BandwrightError, OSError):
            return PlainTextResponse("Not found", 404)
        headers = {"Cache-Control": "no-store", CONTENT_POLICY: RUNS_NOTHING}
        if name == REPORT_PDF:
            # the policy allows no page to hold a PDF's viewer, so it is kept as a file
            headers["Content-Disposition"] = 'attachment; filename="report.pdf"'
        if name == RECORD_ZIP:
            headers["Content-Disposition"] = attachment(f"{record}.zip")
        return Response(content, media_type=FORMS[name], headers=headers)

    return serve


def _content(records: Path, record: str, name: str) -> bytes:
    folder = in_folder(records, record)
    if name == RECORD_ZIP:
        return record_zip(folder)
    report = Report.of(examine(load_record(folder).acceptance), folder.name)
    return report.html().encode() if name == REPORT_HTML else report.pdf()
