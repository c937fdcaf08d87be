"""`check`: the verdict on any Touchstone file, without hardware."""

from __future__ import annotations

from typing import Annotated

import typer

from acceptance.errors import PlanError
from acceptance.plan.load import load_plan
from acceptance.verdict.plan_verdict import judge
from acquire.printable_text import plain
from acquire.sweep import Plane, Source
from calibration.calibration_budget import budget_of_file
from calibration.errors import PlaneError
from calibration.files.store import load_plane
from calibration.plane.reference_plane import CONNECTOR
from calibration.uncertainty.budget import DEFAULT_LOAD_DB
from calibration.uncertainty.interval import interval
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
    budget = budget_of_file(data.reading.frequency_hz, assumed.assumptions)
    there = wanted.move(data.reading, budget)
    trust = interval(there.budget, there.reading.reflection)
    if there.undone is not None:
        at = wanted.plane
    if assumed.load_db is None:
        remarks.append(
            f"Nothing is known of the file's calibration: a load of {DEFAULT_LOAD_DB:g} dB of "
            "unknown phase is assumed. Say better with --load-db."
        )
    verdict = judge(load_plan(plan), there.reading, at, source, trust=trust, undone=there.undone)
    end_with(verdict, as_json=as_json, remarks=remarks)
