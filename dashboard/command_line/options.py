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
        help="How the analyzer talks. If not given, the shipped profiles are tried.",
    ),
]
TrustProfile = Annotated[
    bool,
    typer.Option(
        "--trust-profile",
        help="Use a profile that is not shipped without the one-time question.",
    ),
]
_PLAN = typer.Option("--plan", metavar="FILE", help="The plan file: bands and limits.")
PlanFile = Annotated[Path | None, _PLAN]
PlanNeeded = Annotated[Path, _PLAN]
Ranges = Annotated[
    list[str] | None,
    typer.Option(
        "--range",
        metavar="LOW-HIGH",
        help="Range to sweep in MHz, if there is no plan. Repeat for several.",
    ),
]
_CALIBRATION = typer.Option(
    "--calibration", metavar="FILE", help="Calibration file that `calibrate` wrote."
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
    str, typer.Option("--operator", metavar="NAME", help="Your name, for the record.")
]
Note = Annotated[str, typer.Option("--note", metavar="TEXT", help="Any note for the record.")]
RecordFolder = Annotated[
    Path | None,
    typer.Option(
        "--folder",
        metavar="FOLDER",
        help="Folder to write the record into. Default: your data folder.",
    ),
]
PlaneOption = Annotated[
    str | None,
    typer.Option(
        "--plane",
        metavar="PLANE",
        help="Reference plane of the verdict: connector, or the cable between it and the antenna's "
        'feed, as a .toml file that `cable` wrote or as KEY=VALUE, such as "cable=ptfe-2.5mm '
        'length_mm=182".',
    ),
]
CableTypeName = Annotated[
    str | None,
    typer.Option(
        "--type",
        metavar="NAME",
        help="Cable type from the table (velocity factor and typical loss).",
    ),
]
VelocityFactor = Annotated[
    float | None,
    typer.Option(
        "--velocity-factor", metavar="VF", min=0.3, max=1, help="Velocity factor of the cable."
    ),
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
        help="Largest spacing of points. Default: range / 20, from 10 to 5000.",
    ),
]
LoadDb = Annotated[
    float | None,
    typer.Option(
        "--load-db",
        metavar="DB",
        help="Return loss of your load, as its maker states it (14 dB or more). Default: the "
        "kit's figure, or else 26 dB with unknown phase.",
    ),
]
LoadSource = Annotated[
    str,
    typer.Option(
        "--load-source",
        metavar="TEXT",
        help='Source of that figure, such as "certificate 123". Required above 46 dB; kept '
        "with calibration and record.",
    ),
]
Assume = Annotated[
    list[str] | None,
    typer.Option(
        "--assume",
        metavar="NAME=VALUE",
        help="Replace an assumed figure, such as drift_per_hour=0.001. Repeat for several.",
    ),
]
Sweeps = Annotated[
    int,
    typer.Option(
        "--sweeps", metavar="N", min=4, max=1000, help="Steady sweeps to average for each standard."
    ),
]
Unattended = Annotated[
    bool,
    typer.Option(
        "--unattended",
        help="Run without prompts (virtual: and replay: only).",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object instead.")]


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
