"""`check`: the verdict on any Touchstone file, without hardware."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dashboard.commands.options import Json, LoadDb, PlanFile
from dashboard.commands.report import end_with

if TYPE_CHECKING:
    from acquire.sweep import Plane


class PlaneName(StrEnum):
    """Reference planes, as a person names them."""

    RAW = "raw"
    CONNECTOR = "connector"
    ANTENNA = "antenna"


def check(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="A Touchstone file, one-port or two-port (S11).")
    ],
    plan: PlanFile = None,
    plane: Annotated[
        PlaneName | None,
        typer.Option(
            "--plane",
            help="Where along the cable the file's data holds. Without it, what the file's own "
            '"! plane:" comment says, else the connector.',
        ),
    ] = None,
    load_db: LoadDb = None,
    as_json: Json = False,
) -> None:
    """Judge a Touchstone file against a plan. Needs no hardware."""
    from acceptance.errors import PlanError
    from acceptance.store import load_plan
    from acceptance.verdict import judge
    from acquire.sweep import Plane, Source
    from acquire.touchstone import MOST_BYTES, parse_touchstone
    from calibration.budget import DEFAULT_LOAD_DB, Assumptions
    from calibration.contributions import budget_of_file
    from calibration.uncertainty import interval
    from dashboard.terminal import plain

    with file.open("rb") as opened:
        content = opened.read(MOST_BYTES + 1)
    data = parse_touchstone(content, file.name)
    if plan is None:
        raise PlanError(
            f"{file.name} can be read, but there is no plan to judge it by: name one with --plan. "
            "`bandwright bands --region europe --write plan.toml` writes one to start from."
        )
    remarks = list(data.remarks)
    at = stated_plane(content) if plane is None else Plane(plane)
    if at is None:
        at = Plane.CONNECTOR
        remarks.append(
            "The file does not say at which plane it holds; the connector is assumed. Say "
            "otherwise with --plane."
        )
    source = Source("file", plain(file.name), "", plain(file))
    reading = data.reading
    trust = interval(
        budget_of_file(reading.frequency_hz, Assumptions(load_db=load_db)), reading.reflection
    )
    if load_db is None:
        remarks.append(
            f"Nothing is known of the file's calibration: a load of {DEFAULT_LOAD_DB:g} dB of "
            "unknown phase is assumed. Say better with --load-db."
        )
    verdict = judge(load_plan(plan), reading, at, source, trust=trust)
    end_with(verdict, as_json=as_json, remarks=remarks)


def stated_plane(content: bytes) -> Plane | None:
    """Return the plane that a file's comments name, as this program writes them; else None."""
    from acquire.sweep import Plane

    for line in content.splitlines():
        if line.lstrip().startswith(b"!"):
            key, _, value = line.lstrip(b" \t!").decode("latin-1").partition(":")
            if key.strip() == "plane" and value.strip() in list(Plane):
                return Plane(value.strip())
    return None
