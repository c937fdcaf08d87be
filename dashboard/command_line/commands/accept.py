"""`accept`: a finished antenna swept in every condition of its plan, judged and recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from acceptance.limits.decision import State, most_severe
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan, load_recipe
from acceptance.plan.recipe import NO_RECIPE
from acceptance.plan.size_names import require_size_name
from acceptance.record.acceptance_record import Condition
from acceptance.record.check_age import why_not_checked
from acceptance.record.examination import Examined
from acceptance.record.plan_requirements import piece_unmet, touch_unmet
from calibration.files.line_file import LineToInspect, parse_typed_line
from calibration.files.store import load_cable_types
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.check_piece import PieceReading
from calibration.verification.verified_budget import evidence_results
from dashboard.acceptance_run.running_acceptance import AntennaDetails, RunningAcceptance
from dashboard.command_line.analyzer_options import AnalyzerOptions
from dashboard.command_line.options import (
    AntennaName,
    AssumptionOptions,
    CableInUse,
    CalibrationNeeded,
    Json,
    Note,
    OperatorName,
    PlaneOption,
    PlanNeeded,
    RecordFolder,
)
from dashboard.command_line.verdict_ending import end_with
from dashboard.errors import SetupError
from dashboard.files import user_folders
from dashboard.files.check_pieces import latest_reading
from dashboard.files.named_cable import calibration_of
from dashboard.files.plane_option import plane_of_option, plane_text_of_option
from dashboard.files.signing import signer
from dashboard.sweeping.sweep_plan import SweepTarget, passes_for
from dashboard.terminal.acceptance_guide import AcceptanceGuide
from dashboard.terminal.output import say, stderr, working


@dataclass(frozen=True, slots=True)
class LabelOptions:
    """Whose record it is."""

    name: AntennaName
    operator: OperatorName = ""
    note: Note = ""


@dataclass(frozen=True, slots=True)
class BuiltOptions:
    """What the antenna was built by, and how large it became."""

    recipe: Annotated[
        Path | None,
        typer.Option(
            "--recipe", metavar="FILE", help="The recipe it was built by; kept in the record."
        ),
    ] = None
    size: Annotated[
        list[str] | None,
        typer.Option(
            "--size",
            metavar="NAME=MM",
            help="A finished dimension in mm, such as arm_a=84.5. Repeat for several.",
        ),
    ] = None

    @property
    def sizes_mm(self) -> dict[str, float]:
        """Finished sizes as given, such as "arm_a=84.5". Raises SetupError, RecipeError."""
        found: dict[str, float] = {}
        for each in self.size or ():
            name, _, value = each.partition("=")
            try:
                size = float(value)
            except ValueError:
                size = float("nan")
            if not name.strip() or not 0 < size < 100_000:
                raise SetupError(f'"{each}" is no size. Write a name and millimetres: arm_a=84.5.')
            require_size_name(name.strip(), f"--size {each}: ")
            found[name.strip()] = size
        return found


@dataclass(frozen=True, slots=True)
class RecordOptions:
    """How the record is signed, and where it is kept."""

    sign: Annotated[
        Path | None,
        typer.Option(
            "--sign",
            metavar="KEY",
            help="Sign the record with this SSH key (uses ssh-keygen).",
        ),
    ] = None
    folder: RecordFolder = None


@dataclass(frozen=True, slots=True)
class CableOptions:
    """The test cable in use, what lies between the connector and the feed, and whether to look
    along it."""

    plane: PlaneOption = None
    test_cable: CableInUse = ""
    line: Annotated[
        str | None,
        typer.Option(
            "--line",
            metavar="CABLE",
            help="Add a plot of what the cable reflects and where. Give its type from the "
            'table, or velocity factor and loss per metre, such as "0.7 0.85@2600".',
        ),
    ] = None
    gate: Annotated[
        str | None,
        typer.Option(
            "--gate",
            metavar="FROM-TO",
            help="With --line, also show the bands without this section, in metres.",
        ),
    ] = None

    @property
    def line_request(self) -> LineToInspect | None:
        """The cable to look along, if one was named. Raises FaultError, SetupError."""
        if self.line is None:
            if self.gate is not None:
                raise SetupError("A section is one of a cable: name that too, --line ptfe-2.5mm.")
            return None
        return parse_typed_line(self.line, load_cable_types(), gate=self.gate)


def accept(
    *,
    plan: PlanNeeded,
    calibration: CalibrationNeeded,
    label: LabelOptions,
    condition: Annotated[
        list[str] | None,
        typer.Option(
            "--condition",
            metavar="NAME",
            help="Sweep only this condition of the plan now; the record is written once all are "
            "there. One condition alone is swept at once, without a prompt. Repeat for several. "
            "Default: all that are missing.",
        ),
    ] = None,
    built: BuiltOptions,
    storing: RecordOptions,
    assumed: AssumptionOptions,
    analyzer_options: AnalyzerOptions,
    cable: CableOptions,
    as_json: Json = False,
) -> None:
    """Sweep a finished antenna, judge it and write its record.

    Connect nothing that transmits, and no DC, to the analyzer: disconnect the modem first.
    """
    loaded, stored = load_plan(plan), calibration_of(calibration, cable.test_cable)
    name = label.name
    details = AntennaDetails(
        name,
        label.operator,
        label.note,
        NO_RECIPE if built.recipe is None else load_recipe(built.recipe),
        built.sizes_mm,
        plane=plane_of_option(cable.plane, stored),
        declared=plane_text_of_option(cable.plane),
        line=cable.line_request,
        check_piece=latest_reading(user_folders.check_pieces(invented=analyzer_options.invented)),
    )
    assumptions = assumed.assumptions
    signing = None if storing.sign is None else signer(storing.sign)
    console, clock = stderr(), analyzer_options.clock
    running = RunningAcceptance(
        user_folders.records() if storing.folder is None else storing.folder
    )
    if running.go_on(name, loaded, stored) and running.current is not None:
        swept = ", ".join(each.label for each in running.current.conditions)
        say(f"{name} was begun before; swept already: {swept}.", console=console)
    named = len(condition or ())
    names = chosen_conditions(condition or (), loaded, running)
    require_checked(loaded, stored, assumptions, clock.now(), details.check_piece)
    bench, hand = analyzer_options.putting_back(console)
    with analyzer_options.connected(bench) as analyzer:
        passes = passes_for(
            SweepTarget(loaded.spans, loaded.margin, loaded),
            analyzer,
            stored,
            analyzer_options.step_khz,
        )
        guide = AcceptanceGuide(
            loaded,
            stored,
            assumptions,
            plane=details.plane,
            sweep=lambda: analyzer.sweep(passes.requests),
            clock=clock,
            console=console,
            hand=hand,
        )
        guide.warm_up()
        batch = running.batch(loaded, stored)
        if batch is not None:
            guide.check_batch(batch, assumptions)
        if touch_unmet(loaded, None if running.current is None else running.current.touch_test):
            details = replace(details, touch_test=guide.touch_test_that_tells())
        for each in names:
            if len(loaded.conditions) > 1 and named != 1:
                guide.wait_until(each)
            require_checked(loaded, stored, assumptions, clock.now(), details.check_piece)
            with working(f"Sweeping {passes.words}"):
                raw = guide.agreeing()
            running.keep(
                Condition(each, raw.of, guide.swept),
                details,
                plan=loaded,
                calibration=stored,
                assumptions=assumptions,
                at=clock.now().astimezone(),
            )
            for burst in raw.bursts:
                say(burst.words, console=console)
        if running.check_wanted:
            guide.put_back(running.put_back)
        if analyzer.counters.words:
            say(analyzer.counters.words, console=console)
    if running.missing(loaded) and running.examined is not None:
        left = ", ".join(running.missing(loaded))
        say(f"Kept. The record is written once these are swept too: {left}.", console=console)
        end(running.examined, as_json=as_json, remarks=stored.warnings, finished=False)
    signed = running.sign_off(
        details,
        calibration=stored,
        assumptions=assumptions,
        at=clock.now().astimezone(),
        sign=signing,
    )
    say(f"The record of {name} is in {signed.path}.", console=console)
    for words in (
        signed.remark,
        *(comparison.words for comparison in signed.examined.condition_comparisons),
    ):
        if words:
            say(words, console=console)
    if batch is not None:
        say(batch.ending, console=console)
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


def chosen_conditions(
    wanted: Sequence[str], plan: Plan, running: RunningAcceptance
) -> Sequence[str]:
    """Which conditions to sweep now: those named, else all that are missing. Raises SetupError."""
    for name in wanted:
        if name not in plan.conditions:
            raise SetupError(
                f'The plan has no condition "{name}". It has: {", ".join(plan.conditions)}.'
            )
    return wanted or running.missing(plan)


def require_checked(
    plan: Plan,
    calibration: Calibration,
    assumptions: Assumptions,
    at: datetime,
    piece: PieceReading | None,
) -> None:
    """Raise SetupError where calibration or check piece were not checked as lately as the plan
    wants."""
    if wanted := piece_unmet(plan, piece, at):
        raise SetupError(wanted)
    why = why_not_checked(plan, evidence_results(calibration, assumptions), at)
    if why:
        raise SetupError(f"{why} `bandwright verify` leads through it.")
