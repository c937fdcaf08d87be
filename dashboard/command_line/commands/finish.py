"""`finish`: a standard put back at a batch's end, so that its last antennas count."""

from __future__ import annotations

import typer

from acceptance.catalogue.batch_checks import BatchChecks
from acceptance.plan.load import load_plan
from acceptance.version import software
from calibration.files.store import load_calibration
from calibration.plane.reference_plane import CONNECTOR
from dashboard.command_line.analyzer_options import CalibratedAnalyzerOptions
from dashboard.command_line.options import (
    AssumptionOptions,
    CalibrationNeeded,
    Json,
    PlanNeeded,
    RecordFolder,
)
from dashboard.errors import SetupError
from dashboard.files import user_folders
from dashboard.sweeping.sweep_plan import SweepTarget, passes_for
from dashboard.terminal.acceptance_guide import AcceptanceGuide
from dashboard.terminal.output import say, show_json, stderr


def finish(
    *,
    plan: PlanNeeded,
    calibration: CalibrationNeeded,
    folder: RecordFolder = None,
    assumed: AssumptionOptions,
    analyzer_options: CalibratedAnalyzerOptions,
    as_json: Json = False,
) -> None:
    """End a batch: check that its calibration still holds.

    You put a standard back. If it fails, every antenna accepted since the last good check is in
    doubt. Exit status: 0 if the calibration holds, 1 if not.
    """
    loaded, stored, console = load_plan(plan), load_calibration(calibration), stderr()
    batch = BatchChecks(user_folders.records() if folder is None else folder, stored)
    if batch.last is None:
        raise SetupError(
            "No batch was begun with this calibration in this folder, so there is none to end. "
            'Its plan says check_after = "batch", and `accept` begins it.'
        )
    since, (bench, hand) = batch.since, analyzer_options.putting_back(console)
    with analyzer_options.connected(bench) as analyzer:
        passes = passes_for(
            SweepTarget(loaded.spans, loaded.margin, loaded), analyzer, stored, None
        )
        guide = AcceptanceGuide(
            loaded,
            stored,
            assumed.assumptions,
            plane=CONNECTOR,
            sweep=lambda: analyzer.sweep(passes.requests),
            clock=analyzer_options.clock,
            console=console,
            hand=hand,
        )
        found = guide.put_back(
            lambda check: batch.check(check, assumed.assumptions, loaded.spans, software())
        )
    if as_json:
        show_json({"holds": found.holds, "records": since, "words": found.words})
    elif found.holds:
        say(f"The {since} accepted since the last check count.")
    else:
        say(f"The {since} accepted since the last check are in doubt: sweep them again.")
    raise typer.Exit(0 if found.holds else 1)
