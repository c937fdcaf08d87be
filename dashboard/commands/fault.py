"""`fault`: reflection against distance along a cable, and the sweep that shows it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

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

if TYPE_CHECKING:
    from acceptance.ripple_reader import Finding
    from acceptance.touch import Touch
    from acquire.clock import Clock
    from acquire.coverage import Limits
    from acquire.sweep import Reading
    from calibration.budget import Assumptions, Budget
    from calibration.fault import Line, Peak, Trace
    from calibration.fault_plan import FaultPlan
    from calibration.gate import Gated
    from dashboard.fault_shown import Strips


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
    from acceptance.ripple_reader import read_ripple
    from acquire.durable import write_whole
    from calibration.fault import along, peaks
    from calibration.gate import gate_out
    from dashboard.errors import SetupError
    from dashboard.fault_shown import show_fault, show_gated, show_plan
    from dashboard.terminal import say, show_json
    from dashboard.unit import require_new

    line = line_said(of_type, velocity_factor, loss)
    clock = clock_of(context)
    if range_m is not None:
        planned = _planned(range_m, resolution_m, line, beta, limits_of(port, profile, clock))
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
    reading = seen.reading
    trace = along(reading.frequency_hz, reading.reflection, line, beta)
    found = peaks(trace, seen.noise, seen.floor)
    findings = read_ripple(trace, found, seen.touch)
    gated, bands = None, []
    if gate is not None:
        low_m, high_m = section_said(gate)
        gated = gate_out(reading.frequency_hz, reading.reflection, line, low_m, high_m)
        bands = [] if plan is None else strips(gated, reading, plan)
    if out is not None:
        write_whole(out, as_csv(trace).encode())
    if as_json:
        show_json(as_object(trace, found, findings, gated=gated, bands=bands))
        return
    show_fault(trace, found, findings, out)
    if gated is not None:
        show_gated(gated, bands)
    if seen.invented:
        say("It comes from the virtual unit: the data is invented.")


def line_said(of_type: str | None, velocity_factor: float | None, loss: str | None) -> Line:
    """The line a person described. Raises SetupError."""
    from calibration.cable_type import NO_LOSS, LossLaw
    from calibration.fault import Line
    from calibration.plane import SKIN_SHARE
    from calibration.store import load_cable_types
    from dashboard.errors import SetupError
    from dashboard.planes import cable_of_type

    if of_type is None and velocity_factor is None:
        raise SetupError(
            "Distance takes the cable's speed: --type NAME of the table "
            f"({', '.join(load_cable_types())}), or --velocity-factor VF."
        )
    kind = None if of_type is None else cable_of_type(of_type)
    law = NO_LOSS if kind is None else kind.loss
    if loss is not None:
        decibels, _, mhz = loss.partition("@")
        try:
            law = LossLaw.at_one(float(decibels), float(mhz), SKIN_SHARE)
        except (ValueError, ZeroDivisionError):
            law = LossLaw(-1.0, 0.0)
        if not 0 <= law.k1 < 100:
            raise SetupError(
                f'"{loss}" is no loss. Write decibels a metre and where: --loss 0.85@2600.'
            )
    if velocity_factor is None and kind is not None:
        velocity_factor = kind.velocity_factor
    return Line(velocity_factor or 1.0, law)


def limits_of(port: str | None, profile: str | None, clock: Clock) -> Limits:
    """What the unit can sweep: asked of it, or of the profile that was named. Raises SetupError."""
    from acquire.profile import load_profiles
    from dashboard import folders
    from dashboard.errors import SetupError
    from dashboard.unit import chosen, connected

    if port is not None:
        with connected(port, profile=profile, record=None, bench=None, clock=clock) as unit:
            return unit.profile.limits
    named = chosen(profile, load_profiles(folders.profiles()))
    if named is None:
        raise SetupError("Which sweep is possible hangs on the unit: name --port, or --profile.")
    return named.limits


def _planned(reach_m: float, apart_m: float, line: Line, beta: float, limits: Limits) -> FaultPlan:
    from calibration.fault_plan import plan_fault

    return plan_fault(reach_m, apart_m, line.velocity_factor, limits, beta)


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """What is to be shown against distance."""

    reading: Reading
    """Corrected at the connector."""
    noise: float
    """Of the trace, rms, linear."""
    floor: float
    """The calibration's uncertainty at zero reflection, linear."""
    invented: bool
    touch: Touch | None = None
    """What a touch test showed, if one was done."""


def of_file(file: Path, assumptions: Assumptions) -> Seen:
    """A Touchstone file, of whose calibration nothing is known. Raises OSError, TouchstoneError."""
    from calibration.contributions import budget_of_file
    from dashboard.commands.check import read_file

    reading = read_file(file)[1].reading
    return Seen(reading, 0.0, floor_of(budget_of_file(reading.frequency_hz, assumptions)), False)


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
    import numpy as np

    from acceptance.store import load_plan
    from acquire.sweep import Reading
    from calibration.store import load_calibration
    from calibration.trust import Trust
    from dashboard.acceptance_guide import AcceptanceGuide
    from dashboard.terminal import stderr, working
    from dashboard.unit import agreeing_sweeps, connected

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
    scatter = 0.0 if averaged.noise is None else float(np.median(averaged.noise))
    tracking = float(np.median(np.abs(stored.terms.reflection_tracking)))
    noise = scatter / tracking / np.sqrt(averaged.sweeps * corrected.points)
    return Seen(
        Reading(corrected.frequency_hz, corrected.reflection),
        float(noise),
        floor_of(Trust(assumptions).budget(stored, corrected, averaged)),
        stored.source.kind == "virtual",
        touched,
    )


def floor_of(budget: Budget) -> float:
    """The uncertainty at zero reflection, in the middle of its sizes over the sweep, linear."""
    import numpy as np

    from calibration.uncertainty import interval

    none = np.zeros(budget.frequency_hz.size, dtype=np.complex128)
    return float(np.median(interval(budget, none).floor))


def section_said(text: str) -> tuple[float, float]:
    """Read "0.5-1.5". Raises SetupError."""
    from dashboard.errors import SetupError

    low, _, high = text.partition("-")
    try:
        return float(low), float(high)
    except ValueError:
        raise SetupError(
            f'"{text}" is no section. Write two distances in metres: --gate 0.5-1.5.'
        ) from None


def strips(gated: Gated, reading: Reading, plan: Path) -> Strips:
    """Each band's worst return loss, with the section and without; None where it is not known."""
    import numpy as np

    from acceptance.cable_check import Wanted
    from acceptance.match import return_loss_db
    from acceptance.store import load_plan

    found: Strips = []
    for each in Wanted.of_plan(load_plan(plan)):
        inside = (reading.frequency_hz >= each.span[0]) & (reading.frequency_hz <= each.span[1])
        if not inside.any():
            found.append((each.name, None, None))
            continue
        was, now = (
            float(return_loss_db(np.abs(values[inside]).max()))
            for values in (reading.reflection, gated.reflection)
        )
        found.append((each.name, was, now if gated.sure[inside].all() else None))
    return found


def as_csv(trace: Trace) -> str:
    """One line a distance."""
    rows = zip(trace.distance_m, trace.reflection.real, trace.size, strict=True)
    lines = [
        f"{metres!r},{real!r},{size!r}"
        for metres, real, size in ((float(a), float(b), float(c)) for a, b, c in rows)
    ]
    return "".join(f"{each}\r\n" for each in ("distance_m,real,size", *lines))


def as_object(
    trace: Trace,
    found: tuple[Peak, ...],
    findings: tuple[Finding, ...],
    *,
    gated: Gated | None,
    bands: Strips,
) -> dict[str, object]:
    """Return the object that `fault --json` prints."""
    told: dict[str, object] = {
        "velocity_factor": trace.line.velocity_factor,
        "loss_undone": bool(trace.line.loss.k1 or trace.line.loss.k2),
        "beta": trace.beta,
        "resolution_m": trace.resolution_m,
        "range_m": trace.range_m,
        "open_told_from_short": trace.signed,
        "peaks": [
            {
                "distance_m": each.distance_m,
                "size": each.size,
                "return_loss_db": each.return_loss_db,
                "kind": each.kind,
            }
            for each in found
        ],
        "findings": [
            {"what": each.what, "distance_m": each.distance_m, "text": each.text}
            for each in findings
        ],
        "distance_m": trace.distance_m.tolist(),
        "size": trace.size.tolist(),
        "gated": None,
    }
    if gated is not None:
        told["gated"] = {
            "warning": gated.warning,
            "bands": [
                {"name": name, "worst_return_loss_db": was, "without_it_db": now}
                for name, was, now in bands
            ],
        }
    return told
