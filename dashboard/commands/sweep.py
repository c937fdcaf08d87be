"""`sweep`: take one sweep, write it down, and judge it where that can be done."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.commands.options import (
    CalibrationFile,
    Json,
    LoadDb,
    PlanFile,
    Port,
    ProfileName,
    Ranges,
    Record,
    StepKhz,
    clock_of,
)

if TYPE_CHECKING:
    from acceptance.verdict import Verdict
    from acquire.sweep import Sweep


def sweep(
    context: typer.Context,
    *,
    port: Port,
    plan: PlanFile = None,
    ranges: Ranges = None,
    calibration: CalibrationFile = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write the sweep to a new Touchstone file."),
    ] = None,
    profile: ProfileName = None,
    step_khz: StepKhz = None,
    record: Record = None,
    load_db: LoadDb = None,
    as_json: Json = False,
) -> None:
    """Take one sweep; with a calibration and a plan, judge it.

    Nothing that transmits and no DC on the unit's port: disconnect the modem first.
    """
    from acceptance.verdict import judge
    from calibration.budget import Assumptions
    from calibration.store import load_calibration
    from calibration.trust import Trust
    from dashboard.terminal import say, show_json, show_verdict, stderr, working
    from dashboard.unit import connected, passes_for, require_new, steady_sweep, wanted

    want = wanted(plan, ranges or ())
    stored = None if calibration is None else load_calibration(calibration)
    require_new(out)
    clock = clock_of(context)
    with connected(port, profile=profile, record=record, bench=None, clock=clock) as unit:
        passes = passes_for(want, unit, stored, step_khz)
        with working(f"Sweeping {passes.words}"):
            taken = steady_sweep(lambda: unit.sweep(passes.requests))
    taken = taken if stored is None else stored.correct(taken)
    if out is not None:
        write_sweep(taken, out)
    verdict = None
    if stored is not None and want.plan is not None:
        trust = Trust(Assumptions(load_db=load_db)).interval(stored, taken, taken.taken_at)
        verdict = judge(want.plan, taken, trust=trust)
    if as_json:
        show_json(as_object(taken, passes.words, out, verdict))
    else:
        say(f"Unit: {taken.source.unit}, profile {taken.source.profile}, at {taken.source.port}.")
        say(f"Swept: {passes.words}.")
        if stored is None:
            say("The readings are raw: without --calibration there is no verdict.")
        if out is not None:
            say(f"Written to {out}.")
        if verdict is not None:
            say()
            show_verdict(verdict)
    for warning in () if stored is None else stored.warnings:
        say(warning, console=stderr())
    raise typer.Exit(0 if verdict is None or str(verdict.overall) == "pass" else 1)


def write_sweep(taken: Sweep, path: Path) -> None:
    """Write a sweep as Touchstone, with plane, time and unit in its comments."""
    from acceptance.store import software
    from acquire.durable import write_whole
    from acquire.sweep import Reading
    from acquire.touchstone import format_touchstone

    source = taken.source
    comments = [
        f"plane: {taken.plane}",
        f"taken at: {taken.taken_at.isoformat(timespec='milliseconds')}, sweep {taken.sequence}",
        f"source: {source.kind} {source.port}, {source.unit}, profile {source.profile}",
        f"written by {software()}",
    ]
    if source.unit_corrected:
        comments.append("the unit applied a correction of its own")
    if source.kind == "virtual":
        comments.append("invented data: it comes from the virtual unit")
    text = format_touchstone(Reading(taken.frequency_hz, taken.reflection), comments)
    write_whole(path, text.encode("ascii"))


def as_object(
    taken: Sweep, coverage: str, out: Path | None, verdict: Verdict | None
) -> dict[str, object]:
    """Return the object that `sweep --json` prints."""
    from acceptance.verdict import source_as_json

    return {
        "source": source_as_json(taken.source),
        "plane": str(taken.plane),
        "taken_at": taken.taken_at.isoformat(),
        "points": taken.points,
        "low_hz": float(taken.frequency_hz[0]),
        "high_hz": float(taken.frequency_hz[-1]),
        "coverage": coverage,
        "out": None if out is None else str(out),
        "verdict": None if verdict is None else verdict.as_json(),
    }
