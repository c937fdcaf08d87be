"""`accept`: a finished antenna swept in every condition of its plan, judged and recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from acceptance.limits.decision import State, most_severe
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan, load_recipe
from acceptance.plan.recipe import NO_RECIPE
from acceptance.record.acceptance_record import Condition
from acceptance.record.check_age import why_not_checked
from acceptance.record.examination import Examined
from acceptance.record.plan_requirements import touch_unmet
from calibration.files.line_file import LineAsked, line_said
from calibration.files.store import load_cable_types, load_calibration
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.verified_budget import proven
from dashboard import folders
from dashboard.acceptance_guide import AcceptanceGuide
from dashboard.acceptance_run import Accepting, Said
from dashboard.commands.options import (
    AntennaName,
    Assume,
    CalibrationNeeded,
    Json,
    LoadDb,
    Note,
    OperatorName,
    PlaneSaid,
    PlanNeeded,
    Port,
    ProfileName,
    Record,
    RecordFolder,
    StepKhz,
    assumptions_of,
    clock_of,
)
from dashboard.commands.verdict_ending import end_with
from dashboard.errors import SetupError
from dashboard.planes import plane_kept, plane_said
from dashboard.signing import signer
from dashboard.sweep_plan import Wanted, passes_for
from dashboard.terminal import say, stderr, working
from dashboard.unit import connected


def accept(
    context: typer.Context,
    *,
    port: Port,
    plan: PlanNeeded,
    calibration: CalibrationNeeded,
    name: AntennaName,
    operator: OperatorName = "",
    note: Note = "",
    condition: Annotated[
        list[str] | None,
        typer.Option(
            "--condition",
            metavar="NAME",
            help="Sweep only this condition of the plan now, and keep it; the record is written "
            "once all are there. One alone is swept at once: you say that it is so. May be given "
            "several times. Without it, all that are missing.",
        ),
    ] = None,
    recipe: Annotated[
        Path | None,
        typer.Option("--recipe", metavar="FILE", help="The recipe it was built by; kept along."),
    ] = None,
    size: Annotated[
        list[str] | None,
        typer.Option(
            "--size",
            metavar="NAME=MM",
            help="A finished dimension, such as arm_a=84.5. May be given several times.",
        ),
    ] = None,
    sign: Annotated[
        Path | None,
        typer.Option(
            "--sign",
            metavar="KEY",
            help="Sign the record's sums with this key of yours, by ssh-keygen.",
        ),
    ] = None,
    folder: RecordFolder = None,
    load_db: LoadDb = None,
    assume: Assume = None,
    profile: ProfileName = None,
    step_khz: StepKhz = None,
    record: Record = None,
    plane: PlaneSaid = None,
    line: Annotated[
        str | None,
        typer.Option(
            "--line",
            metavar="CABLE",
            help="Look along the cable too, and keep what it reflects and where: its type in the "
            'table, or velocity factor and loss of a metre, such as "0.7 0.85@2600".',
        ),
    ] = None,
    gate: Annotated[
        str | None,
        typer.Option(
            "--gate",
            metavar="FROM-TO",
            help="With --line, show too what the bands would be without this section, in metres.",
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Sweep a finished antenna, judge it and write its record.

    Nothing that transmits and no DC on the unit's port: disconnect the modem first.
    """
    loaded, stored = load_plan(plan), load_calibration(calibration)
    built_by = NO_RECIPE if recipe is None else load_recipe(recipe)
    said = Said(
        name,
        operator,
        note,
        built_by,
        sizes_of(size or ()),
        plane=plane_said(plane, stored),
        declared=plane_kept(plane),
        line=line_asked(line, gate),
    )
    assumptions = assumptions_of(load_db, assume)
    signing = None if sign is None else signer(sign)
    console, clock = stderr(), clock_of(context)
    running = Accepting(folders.records() if folder is None else folder)
    if running.go_on(name, loaded, stored) and running.current is not None:
        swept = ", ".join(each.label for each in running.current.conditions)
        say(f"{name} was begun before; swept already: {swept}.", console=console)
    named = len(condition or ())
    names = chosen_conditions(condition or (), loaded, running)
    require_checked(loaded, stored, assumptions, clock.now())
    with connected(port, profile=profile, record=record, bench=None, clock=clock) as unit:
        passes = passes_for(Wanted(loaded.spans, loaded.margin, loaded), unit, stored, step_khz)
        guide = AcceptanceGuide(
            loaded,
            stored,
            assumptions,
            sweep=lambda: unit.sweep(passes.requests),
            clock=clock,
            console=console,
        )
        guide.warm_up()
        if touch_unmet(loaded, None if running.current is None else running.current.touch):
            said = replace(said, touch=guide.touch_test_that_tells())
        for each in names:
            if len(loaded.conditions) > 1 and named != 1:
                guide.wait_until(each)
            require_checked(loaded, stored, assumptions, clock.now())
            with working(f"Sweeping {passes.words}"):
                raw = guide.agreeing()
            running.keep(
                Condition(each, raw.of),
                said,
                plan=loaded,
                calibration=stored,
                assumptions=assumptions,
                at=clock.now().astimezone(),
            )
            for burst in raw.bursts:
                say(burst.words, console=console)
        if unit.counters.words:
            say(unit.counters.words, console=console)
    if running.missing(loaded) and running.examined is not None:
        left = ", ".join(running.missing(loaded))
        say(f"Kept. The record is written once these are swept too: {left}.", console=console)
        end(running.examined, as_json=as_json, remarks=stored.warnings, finished=False)
    signed = running.sign_off(
        said,
        calibration=stored,
        assumptions=assumptions,
        at=clock.now().astimezone(),
        sign=signing,
    )
    say(f"The record of {name} is in {signed.path}.", console=console)
    for words in (signed.remark, *(shift.words for shift in signed.examined.shifts)):
        if words:
            say(words, console=console)
    end(signed.examined, as_json=as_json, remarks=stored.warnings)


def end(
    examined: Examined, *, as_json: bool, remarks: Sequence[str], finished: bool = True
) -> NoReturn:
    """Show the verdict of the condition that decides, the worst of several, and end with it."""
    overall = examined.overall
    if not finished:  # no verdict yet, so no pass
        if not as_json:
            raise typer.Exit(1)
        overall = most_severe([overall, State.NOT_MEASURED])
    end_with(replace(examined.worst.verdict, overall=overall), as_json=as_json, remarks=remarks)


def line_asked(line: str | None, gate: str | None) -> LineAsked | None:
    """The cable to look along, if one was named. Raises FaultError, SetupError."""
    if line is None:
        if gate is not None:
            raise SetupError("A section is one of a cable: name that too, --line ptfe-2.5mm.")
        return None
    return line_said(line, load_cable_types(), gate=gate)


def sizes_of(given: Sequence[str]) -> dict[str, float]:
    """Read finished sizes such as "arm_a=84.5", mm. Raises SetupError."""
    found: dict[str, float] = {}
    for each in given:
        name, _, value = each.partition("=")
        try:
            size = float(value)
        except ValueError:
            size = float("nan")
        if not name.strip() or not 0 < size < 100_000:
            raise SetupError(f'"{each}" is no size. Write a name and millimetres: arm_a=84.5.')
        found[name.strip()] = size
    return found


def chosen_conditions(wanted: Sequence[str], plan: Plan, running: Accepting) -> Sequence[str]:
    """Which conditions to sweep now: those named, else all that are missing. Raises SetupError."""
    for name in wanted:
        if name not in plan.conditions:
            raise SetupError(
                f'The plan has no condition "{name}". It has: {", ".join(plan.conditions)}.'
            )
    return wanted or running.missing(plan)


def require_checked(
    plan: Plan, calibration: Calibration, assumptions: Assumptions, at: datetime
) -> None:
    """Raise SetupError where the calibration was not checked as lately as the plan wants."""
    why = why_not_checked(plan, proven(calibration, assumptions), at)
    if why:
        raise SetupError(f"{why} `bandwright verify` leads through it.")
