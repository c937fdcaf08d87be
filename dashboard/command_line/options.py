"""Options that several commands share, so that they read and behave alike everywhere."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Annotated

import typer

from acquire.clock import Clock, SystemClock
from calibration.standards.stated_load import require_stated_load
from calibration.uncertainty.budget import Assumptions
from dashboard.command_line.option_blocks import FIRST
from dashboard.errors import SetupError

Port = Annotated[
    str,
    typer.Option(
        "--port",
        "-p",
        metavar="ADDRESS",
        help="Where the analyzer is: a port such as /dev/ttyACM0 or COM5, any pyserial URL, "
        "virtual: for the simulated analyzer, or replay:FILE for a recording.",
    ),
    FIRST,
]
PortIfKnown = Annotated[
    str | None,
    typer.Option(
        "--port",
        "-p",
        metavar="ADDRESS",
        help="Where the analyzer is, as for every command. Without it the page lists the ports, "
        "and you choose one there.",
    ),
    FIRST,
]
ProfileName = Annotated[
    str | None,
    typer.Option(
        "--profile",
        metavar="NAME",
        help="The profile that says how the analyzer talks. Without it those shipped are tried.",
    ),
]
TrustProfile = Annotated[
    bool,
    typer.Option(
        "--trust-profile",
        help="Send the words of a profile that is not shipped without asking; it is asked once.",
    ),
]
_PLAN = typer.Option("--plan", metavar="FILE", help="The plan: which bands, and which limits.")
PlanFile = Annotated[Path | None, _PLAN]
PlanNeeded = Annotated[Path, _PLAN]
Ranges = Annotated[
    list[str] | None,
    typer.Option(
        "--range",
        metavar="LOW-HIGH",
        help="What to sweep, in MHz, where there is no plan. May be given several times.",
    ),
]
_CALIBRATION = typer.Option(
    "--calibration", metavar="FILE", help="A calibration that `calibrate` wrote."
)
CABLE_IN_USE = typer.Option(
    "--cable",
    metavar="NAME",
    help="The test cable in use, by the name you calibrated it under. The calibration of another "
    "cable is refused.",
)
CableInUse = Annotated[str, CABLE_IN_USE]
CalibrationFile = Annotated[Path | None, _CALIBRATION]
CalibrationNeeded = Annotated[Path, _CALIBRATION]
AntennaName = Annotated[
    str, typer.Option("--name", metavar="NAME", help="The antenna's name, as on its label.")
]
OperatorName = Annotated[
    str, typer.Option("--operator", metavar="NAME", help="Who does this; kept in the record.")
]
Note = Annotated[
    str, typer.Option("--note", metavar="TEXT", help="Anything to keep in the record.")
]
RecordFolder = Annotated[
    Path | None,
    typer.Option(
        "--folder",
        metavar="FOLDER",
        help="Where the record's own folder is made. Without it, in your own data folder.",
    ),
]
PlaneOption = Annotated[
    str | None,
    typer.Option(
        "--plane",
        metavar="PLANE",
        help="Where the verdict shall hold: connector, or what lies between it and the antenna's "
        'feed: a .toml file that `cable` wrote, or KEY=VALUE such as "cable=ptfe-2.5mm '
        'length_mm=182".',
    ),
]
CableTypeName = Annotated[
    str | None,
    typer.Option(
        "--type", metavar="NAME", help="A cable of the table: its velocity factor and usual loss."
    ),
]
VelocityFactor = Annotated[
    float | None,
    typer.Option("--velocity-factor", metavar="VF", min=0.3, max=1, help="Of the cable."),
]
Record = Annotated[
    Path | None,
    typer.Option(
        "--record", metavar="FILE", help="Record every byte to and from the analyzer in a new file."
    ),
]
StepKhz = Annotated[
    float | None,
    typer.Option(
        "--step-khz",
        metavar="KHZ",
        min=0.001,
        help="Spacing of the points, at most. Without it, a twentieth of each range, 10 to 5000.",
    ),
]
LoadDb = Annotated[
    float | None,
    typer.Option(
        "--load-db",
        metavar="DB",
        help="The load's return loss, as its maker states it, 14 dB or more. Without it what the "
        "kit states, else 26 dB of unknown phase is assumed.",
    ),
]
LoadSource = Annotated[
    str,
    typer.Option(
        "--load-source",
        metavar="TEXT",
        help='Where that figure is from, such as "certificate 123"; asked for above 46 dB, kept '
        "with calibration and record.",
    ),
]
Assume = Annotated[
    list[str] | None,
    typer.Option(
        "--assume",
        metavar="NAME=VALUE",
        help="Another figure for what is assumed where nothing was measured or stated, such as "
        "drift_per_hour=0.001. May be given several times.",
    ),
]
Sweeps = Annotated[
    int,
    typer.Option(
        "--sweeps", metavar="N", min=4, max=1000, help="Steady sweeps to average a standard."
    ),
]
Unattended = Annotated[
    bool,
    typer.Option(
        "--unattended",
        help="Wait for nobody. Only for virtual: and replay:, where nothing is screwed on.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object in place of the report.")]


def clock_of(context: typer.Context) -> Clock:
    """Return the clock that the program was started with: the machine's, or a test's."""
    return SystemClock() if context.obj is None else context.obj


@dataclass(frozen=True, slots=True)
class AssumptionOptions:
    """What is taken to be so where nothing was measured or stated."""

    load_db: LoadDb = None
    load_source: LoadSource = ""
    assume: Assume = None

    @property
    def assumptions(self) -> Assumptions:
        """As the person changed them; raises SetupError, CalibrationError for what is none."""
        require_stated_load(self.load_db, self.load_source)
        known = {field.name for field in fields(Assumptions)} - {"load_db", "load_source"}
        given: dict[str, float] = {}
        for each in self.assume or ():
            name, _, text = each.partition("=")
            try:
                value = float(text)
            except ValueError:
                value = -1.0
            if name.strip() not in known or not 0 <= value < 1e6:
                raise SetupError(
                    f'"{each}" cannot be assumed. Write NAME=VALUE, the value not negative; the '
                    f"names are {', '.join(sorted(known))}."
                )
            given[name.strip()] = value
        return Assumptions(load_db=self.load_db, load_source=self.load_source, **given)
