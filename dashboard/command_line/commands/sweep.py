"""`sweep`: take one sweep, write it down, and judge it where that can be done."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from acceptance.cable.fault_causes import ripple_remarks
from acceptance.tuning.dips import find_dips
from acceptance.tuning.unserved_dips import unserved_dips
from acceptance.verdict.judged_sweep import judged_sweep
from acceptance.verdict.plan_verdict import Verdict, source_as_json
from acquire.files.atomic_write import write_whole
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from calibration.plane.reference_plane import ReferencePlane, plane_words
from calibration.verification.reading_budget import ReadingBudget
from dashboard.command_line.analyzer_options import AnalyzerOptions
from dashboard.command_line.options import (
    AssumptionOptions,
    CableInUse,
    CalibrationFile,
    Json,
    PlaneOption,
    PlanFile,
    Ranges,
)
from dashboard.files.named_cable import calibration_of
from dashboard.files.new_file import require_new
from dashboard.files.plane_option import plane_of_option
from dashboard.files.sweep_file import sweep_file
from dashboard.sweeping.agreeing_sweeps import CountedSweeps, several_sweeps
from dashboard.sweeping.sweep_plan import passes_for, read_sweep_target
from dashboard.terminal.output import say, show_json, show_verdict, stderr, working


def sweep(
    *,
    plan: PlanFile = None,
    ranges: Ranges = None,
    calibration: CalibrationFile = None,
    cable: CableInUse = "",
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="Write the sweep to a new file; its ending decides: CSV, JSON, PNG, SVG, or else "
            "Touchstone.",
        ),
    ] = None,
    sweeps: Annotated[
        int,
        typer.Option(
            "--sweeps",
            metavar="N",
            min=2,
            max=100,
            help="How many sweeps to average while they agree.",
        ),
    ] = 4,
    analyzer_options: AnalyzerOptions,
    plane: PlaneOption = None,
    assumed: AssumptionOptions,
    as_json: Json = False,
) -> None:
    """Take one sweep; with a calibration and a plan, judge it.

    Connect nothing that transmits, and no DC, to the analyzer: disconnect the modem first.
    """
    target = read_sweep_target(plan, ranges or ())
    stored = None if calibration is None else calibration_of(calibration, cable)
    wanted_plane = plane_of_option(plane, stored)
    require_new(out)
    with analyzer_options.connected() as analyzer:
        passes = passes_for(target, analyzer, stored, analyzer_options.step_khz)
        with working(f"Sweeping {passes.words}"):
            take = CountedSweeps(lambda: analyzer.sweep(passes.requests))
            found = several_sweeps(take, sweeps)
        trouble = analyzer.counters.words
    taken = found.sweep if isinstance(found, Averaged) else found[-1]
    verdict = uncertainty = None
    remarks: tuple[str, ...] = ()
    if stored is not None:
        judged = judged_sweep(
            found,
            stored,
            ReadingBudget(assumed.assumptions),
            plane=wanted_plane,
            plan=target.plan,
            swept=take.swept,
        )
        taken, uncertainty, verdict = judged.reading, judged.interval, judged.verdict
        # a verdict tells them among its notes
        remarks = stored.warnings if verdict is None or as_json else ()
        if judged.de_embedding is None:
            remarks += ripple_remarks(taken.frequency_hz, taken.reflection, judged.noise)
        if verdict is not None:
            dips = find_dips(taken.frequency_hz, taken.reflection, judged.noise)
            remarks += unserved_dips(verdict.bands, dips)
    if out is not None:
        write_whole(out, sweep_file(taken, out.suffix, uncertainty, verdict))
    if as_json:
        show_json(as_object(taken, passes.words, out, verdict, wanted_plane))
    else:
        source = taken.source
        say(f"Analyzer: {source.analyzer}, profile {source.profile}, at {source.port}.")
        say(f"Swept: {passes.words}.")
        if stored is None:
            say("The readings are raw: without --calibration there is no verdict.")
        elif verdict is None:
            say(f"Reference plane: {wanted_plane.words}.")
        if out is not None:
            say(f"Written to {out}.")
        if verdict is not None:
            say()
            show_verdict(verdict)
    for remark in (*remarks, *of_the_sweeps(found), *([trouble] if trouble else [])):
        say(remark, console=stderr())
    raise typer.Exit(0 if verdict is None or str(verdict.overall) == "pass" else 1)


def of_the_sweeps(found: Averaged | tuple[Sweep, ...]) -> list[str]:
    """Return what a person should know of how the reading came about."""
    if isinstance(found, Averaged):
        return [burst.words for burst in found.bursts]
    return [
        f"The readings still move after many sweeps: nothing was averaged, and each band is judged "
        f"by the worst of the last {len(found)}. The last one is shown."
    ]


def as_object(
    taken: Sweep,
    coverage: str,
    out: Path | None,
    verdict: Verdict | None,
    plane: ReferencePlane,
) -> dict[str, object]:
    """Return the object that `sweep --json` prints."""
    return {
        "source": source_as_json(taken.source),
        "plane": str(taken.plane),
        "plane_words": plane_words(taken.plane, plane.between),
        "taken_at": taken.taken_at.isoformat(),
        "points": taken.points,
        "low_hz": float(taken.frequency_hz[0]),
        "high_hz": float(taken.frequency_hz[-1]),
        "coverage": coverage,
        "out": None if out is None else str(out),
        "verdict": None if verdict is None else verdict.answer(),
    }
