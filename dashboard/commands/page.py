"""`live` and `demo`: the page, over a unit or over the virtual bench."""

from __future__ import annotations

from typing import Annotated

import typer

from dashboard.commands.options import (
    CalibrationFile,
    LoadDb,
    PlanFile,
    Port,
    ProfileName,
    Record,
    StepKhz,
    clock_of,
)

PagePort = Annotated[
    int,
    typer.Option(
        "--page-port",
        metavar="N",
        min=0,
        max=65535,
        help="The page's own port on this machine; 0 takes any free one.",
    ),
]
NoOpen = Annotated[
    bool, typer.Option("--no-open", help="Do not open the browser; the address is printed.")
]
PAGE_PORT = 8765


def live(
    context: typer.Context,
    *,
    port: Port,
    plan: PlanFile = None,
    calibration: CalibrationFile = None,
    kit: Annotated[
        str | None,
        typer.Option(
            "--kit",
            metavar="NAME",
            help="What your standards are: a kit's name, or the path of a kit file of your own. "
            "It can be chosen on the page too.",
        ),
    ] = None,
    load_db: LoadDb = None,
    profile: ProfileName = None,
    step_khz: StepKhz = None,
    record: Record = None,
    page_port: PagePort = PAGE_PORT,
    no_open: NoOpen = False,
) -> None:
    """Open the page over your unit: calibrate, bend, accept.

    Nothing that transmits and no DC on the unit's port: disconnect the modem first.
    """
    from acceptance.store import load_plan
    from acquire.profile import load_profiles
    from calibration.store import load_kit
    from dashboard import folders
    from dashboard.benches import live_bench
    from dashboard.server import serve
    from dashboard.terminal import say
    from dashboard.unit import chosen, require_new

    require_new(record)
    profiles = load_profiles(folders.profiles())
    bench = live_bench(
        port,
        plan=None if plan is None else load_plan(plan),
        kit=None if kit is None else load_kit(kit, folders.kits()),
        profile=chosen(profile, profiles),
        profiles=profiles,
        calibration=calibration,
        record=record,
        step_hz=None if step_khz is None else step_khz * 1e3,
        load_db=load_db,
        clock=clock_of(context),
    )
    serve(bench, page_port=page_port, open_browser=not no_open, say=say)


def demo(
    context: typer.Context,
    *,
    page_port: PagePort = PAGE_PORT,
    no_open: NoOpen = False,
) -> None:
    """Open the page over the virtual bench. No hardware needed; all data is invented."""
    from acceptance.plan import parse_plan
    from acceptance.store import load_bands
    from dashboard import folders, scenario
    from dashboard.benches import demo_bench
    from dashboard.server import serve
    from dashboard.terminal import say

    say("The virtual bench: unit, standards and antenna are simulated, all data is invented.")
    bench = demo_bench(
        parse_plan(scenario.PLAN, scenario.PLAN_NAME, load_bands()),
        records_folder=folders.practice() / "records",
        calibrations_folder=folders.practice() / "calibrations",
        clock=clock_of(context),
    )
    serve(bench, page_port=page_port, open_browser=not no_open, say=say)
