"""`check`: the verdict on any Touchstone file, without hardware."""

from __future__ import annotations

from typing import Annotated

import typer

from acceptance.errors import PlanError
from acceptance.plan.load import load_plan
from acceptance.tuning.dips import find_dips
from acceptance.tuning.unserved_dips import unserved_dips
from acceptance.verdict.judged_sweep import corrected_file
from acquire.sweep import Plane
from calibration.errors import PlaneError
from calibration.files.store import load_plane
from calibration.plane.reference_plane import CONNECTOR
from dashboard.command_line.options import AssumptionOptions, Json, PlanFile
from dashboard.command_line.touchstone_input import PlaneName, TouchstonePath, read_named
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
            help="Reference plane of the file's data: raw, connector or antenna. Default: what the "
            'file\'s own "! plane:" comment says, or else the connector. Or the cable between '
            "connector and feed that is to be removed: a .toml file that `cable` wrote, or "
            'KEY=VALUE, such as "cable=ptfe-2.5mm length_mm=182".',
        ),
    ] = None,
    assumed: AssumptionOptions,
    as_json: Json = False,
) -> None:
    """Judge a Touchstone file against a plan.

    Needs no hardware.
    """
    named = PlaneName(plane) if plane in list(PlaneName) else None
    data = read_named(file, named)
    if plan is None:
        raise PlanError(
            f"{file.name} can be read, but there is no plan to judge it by: name one with --plan. "
            "`bandwright bands --region europe --write plan.toml` writes one to start from."
        )
    wanted = CONNECTOR
    if plane is not None and named is None:
        wanted = load_plane(plane)
    if wanted.between is not None and data.plane is not Plane.CONNECTOR:
        raise PlaneError(
            f"{file.name} says that it holds at the {data.plane} plane, and only a reading at the "
            "connector can be moved to the feed. Take the file of the corrected sweep."
        )
    found = corrected_file(
        data.reading, assumed.assumptions, data.plane, data.source, data.doubts
    ).judged(wanted, load_plan(plan))
    dips = find_dips(found.reading.frequency_hz, found.reading.reflection, found.noise)
    remarks = (*data.remarks, *unserved_dips(found.decided.bands, dips))
    end_with(found.decided, as_json=as_json, remarks=remarks)
