"""Options that several commands share, so that they read and behave alike everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from acquire.clock import Clock

Port = Annotated[
    str,
    typer.Option(
        "--port",
        "-p",
        metavar="ADDRESS",
        help="Where the unit is: a port such as /dev/ttyACM0 or COM5, any pyserial URL, "
        "virtual: for the simulated unit, or replay:FILE for a recording.",
    ),
]
ProfileName = Annotated[
    str | None,
    typer.Option(
        "--profile",
        metavar="NAME",
        help="The profile that says how the unit talks. Without it each one is tried in turn.",
    ),
]
PlanFile = Annotated[
    Path | None,
    typer.Option("--plan", metavar="FILE", help="The plan: which bands, and which limits."),
]
Ranges = Annotated[
    list[str] | None,
    typer.Option(
        "--range",
        metavar="LOW-HIGH",
        help="What to sweep, in MHz, where there is no plan. May be given several times.",
    ),
]
CalibrationFile = Annotated[
    Path | None,
    typer.Option("--calibration", metavar="FILE", help="A calibration that `calibrate` wrote."),
]
Record = Annotated[
    Path | None,
    typer.Option(
        "--record", metavar="FILE", help="Record every byte to and from the unit in a new file."
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
        min=6,
        max=80,
        help="The load's return loss, as its maker states it. Without it what the kit states, else "
        "26 dB of unknown phase is assumed.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON object in place of the report.")]


def clock_of(context: typer.Context) -> Clock:
    """Return the clock that the program was started with: the machine's, or a test's."""
    from acquire.clock import SystemClock

    return SystemClock() if context.obj is None else context.obj
