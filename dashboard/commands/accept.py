"""`accept`: the last sweep of a finished antenna, judged and recorded."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dashboard.commands.options import Json, LoadDb, Port, ProfileName, Record, StepKhz, clock_of
from dashboard.commands.report import end_with


def accept(
    context: typer.Context,
    *,
    port: Port,
    plan: Annotated[
        Path,
        typer.Option("--plan", metavar="FILE", help="The plan: which bands, and which limits."),
    ],
    calibration: Annotated[
        Path,
        typer.Option("--calibration", metavar="FILE", help="A calibration that `calibrate` wrote."),
    ],
    name: Annotated[
        str,
        typer.Option("--name", metavar="NAME", help="The antenna's name, as on its label."),
    ],
    operator: Annotated[
        str, typer.Option("--operator", metavar="NAME", help="Who does this; kept in the record.")
    ] = "",
    note: Annotated[
        str, typer.Option("--note", metavar="TEXT", help="Anything to keep in the record.")
    ] = "",
    folder: Annotated[
        Path | None,
        typer.Option(
            "--folder",
            metavar="FOLDER",
            help="Where the record's own folder is made. Without it, in your own data folder.",
        ),
    ] = None,
    load_db: LoadDb = None,
    profile: ProfileName = None,
    step_khz: StepKhz = None,
    record: Record = None,
    as_json: Json = False,
) -> None:
    """Sweep a finished antenna, judge it and write its record.

    Nothing that transmits and no DC on the unit's port: disconnect the modem first.
    """
    from acceptance.record import compose_record
    from acceptance.store import load_plan, software, write_record
    from acceptance.verdict import judge
    from calibration.budget import Assumptions
    from calibration.store import calibration_text, load_calibration
    from calibration.trust import Trust
    from dashboard import folders
    from dashboard.terminal import say, stderr, working
    from dashboard.unit import Wanted, connected, passes_for, steady_sweep

    loaded = load_plan(plan)
    stored = load_calibration(calibration)
    clock = clock_of(context)
    with connected(port, profile=profile, record=record, bench=None, clock=clock) as unit:
        want = Wanted(loaded.spans, loaded.margin, loaded)
        passes = passes_for(want, unit, stored, step_khz)
        with working(f"Sweeping {passes.words}"):
            raw = steady_sweep(lambda: unit.sweep(passes.requests))
    corrected = stored.correct(raw)
    assumptions = Assumptions(load_db=load_db)
    trust = Trust(assumptions).interval(stored, corrected, corrected.taken_at)
    verdict = judge(loaded, corrected, trust=trust)
    written = write_record(
        compose_record(
            unit=name,
            operator=operator,
            note=note,
            accepted_at=clock.now(),
            raw=raw,
            corrected=corrected,
            calibration=calibration_text(stored),
            plan=loaded,
            verdict=verdict,
            assumptions=assumptions,
            software=software(),
        ),
        folders.records() if folder is None else folder,
    )
    say(f"The record of {name} is in {written}.", console=stderr())
    end_with(verdict, as_json=as_json, remarks=stored.warnings)
