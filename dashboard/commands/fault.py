"""`fault`: reflection against distance along a cable, and the sweep that shows it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from acceptance.cable.cable_faults import see_line
from acceptance.cable.verdict_through_cable import Wanted
from acceptance.plan.load import load_plan
from acceptance.tuning.touch_test import Touch
from acquire.analyzer.profile import load_profiles
from acquire.clock import Clock
from acquire.files.atomic_write import write_whole
from acquire.sweep import Reading
from acquire.sweep_limits import Limits
from calibration.cable.fault_sweep import plan_fault
from calibration.calibration_budget import budget_of_file
from calibration.files.line_file import line_said
from calibration.files.store import load_cable_types, load_calibration
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.interval import Residuals, residuals
from calibration.verification.reading_budget import Trust, noise_in
from dashboard import folders
from dashboard.acceptance_guide import AcceptanceGuide
from dashboard.agreeing_sweeps import agreeing_sweeps
from dashboard.commands.check import read_file
from dashboard.commands.options import (
    Assume,
    CableTypeName,
    CalibrationFile,
    Json,
    LoadDb,
    PlanFile,
    ProfileName,
    Record,
    VelocityFactor,
    assumptions_of,
    clock_of,
)
from dashboard.errors import SetupError
from dashboard.fault_shown import show_fault, show_plan
from dashboard.new_file import require_new
from dashboard.terminal import say, show_json, stderr, working
from dashboard.unit import chosen, connected


def fault(
    context: typer.Context,
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE", help="A Touchstone file corrected at the connector, in place of a unit."
        ),
    ] = None,
    *,
    port: Annotated[
        str | None,
        typer.Option("--port", "-p", metavar="ADDRESS", help="Where the unit is, as for `sweep`."),
    ] = None,
    calibration: CalibrationFile = None,
    of_type: CableTypeName = None,
    velocity_factor: VelocityFactor = None,
    loss: Annotated[
        str | None,
        typer.Option(
            "--loss",
            metavar="DB@MHZ",
            help="Loss of one metre, one way, at one frequency, such as 0.85@2600.",
        ),
    ] = None,
    beta: Annotated[
        float,
        typer.Option(
            "--beta", metavar="BETA", min=0, max=20, help="Of the Kaiser window: quieter, wider."
        ),
    ] = 6.0,
    range_m: Annotated[
        float | None,
        typer.Option("--range-m", metavar="M", help="Work out the sweep that shows so far."),
    ] = None,
    resolution_m: Annotated[
        float,
        typer.Option("--resolution-m", metavar="M", help="How close together, with --range-m."),
    ] = 0.1,
    gate: Annotated[
        str | None,
        typer.Option(
            "--gate", metavar="FROM-TO", help="Take this section out, in metres, such as 0.5-1.5."
        ),
    ] = None,
    plan: PlanFile = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE.csv", help="Write the trace to a new file, as CSV."),
    ] = None,
    touch_test: Annotated[
        bool,
        typer.Option(
            "--touch",
            help="Ask for a hand on the cable too, with --plan: does its shield carry current?",
        ),
    ] = False,
    load_db: LoadDb = None,
    assume: Assume = None,
    profile: ProfileName = None,
    record: Record = None,
    as_json: Json = False,
) -> None:
    """Show what a cable reflects, and where.

    Nothing that transmits and no DC on the unit's port.
    """
    asked = line_said(_words(of_type, velocity_factor, loss), load_cable_types(), beta, gate)
    clock = clock_of(context)
    if range_m is not None:
        limits = limits_of(port, profile, clock)
        velocity = asked.line.velocity_factor
        planned = plan_fault(range_m, resolution_m, velocity, limits, beta)
        show_plan(planned, as_json=as_json)
        return
    require_new(out)
    assumptions = assumptions_of(load_db, assume)
    if touch_test and (port is None or calibration is None or plan is None):
        raise SetupError(
            "A touch test takes a unit and bands to watch: --port, --calibration and --plan."
        )
    if file is not None:
        seen = of_file(file, assumptions)
    elif port is not None and calibration is not None:
        seen = swept(
            port,
            calibration,
            profile=profile,
            record=record,
            clock=clock,
            assumptions=assumptions,
            touch_plan=plan if touch_test else None,
        )
    else:
        raise SetupError(
            "Name a Touchstone file, or --port and --calibration; or ask with --range-m and "
            "--resolution-m which sweep shows what you want."
        )
    found = see_line(
        asked,
        seen.reading.frequency_hz,
        seen.reading.reflection,
        left=seen.left,
        noise=seen.noise,
        wanted=() if plan is None else Wanted.of_plan(load_plan(plan)),
        touch=seen.touch,
    )
    if out is not None:
        write_whole(out, found.as_csv().encode())
    if as_json:
        trace = {"distance_m": found.trace.distance_m.tolist(), "size": found.trace.size.tolist()}
        show_json(found.as_json() | trace)
        return
    show_fault(found)
    if out is not None:
        say(f"Written to {out}.")
    if seen.invented:
        say("It comes from the virtual unit: the data is invented.")


def _words(of_type: str | None, velocity_factor: float | None, loss: str | None) -> str:
    """The line as one would type it in one line."""
    said = [of_type, None if velocity_factor is None else f"{velocity_factor:g}", loss]
    if loss is not None and "@" not in loss:
        said[-1] = f"{loss}@"
    return " ".join(each for each in said if each)


def limits_of(port: str | None, profile: str | None, clock: Clock) -> Limits:
    """What the unit can sweep: asked of it, or of the profile that was named. Raises SetupError."""
    if port is not None:
        with connected(port, profile=profile, record=None, bench=None, clock=clock) as unit:
            return unit.profile.limits
    named = chosen(profile, load_profiles(folders.profiles()))
    if named is None:
        raise SetupError("Which sweep is possible hangs on the unit: name --port, or --profile.")
    return named.limits


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What is to be shown against distance."""

    reading: Reading
    """Corrected at the connector."""
    noise: float
    """Of a frequency, rms, linear."""
    left: Residuals
    """What the calibration leaves of its terms."""
    invented: bool
    touch: Touch | None = None
    """What a touch test showed, if one was done."""


def of_file(file: Path, assumptions: Assumptions) -> Seen:
    """A Touchstone file, of whose calibration nothing is known. Raises OSError, TouchstoneError."""
    reading = read_file(file)[1].reading
    left = residuals(budget_of_file(reading.frequency_hz, assumptions))
    return Seen(reading, 0.0, left, False)


def swept(
    port: str,
    calibration: Path,
    *,
    profile: str | None,
    record: Path | None,
    clock: Clock,
    assumptions: Assumptions,
    touch_plan: Path | None,
) -> Seen:
    """Sweep what was calibrated. touch_plan : bands to watch while a hand grips the cable."""
    stored, touched = load_calibration(calibration), None
    with connected(port, profile=profile, record=record, bench=None, clock=clock) as unit:
        stored.fits(unit.source, stored.request)
        with working("Sweeping what was calibrated"):
            averaged = agreeing_sweeps(lambda: unit.sweep(stored.request), 4)
        if touch_plan is not None:
            touched = AcceptanceGuide(
                load_plan(touch_plan),
                stored,
                assumptions,
                sweep=lambda: unit.sweep(stored.request),
                clock=clock,
                console=stderr(),
            ).touch_test()
    corrected = stored.correct(averaged.sweep)
    budget = Trust(assumptions).budget(stored, corrected, averaged)
    return Seen(
        Reading(corrected.frequency_hz, corrected.reflection),
        noise_in(budget, corrected.reflection),
        residuals(budget),
        stored.source.kind == "virtual",
        touched,
    )
