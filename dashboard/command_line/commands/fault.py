"""`fault`: reflection against distance along a cable, and the sweep that shows it."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from acceptance.cable.cable_faults import inspect_line
from acceptance.cable.verdict_through_cable import Wanted
from acceptance.plan.load import load_plan
from acceptance.tuning.touch_test import Touch
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import load_profiles
from acquire.clock import Clock
from acquire.coverage.sweep_limits import Limits
from acquire.files.atomic_write import write_whole
from acquire.sweep import Reading
from calibration.cable.fault_sweep import plan_fault
from calibration.calibration_budget import budget_of_file
from calibration.files.line_file import LineToInspect, parse_typed_line
from calibration.files.store import load_cable_types, load_calibration
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import CONNECTOR
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.interval import Residuals, residuals
from calibration.verification.reading_budget import ReadingBudget, noise_in
from dashboard.command_line.named_profile import named_profile
from dashboard.command_line.option_blocks import FIRST
from dashboard.command_line.options import (
    AssumptionOptions,
    CableTypeName,
    CalibrationFile,
    Json,
    PlanFile,
    ProfileName,
    Record,
    TrustProfile,
    VelocityFactor,
    clock_of,
)
from dashboard.command_line.touchstone_input import read_file
from dashboard.errors import SetupError
from dashboard.files import user_folders
from dashboard.files.new_file import require_new
from dashboard.sweeping.agreeing_sweeps import agreeing_sweeps
from dashboard.sweeping.connection import chosen, connected
from dashboard.terminal.acceptance_guide import AcceptanceGuide
from dashboard.terminal.fault_tables import show_fault, show_plan
from dashboard.terminal.output import say, show_json, stderr, working


@dataclass(frozen=True, slots=True, eq=False)
class CableReading:
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


@dataclass(frozen=True, slots=True)
class SourceOptions:
    """A file, or an analyzer and the calibration it is swept by."""

    context: typer.Context
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE",
            help="Touchstone file, corrected at the connector, to use instead.",
        ),
    ] = None
    port: Annotated[
        str | None,
        typer.Option(
            "--port", "-p", metavar="ADDRESS", help="Where the analyzer is, as for `sweep`."
        ),
        FIRST,
    ] = None
    calibration: Annotated[CalibrationFile, FIRST] = None
    profile: ProfileName = None
    record: Record = None
    trust_profile: TrustProfile = False

    def limits(self) -> Limits:
        """What the analyzer can sweep: asked of it, or of the profile that was named.

        Raises SetupError.
        """
        if self.port is not None:
            with self._connected(self.port, None) as analyzer:
                return analyzer.profile.limits
        named = chosen(self.profile, load_profiles(user_folders.profiles()))
        if named is None:
            raise SetupError(
                "Which sweep is possible hangs on the analyzer: name --port, or --profile."
            )
        return named.limits

    def cable_reading(self, assumptions: Assumptions, touch_plan: Path | None) -> CableReading:
        """What the file or the analyzer shows.

        touch_plan : bands to watch while a hand grips the cable. Raises SetupError where there
        is neither, OSError, TouchstoneError, and whatever opening and sweeping raise.
        """
        if self.file is not None:
            return _of_file(self.file, assumptions)
        if self.port is None or self.calibration is None:
            raise SetupError(
                "Name a Touchstone file, or --port and --calibration; or ask with --range-m and "
                "--resolution-m which sweep shows what you want."
            )
        stored = load_calibration(self.calibration)
        with self._connected(self.port, self.record) as analyzer:
            return _swept(analyzer, stored, assumptions, touch_plan, clock_of(self.context))

    def _connected(self, port: str, record: Path | None) -> AbstractContextManager[Analyzer]:
        return connected(
            port,
            profile=named_profile(self.profile, trust=self.trust_profile),
            record=record,
            bench=None,
            clock=clock_of(self.context),
        )


@dataclass(frozen=True, slots=True)
class LineOptions:
    """What is known of the cable, how it is looked along, and how far."""

    of_type: CableTypeName = None
    velocity_factor: VelocityFactor = None
    loss: Annotated[
        str | None,
        typer.Option(
            "--loss",
            metavar="DB@MHZ",
            help="Loss per metre, one way, in dB at a MHz, such as 0.85@2600.",
        ),
    ] = None
    beta: Annotated[
        float,
        typer.Option(
            "--beta",
            metavar="BETA",
            min=0,
            max=20,
            help="Kaiser window: more is quieter, but blunter.",
        ),
    ] = 6.0
    range_m: Annotated[
        float | None,
        typer.Option("--range-m", metavar="M", help="Show the sweep needed to see this far."),
    ] = None
    resolution_m: Annotated[
        float,
        typer.Option("--resolution-m", metavar="M", help="Resolution wanted, with --range-m."),
    ] = 0.1
    gate: Annotated[
        str | None,
        typer.Option(
            "--gate", metavar="FROM-TO", help="Leave out this section in metres, such as 0.5-1.5."
        ),
    ] = None

    @property
    def line_request(self) -> LineToInspect:
        """The cable, as one would type it in one line. Raises FaultError."""
        velocity, loss = self.velocity_factor, self.loss
        if loss is not None and "@" not in loss:
            loss = f"{loss}@"
        cable_words = [self.of_type, None if velocity is None else f"{velocity:g}", loss]
        words = " ".join(each for each in cable_words if each)
        return parse_typed_line(words, load_cable_types(), self.beta, self.gate)


def fault(
    *,
    line: LineOptions,
    plan: PlanFile = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE.csv", help="Write the trace to a new file, as CSV."),
    ] = None,
    touch_test: Annotated[
        bool,
        typer.Option(
            "--touch",
            help="With --plan: touch the cable to see if its shield carries current.",
        ),
    ] = False,
    assumed: AssumptionOptions,
    source: SourceOptions,
    as_json: Json = False,
) -> None:
    """Show what a cable reflects, and where.

    Connect nothing that transmits, and no DC, to the analyzer.
    """
    line_request = line.line_request
    if line.range_m is not None:
        velocity = line_request.line.velocity_factor
        planned = plan_fault(line.range_m, line.resolution_m, velocity, source.limits(), line.beta)
        show_plan(planned, as_json=as_json)
        return
    require_new(out)
    assumptions = assumed.assumptions
    if touch_test and (source.port is None or source.calibration is None or plan is None):
        raise SetupError(
            "A touch test takes an analyzer and bands to watch: --port, --calibration and --plan."
        )
    cable_reading = source.cable_reading(assumptions, plan if touch_test else None)
    found = inspect_line(
        line_request,
        cable_reading.reading.frequency_hz,
        cable_reading.reading.reflection,
        left=cable_reading.left,
        noise=cable_reading.noise,
        wanted=() if plan is None else Wanted.of_plan(load_plan(plan)),
        touch=cable_reading.touch,
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
    if cable_reading.invented:
        say("It comes from the virtual bench: the data is invented.")


def _of_file(file: Path, assumptions: Assumptions) -> CableReading:
    """A Touchstone file, of whose calibration nothing is known."""
    reading = read_file(file)[1].reading
    left = residuals(budget_of_file(reading.frequency_hz, assumptions))
    return CableReading(reading, 0.0, left, False)


def _swept(
    analyzer: Analyzer,
    stored: Calibration,
    assumptions: Assumptions,
    touch_plan: Path | None,
    clock: Clock,
) -> CableReading:
    """Sweep what was calibrated."""
    stored.fits(analyzer.source, stored.request)
    with working("Sweeping what was calibrated"):
        averaged = agreeing_sweeps(lambda: analyzer.sweep(stored.request), 4)
    touched = None
    if touch_plan is not None:
        touched = AcceptanceGuide(
            load_plan(touch_plan),
            stored,
            assumptions,
            plane=CONNECTOR,
            sweep=lambda: analyzer.sweep(stored.request),
            clock=clock,
            console=stderr(),
        ).touch_test()
    corrected = stored.correct(averaged.sweep)
    budget = ReadingBudget(assumptions).budget(stored, corrected, averaged)
    return CableReading(
        Reading(corrected.frequency_hz, corrected.reflection),
        noise_in(budget, corrected.reflection),
        residuals(budget),
        stored.source.kind == "virtual",
        touched,
    )
