"""`morning`: the bench's check piece swept once each morning, and charted over days."""

from __future__ import annotations

from typing import Annotated

import typer

from acceptance.batch.piece_chart import piece_series
from acceptance.verdict.judged_sweep import JudgedReading, judged_sweep
from acquire.sweep import Sweep
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.reading_budget import ReadingBudget
from dashboard.acceptance_run.running_acceptance import PUT_BACK_PATIENCE, PUT_BACK_SWEEPS
from dashboard.command_line.analyzer_options import CalibratedAnalyzerOptions
from dashboard.command_line.options import (
    AssumptionOptions,
    CableInUse,
    CalibrationNeeded,
    Json,
)
from dashboard.errors import SetupError, UnattendedError
from dashboard.files import user_folders
from dashboard.files.kept_check_piece import (
    USUAL_NAME,
    VIRTUAL_PIECE,
    keep_reading,
    require_figures,
)
from dashboard.files.named_cable import calibration_of
from dashboard.sweeping.agreeing_sweeps import CountedSweeps, agreeing_sweeps
from dashboard.terminal.batch_tables import show_series
from dashboard.terminal.output import say, show_json, stderr, stdout
from dashboard.terminal.text_chart import FULL, PLAIN


def morning(
    *,
    calibration: CalibrationNeeded,
    cable: CableInUse = "",
    piece: Annotated[
        str,
        typer.Option(
            "--piece", metavar="NAME", help="Name of the check piece, if there are several."
        ),
    ] = USUAL_NAME,
    return_loss_db: Annotated[
        float | None,
        typer.Option(
            "--return-loss-db",
            metavar="DB",
            help="Return loss it should read: 10 for a 5 dB pad with an open, 9.54 for two loads "
            "on a tee. Default: what was stated before, or what it read the first time.",
        ),
    ] = None,
    tolerance_db: Annotated[
        float | None,
        typer.Option("--tolerance-db", metavar="DB", help="Allowed difference. Default: 0.3."),
    ] = None,
    assumed: AssumptionOptions,
    analyzer_options: CalibratedAnalyzerOptions,
    as_json: Json = False,
) -> None:
    """Sweep the check piece and chart it from day to day.

    Exit status: 0 if it reads as it should, 1 if not.
    """
    require_figures(piece, return_loss_db, tolerance_db)
    stored = calibration_of(calibration, cable)
    found, readings = keep_reading(
        user_folders.check_pieces(invented=analyzer_options.invented),
        piece,
        swept_piece(piece, stored, assumed.assumptions, analyzer_options),
        stored,
        stated_db=return_loss_db,
        tolerance_db=tolerance_db,
    )
    if as_json:
        show_json({**found.as_json(), "mean_db": found.mean_db, "readings": len(readings)})
    else:
        say(found.words, style="green" if found.holds else "red")
        series = piece_series(readings)
        if series is not None:
            unicode = stdout().encoding.lower().startswith("utf")
            show_series(series, FULL if unicode else PLAIN)
    raise typer.Exit(0 if found.holds else 1)


def swept_piece(
    piece: str,
    calibration: Calibration,
    assumptions: Assumptions,
    analyzer_options: CalibratedAnalyzerOptions,
) -> JudgedReading[Sweep]:
    """Ask for the piece, and sweep it by the calibration's passes."""
    console = stderr()
    if not calibration.request:
        raise SetupError(
            "This calibration was made from files and names no passes to sweep. Calibrate with "
            "the analyzer."
        )
    bench, hand = analyzer_options.putting_back(console)
    with analyzer_options.connected(bench) as analyzer:
        calibration.fits(analyzer.source, calibration.request)
        say(f"Put the {piece} on the end of the cable, hands off.", style="bold", console=console)
        if hand is not None:
            hand(VIRTUAL_PIECE)
        else:
            try:
                console.input("    Press Enter once it is on: ")
            except EOFError:
                raise UnattendedError(
                    "Someone must put the check piece on and press Enter, and there is no terminal "
                    "to press it at. Run it in a terminal."
                ) from None
        take = CountedSweeps(lambda: analyzer.sweep(calibration.request))
        raw = agreeing_sweeps(take, PUT_BACK_SWEEPS, PUT_BACK_PATIENCE)
    return judged_sweep(raw, calibration, ReadingBudget(assumptions), swept=take.swept)
