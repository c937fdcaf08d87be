"""`cable`: what a cable loses, how long it is, and what it does to verdicts at its far end."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer

from acceptance.cable.verdict_through_cable import CableCheck, Wanted, check_cable
from acceptance.plan.load import load_plan
from acceptance.record.acceptance_record import touchstone_of
from acceptance.version import software
from acquire.files.atomic_write import write_whole
from acquire.sweep import Reading
from calibration.cable.measured_line import BARE_ENDS, BARE_OFFSET_S, MeasuredLine
from calibration.capture.guided_captures import Captures
from calibration.capture.guided_captures import Wanted as WantedCapture
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import correct
from calibration.files.plane_file import KIT_OFFSET_S
from calibration.files.store import load_cable_types, load_calibration
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import Joints
from calibration.verification.verified_budget import as_sweep, verified_budget
from dashboard.command_line.analyzer_options import CalibratedAnalyzerOptions, CaptureOptions
from dashboard.command_line.options import (
    AssumptionOptions,
    CableTypeName,
    CalibrationNeeded,
    Json,
    PlanFile,
    VelocityFactor,
)
from dashboard.errors import SetupError
from dashboard.files.new_file import require_new
from dashboard.files.plane_option import cable_of_type
from dashboard.terminal.output import number, say, show, show_json, table


class End(StrEnum):
    """Which ends to sweep."""

    BOTH = "both"
    OPEN = "open"
    SHORT = "short"

    @property
    def names(self) -> tuple[str, ...]:
        """One after the other."""
        return ("open", "short") if self is End.BOTH else (str(self),)


def list_types(wanted: bool) -> None:
    """Show the table of cables and end the command, where that was asked for."""
    if not wanted:
        return
    rows = table(
        "name", number("velocity\nfactor"), number("dB/m at\n900 MHz"), number("dB/m at\n2600 MHz"),
        "how sure",
    )  # fmt: skip
    for name, each in load_cable_types().items():
        losses = [f"{value:.2f}" for value in each.loss.db(np.array([900e6, 2600e6]))]
        rows.add_row(name, each.velocity_words, *losses, each.certainty)
    show(rows)
    for name, each in load_cable_types().items():
        say(f"{name}: {each.source}.")
    say("Two cables of one type differ by 10 % and more: measure the very one you use.")
    raise typer.Exit


@dataclass(frozen=True, slots=True)
class LineOptions:
    """What is known of the cable, and which of its ends are swept."""

    velocity_factor: VelocityFactor = None
    of_type: CableTypeName = None
    types: Annotated[
        bool,
        typer.Option(
            "--types",
            is_eager=True,
            callback=list_types,
            help="List the known cable types and how sure each row is, then stop.",
        ),
    ] = False
    end: Annotated[
        End,
        typer.Option("--end", help="Sweep it with its end open, shorted, or both in turn."),
    ] = End.BOTH
    bare: Annotated[
        bool,
        typer.Option(
            "--bare",
            help="The far end has no connector: leave it bare, then short it by hand.",
        ),
    ] = False
    joints_db: Annotated[
        float | None,
        typer.Option(
            "--joints-db", metavar="DB", min=6, max=80, help="Worst return loss of either joint."
        ),
    ] = None

    @property
    def velocity(self) -> float | None:
        """The velocity factor as stated, or of a cable of the table. Raises SetupError."""
        kind = None if self.of_type is None else cable_of_type(self.of_type)
        stated = self.velocity_factor
        return kind.velocity_factor if stated is None and kind is not None else stated


def cable(
    *,
    calibration: CalibrationNeeded,
    plan: PlanFile = None,
    line: LineOptions,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE.toml",
            help="Write the result to a new file, for --plane of other commands.",
        ),
    ] = None,
    capturing: CaptureOptions,
    assumed: AssumptionOptions,
    analyzer_options: CalibratedAnalyzerOptions,
    as_json: Json = False,
) -> None:
    """Measure a cable's loss and delay with two sweeps.

    Connect nothing that transmits, and no DC, to the analyzer.
    """
    stored = load_calibration(calibration)
    velocity = line.velocity
    files = _new_files(out, line.end)
    wanted = Wanted.of_spans(stored.spans) if plan is None else Wanted.of_plan(load_plan(plan))
    captures = captures_for(stored, line.end, bare=line.bare, wanted_sweeps=capturing.sweeps)
    capturing.lead_through(captures, stored, analyzer_options)
    readings = captures.readings()
    measured = line_of(stored, readings, bare=line.bare, joints_db=line.joints_db)
    budget = verified_budget(
        stored, assumed.assumptions, analyzer_options.clock.now(), sweeps=readings[0].sweeps
    )
    found = check_cable(measured, budget, wanted, velocity)
    if out is not None:
        _write(stored, readings, files, bare=line.bare, joints_db=line.joints_db)
    if as_json:
        show_json(found.as_json() | {"out": None if out is None else str(out)})
    else:
        show_cable(found, line.of_type)
        if out is not None:
            say(f'Kept in {out}. Judge at its far end with --plane "{out}".')
        if stored.source.kind == "virtual":
            say("It comes from the virtual bench: the data is invented.")
    sound = found.far_end_valid and found.cable.agree and not found.cable.exchanged
    raise typer.Exit(0 if sound else 1)


def captures_for(calibration: Calibration, end: End, *, bare: bool, wanted_sweeps: int) -> Captures:
    """The guided captures of a cable's ends, with a calibration's passes. Raises SetupError."""
    if not calibration.request:
        raise SetupError("This calibration was made from files. Calibrate with the analyzer.")
    return Captures(
        [WantedCapture(name, _instruction(name, bare=bare), name) for name in end.names],
        calibration.request,
        lambda sweep: calibration.fits(sweep.source, sweep.request),
        wanted_sweeps=wanted_sweeps,
    )


def line_of(
    calibration: Calibration,
    readings: Sequence[StandardReading],
    *,
    bare: bool,
    joints_db: float | None,
) -> MeasuredLine:
    """The cable as its ends show it. Raises PlaneError."""
    standards = BARE_ENDS if bare else calibration.kit.standards
    return MeasuredLine(
        words="the cable",
        ends={
            each.name: Reading(each.frequency_hz, correct(calibration.terms, each.reflection))
            for each in readings
        },
        standards={each.name: standards[each.name] for each in readings},
        offset_s=BARE_OFFSET_S if bare else KIT_OFFSET_S,
        joints=Joints() if joints_db is None else Joints(joints_db, "stated"),
    )


def show_cable(found: CableCheck, of_type: str | None) -> None:
    """Show a cable check: one row a band, then sentences."""
    rows = table(
        "band", number("loss one way\ndB"), number("+/-\ndB"), number("antenna of 1 dB\nreads dB"),
        number("trust floor dB\nhere"), number("\nfar end"), "honest",
    )  # fmt: skip
    for each in found.bands:
        low, high = (f"{value:.2f}" for value in each.loss_db)
        rows.add_row(
            each.wanted.name,
            low if low == high else f"{low} to {high}",
            f"{each.uncertain_db:.2f}",
            f"{each.bad_antenna_reads_db:.1f}",
            f"{each.floor_near_db:.1f}",
            f"{each.floor_far_db:.1f}",
            each.far_end_valid,
        )
    show(rows)
    say()
    for sentence in found.sentences:
        say(sentence)
    if of_type is not None:
        kind, way = cable_of_type(of_type), found.cable.way
        length = way.length_m(kind.velocity_factor)
        usual = kind.loss.times(length).db(way.frequency_hz[-1:])[0]
        say(
            f"This cable loses {way.loss_db[-1]:.2f} dB at {way.frequency_hz[-1] / 1e6:.6g} MHz; "
            f"{usual:.2f} dB is typical for so much {kind.words} ({kind.source})."
        )
    for state in dict.fromkeys(each.far_end_valid for each in found.bands):
        alike = [each for each in found.bands if each.far_end_valid == state]
        worst = min(alike, key=lambda each: each.floor_far_db - each.wanted.limit_db)
        others = f" (and {len(alike) - 1} more, less so)" if len(alike) > 1 else ""
        say(f"{worst.wanted.name}{others}: {worst.words}")


def _instruction(name: str, *, bare: bool) -> str:
    if bare:
        return {
            "open": "Screw the cable on to the connector, its far end bare and open.",
            "short": "Solder a short across the cable's far end, as short as can be.",
        }[name]
    return {
        "open": "Screw the cable on to the connector, and the kit's open on to its far end.",
        "short": "Leave the cable on, and screw the kit's short on to its far end.",
    }[name]


def _new_files(out: Path | None, end: End) -> dict[str, Path]:
    """The files to write, by "plane" and end; refused while any is there."""
    if out is None:
        return {}
    if out.suffix != ".toml":
        raise SetupError(f"{out} is to be a plane file: give its name the ending .toml.")
    files = {"plane": out} | {name: out.with_name(f"{out.stem}-{name}.s1p") for name in end.names}
    for path in files.values():
        require_new(path)
    return files


def _write(
    calibration: Calibration,
    readings: Sequence[StandardReading],
    files: dict[str, Path],
    *,
    bare: bool,
    joints_db: float | None,
) -> None:
    """Write the ends as corrected at the connector, then the plane file that names them."""
    table: dict[str, Any] = {"format": 1}
    for each in readings:
        sweep = calibration.correct(as_sweep(calibration, each, calibration.taken_at))
        write_whole(files[each.name], touchstone_of(sweep, "", software()))
        table[each.name] = files[each.name].name
    table |= {"ended_by": "bare" if bare else "kit", "calibration": calibration.made}
    if joints_db is not None:
        table["joints_db"] = joints_db
    lines = [f"{key} = {json.dumps(value)}" for key, value in table.items()]
    write_whole(files["plane"], ("\n".join(lines) + "\n").encode())
