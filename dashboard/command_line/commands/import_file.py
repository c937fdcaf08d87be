"""`import`: a Touchstone file of the past as a record that says what is not known of it."""

from __future__ import annotations

import re
from typing import Annotated

import typer

from acceptance.chain.chain_folder import turn
from acceptance.chain.link import linked
from acceptance.plan.load import load_plan
from acceptance.record.acceptance_record import Acceptance, Condition
from acceptance.record.examination import compose_record, examine
from acceptance.record.record_folder import write_record
from acceptance.report.report_files import report_files
from acceptance.version import software
from acquire.sweep import Sweep
from dashboard.command_line.options import (
    AntennaName,
    AssumptionOptions,
    Json,
    Note,
    OperatorName,
    PlanNeeded,
    RecordFolder,
    clock_of,
)
from dashboard.command_line.touchstone_input import PlaneName, TouchstonePath, read_named
from dashboard.command_line.verdict_ending import end_with
from dashboard.files import user_folders
from dashboard.terminal.output import say, stderr

TOUCHSTONE_SUFFIX = re.compile(r"\.(s[1-9]p|ts)", re.IGNORECASE)


def import_file(
    context: typer.Context,
    file: TouchstonePath,
    *,
    plan: PlanNeeded,
    name: AntennaName,
    plane: Annotated[
        PlaneName | None,
        typer.Option(
            "--plane",
            help="Reference plane of the file's data. Default: what the file's own "
            '"! plane:" comment says, or else the connector.',
        ),
    ] = None,
    operator: OperatorName = "",
    note: Note = "",
    folder: RecordFolder = None,
    assumed: AssumptionOptions,
    as_json: Json = False,
) -> None:
    """Turn a Touchstone file you have into a record.

    Needs no hardware. The verdict is that of `check`: an imported file gets at most a conditional
    pass. Add --load-db if you know the load it was calibrated with.
    """
    data = read_named(file, plane)
    loaded, now = load_plan(plan), clock_of(context).now().astimezone()
    reading = data.reading
    sweep = Sweep(reading.frequency_hz, reading.reflection, data.plane, now, 1, data.source, ())
    condition = loaded.judged[-1]
    acceptance = Acceptance(
        name,
        loaded,
        None,
        assumed.assumptions,
        now,
        software(),
        operator,
        note,
        (Condition(condition, (sweep,), doubts=data.doubts),),
        accepted_at=now,
        kind="imported",
    )
    records = user_folders.records() if folder is None else folder
    suffix = file.suffix.lower() if TOUCHSTONE_SUFFIX.fullmatch(file.suffix) else ".s1p"
    with turn(records) as mine:
        examined = examine(linked(acceptance, mine.link))
        report, remark = report_files(examined)
        more = {f"{condition}/original{suffix}": data.content, **report}
        written = mine.written = write_record(compose_record(examined, None, more), records)
    say(f"The record of {name} is in {written}. {remark}".strip(), console=stderr())
    end_with(examined.conditions[0].verdict, as_json=as_json, remarks=data.remarks)
