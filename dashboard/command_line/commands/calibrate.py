"""`calibrate`: open, short and load, one after the other, guided in the terminal."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import typer

from acceptance.verdict.plan_verdict import source_as_json
from acceptance.version import software
from acquire.coverage.spans import continuous_spans
from acquire.sweep import Source
from calibration.errors import StoredCalibrationError
from calibration.files.store import list_kits, load_kit, save_calibration
from calibration.guided.calibration_session import CalibrationSession
from calibration.one_port_calibration import Calibration
from calibration.standards.kit import Kit
from calibration.standards.stated_load import require_stated_load
from dashboard.bench.calibration_folder import keep
from dashboard.command_line.analyzer_options import AnalyzerOptions, CaptureOptions
from dashboard.command_line.options import Json, LoadDb, LoadSource, PlanFile, Ranges
from dashboard.errors import SetupError
from dashboard.files import user_folders
from dashboard.files.calibration_history import past_calibrations, remember
from dashboard.files.named_cable import cable_name
from dashboard.files.new_file import require_new
from dashboard.sweeping.sweep_plan import coverage_planner
from dashboard.terminal.calibration_guide import guide
from dashboard.terminal.output import say, show_json, stderr
from replay.virtual_bench.simulated_bench import VirtualBench


@dataclass(frozen=True, slots=True)
class CoverageOptions:
    """What to calibrate: a plan, ranges, or one even grid."""

    plan: PlanFile = None
    ranges: Ranges = None
    even: Annotated[
        str | None,
        typer.Option(
            "--even",
            metavar="LOW-HIGH",
            help="One evenly spaced range in MHz, as distance to fault needs it.",
        ),
    ] = None


def calibrate(
    *,
    covered: CoverageOptions,
    kit: Annotated[
        str | None,
        typer.Option(
            "--kit",
            metavar="NAME",
            help="Your calibration kit: its name, or the path of your own kit file.",
        ),
    ] = None,
    cable: Annotated[
        str,
        typer.Option(
            "--cable",
            metavar="NAME",
            help="Name of the test cable. Each named cable has its own history; the "
            "next calibration is compared with it.",
        ),
    ] = "",
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="File to write the calibration to. Default: in your data folder.",
        ),
    ] = None,
    capturing: CaptureOptions,
    load_db: LoadDb = None,
    load_source: LoadSource = "",
    analyzer_options: AnalyzerOptions,
    as_json: Json = False,
) -> None:
    """Calibrate at the connector with open, short and load.

    Connect nothing that transmits, and no DC, to the analyzer. Touch earthed metal before you touch
    a centre pin.
    """
    coverage_of = coverage_planner(
        covered.plan, covered.ranges or (), covered.even, analyzer_options.step_khz
    )
    console = stderr()
    bench, hand = capturing.hand(analyzer_options, console)
    require_stated_load(load_db, load_source)
    chosen = chosen_kit(kit, bench, load_db)
    if load_source:
        chosen = replace(chosen, load_source=load_source)
    require_new(out)
    with analyzer_options.connected(bench) as analyzer:
        coverage = coverage_of(analyzer.profile)
        say(f"Analyzer: {analyzer.identity}, profile {analyzer.profile.name}.", console=console)
        say(f"Kit: {chosen.label}. Each sweep: {coverage.words}.", console=console)
        session = CalibrationSession(
            chosen,
            coverage.passes,
            continuous_spans(coverage.passes, analyzer.profile.limits.range_steps_hz),
            wanted_sweeps=capturing.sweeps,
            past=_past(analyzer.source),
            cable=cable_name(cable),
        )
        guide(session, lambda: analyzer.sweep(coverage.passes), hand, console)
        calibration = session.finish(analyzer_options.clock.now(), software())
    if out is None:
        path = keep(calibration, user_folders.calibrations())
    else:
        save_calibration(calibration, out)
        path = out
    if calibration.source.kind == "port":
        try:
            remember(calibration, user_folders.calibrations())
        except StoredCalibrationError as error:  # the calibration itself is kept
            say(f"The next one cannot be held against it. {error}", console=console)
    findings = session.findings(calibration)
    if as_json:
        show_json(as_object(calibration, path, findings))
    elif findings:
        say(findings, console=console)
    for warning in calibration.warnings:
        say(warning, style="yellow", console=console)
    for remark in calibration.remarks:
        say(remark, console=console)
    if not as_json:
        say(f"The calibration is kept in {path}.")
        say(
            "It belongs to this analyzer, this cable and this connector. Use it with "
            f"--calibration {path}."
        )
        if calibration.source.kind == "virtual":
            say("It comes from the virtual bench: the data is invented.")


def chosen_kit(name: str | None, bench: VirtualBench | None, load_db: float | None) -> Kit:
    """Load the kit, with the load's return loss as the person states it.

    Without a name, that of the virtual bench, and its load. Raises SetupError or KitError.
    """
    if name is None and bench is not None:
        name = bench.kit_name
        load_db = bench.load_return_loss_db if load_db is None else load_db
    if name is None:
        kits = list_kits(user_folders.kits()).values()
        raise SetupError(
            "Say with --kit what your standards are, since an open is never quite open: "
            + "; ".join(f"--kit {kit.name} for {kit.label}" for kit in kits)
            + "; or the path of a kit file of your own."
        )
    kit = load_kit(name, user_folders.kits())
    return kit if load_db is None else replace(kit, load_return_loss_db=load_db)


def _past(source: Source) -> list[Calibration] | None:
    """What to hold a calibration against: nothing, where nobody screws anything on; of a virtual
    analyzer nothing is kept, so that invented data speaks for no measurement."""
    if source.kind == "replay":
        return None
    if source.kind == "virtual":
        return []
    return past_calibrations(user_folders.calibrations(), source.analyzer)


def as_object(calibration: Calibration, path: Path, findings: str) -> dict[str, object]:
    """Return the object that `calibrate --json` prints."""
    return {
        "out": str(path),
        "kit": calibration.kit.name,
        "taken_at": calibration.taken_at.isoformat(),
        "source": source_as_json(calibration.source),
        "points": int(calibration.frequency_hz.size),
        "spans_hz": [list(span) for span in calibration.spans],
        "standards": {name: each.sweeps for name, each in calibration.readings.items()},
        "cable": calibration.cable,
        "findings": findings,
        "warnings": list(calibration.warnings),
        "remarks": list(calibration.remarks),
    }
