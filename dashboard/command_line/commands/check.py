"""`check`: the verdict on any Touchstone file, without hardware."""

from __future__ import annotations

from typing import Annotated

import typer

from acceptance.errors import PlanError
from acceptance.plan.load import load_plan
from acceptance.tuning.dips import find_dips
from acceptance.tuning.unserved_dips import unserved_dips
from acceptance.verdict.judged_sweep import corrected_file
from acquire.printable_text import plain
from acquire.sweep import Plane, Source
from calibration.errors import PlaneError
from calibration.files.store import load_plane
from calibration.plane.reference_plane import CONNECTOR
from calibration.uncertainty.budget import DEFAULT_LOAD_DB
from dashboard.command_line.options import AssumptionOptions, Json, PlanFile
from dashboard.command_line.touchstone_input import PlaneName, TouchstonePath, plane_of, read_file
from dashboard.command_line.verdict_ending import end_with


def check(
    file: TouchstonePath,
    *,
    plan: PlanFile = None,
    plane: Annotated[
        str | None,
        typer.Option(
            "--plane",
            metavar="PLANE",
            help="Where along the cable the file's data holds: raw, connector or antenna. Without "
            'it, what the file\'s own "! plane:" comment says, else the connector. Or what lies '
            "between the connector and the feed, to be undone: a .toml file that `cable` wrote, or "
            'KEY=VALUE such as "cable=ptfe-2.5mm length_mm=182".',
        ),
    ] = None,
    assumed: AssumptionOptions,
    as_json: Json = False,
) -> None:
    """Judge a Touchstone file against a plan. Needs no hardware."""
    content, data = read_file(file)
    if plan is None:
        raise PlanError(
            f"{file.name} can be read, but there is no plan to judge it by: name one with --plan. "
            "`bandwright bands --region europe --write plan.toml` writes one to start from."
        )
    named = PlaneName(plane) if plane in list(PlaneName) else None
    at, remarks = plane_of(content, data, named)
    wanted = CONNECTOR
    if plane is not None and named is None:
        wanted = load_plane(plane)
    if wanted.between is not None and at is not Plane.CONNECTOR:
        raise PlaneError(
            f"{file.name} says that it holds at the {at} plane, and only a reading at the "
            "connector can be moved to the feed. Take the file of the corrected sweep."
        )
    source = Source("file", plain(file.name), "", plain(file))
    found = corrected_file(data.reading, assumed.assumptions, at, source).judged(
        wanted, load_plan(plan)
    )
    reading = found.reading
    dips = find_dips(reading.frequency_hz, reading.reflection, found.noise)
    remarks += unserved_dips(found.decided.bands, dips)
    if assumed.load_db is None:
        remarks.append(
            f"Nothing is known of the file's calibration: a load of {DEFAULT_LOAD_DB:g} dB of "
            "unknown phase is assumed. Say better with --load-db."
        )
    end_with(found.decided, as_json=as_json, remarks=remarks)
