"""`live` and `demo`: the page, over an analyzer or over the virtual bench."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from acceptance.bands.load import load_bands
from acceptance.plan.load import load_plan, load_recipe
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import NO_RECIPE
from calibration.files.store import load_kit
from calibration.uncertainty.budget import Assumptions
from dashboard.acceptance_run.station_file import load_station
from dashboard.bench.composed_bench import Bench
from dashboard.bench.make_bench import live_bench
from dashboard.command_line.analyzer_options import PageAnalyzerOptions
from dashboard.command_line.options import (
    AssumptionOptions,
    CalibrationFile,
    PlaneOption,
    PlanFile,
    clock_of,
)
from dashboard.demo import scenario
from dashboard.demo.demo_bench import demo_bench, practice
from dashboard.errors import SetupError
from dashboard.files import user_folders
from dashboard.files.new_file import require_new
from dashboard.files.plane_option import plane_text_of_option
from dashboard.server.page_server import Share, serve
from dashboard.terminal.output import say

HOST_NAME = re.compile(r"[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?")


@dataclass(frozen=True, slots=True)
class PageOptions:
    """Where the page is served, and with whom it is shared."""

    page_port: Annotated[
        int,
        typer.Option(
            "--page-port",
            metavar="N",
            min=0,
            max=65535,
            help="The page's own port on this machine; 0 takes any free one.",
        ),
    ] = 8765
    no_open: Annotated[
        bool, typer.Option("--no-open", help="Do not open the browser; the address is printed.")
    ] = False
    share: Annotated[
        bool,
        typer.Option(
            "--share", help="Let others on the network look at the page, by a one-time code on it."
        ),
    ] = False
    share_certificate: Annotated[
        Path | None,
        typer.Option(
            "--share-certificate",
            metavar="FILE",
            help="Share by TLS, with this certificate (PEM). Without it the network can read "
            "along.",
        ),
    ] = None
    share_key: Annotated[
        Path | None,
        typer.Option(
            "--share-key",
            metavar="FILE",
            help="The certificate's private key (PEM, no passphrase), where it has a file of its "
            "own.",
        ),
    ] = None
    share_name: Annotated[
        str | None,
        typer.Option(
            "--share-name",
            metavar="NAME",
            help="What others call this machine by, as in the certificate; else its address.",
        ),
    ] = None

    @property
    def sharing(self) -> Share | None:
        """How the page is shared; None where it is not.

        Raises SetupError for options without a use.
        """
        certified = self.share_certificate is not None
        for given, option, needs, there in (
            (self.share_certificate, "--share-certificate", "--share", self.share),
            (self.share_name, "--share-name", "--share", self.share),
            (self.share_key, "--share-key", "--share-certificate", certified),
        ):
            if given is not None and not there:
                raise SetupError(f"{option} has no use without {needs}. Give both, or neither.")
        name = self.share_name
        if name is not None and not HOST_NAME.fullmatch(name):
            raise SetupError(f"{name!r} is no name of a machine. Write it as in gauges.example.")
        return Share(self.share_certificate, self.share_key, name or "") if self.share else None

    def serve(self, bench: Bench, sharing: Share | None) -> None:
        """Serve the page over a bench, until it is stopped."""
        serve(
            bench,
            page_port=self.page_port,
            open_browser=not self.no_open,
            share=sharing,
            say=say,
        )


def live(
    *,
    plan: PlanFile = None,
    calibration: CalibrationFile = None,
    cable: Annotated[
        str,
        typer.Option(
            "--cable",
            metavar="NAME",
            help="The test cable in use, by the name you give it. Calibrations made on the page "
            "belong to it; the calibration of another cable is refused.",
        ),
    ] = "",
    kit: Annotated[
        str | None,
        typer.Option(
            "--kit",
            metavar="NAME",
            help="What your standards are: a kit's name, or the path of a kit file of your own. "
            "It can be chosen on the page too.",
        ),
    ] = None,
    recipe: Annotated[
        Path | None,
        typer.Option(
            "--recipe",
            metavar="FILE",
            help="What can be changed on the antenna: the page then says which way and how much.",
        ),
    ] = None,
    assumed: AssumptionOptions,
    analyzer: PageAnalyzerOptions,
    plane: PlaneOption = None,
    station: Annotated[
        Path | None,
        typer.Option(
            "--station",
            metavar="FILE",
            help="A station for helpers: plan, kit, recipe and limits as this file says, one word "
            "for each antenna.",
        ),
    ] = None,
    page: PageOptions,
) -> None:
    """Open the page for your analyzer: calibrate, tune, accept.

    Without --port the page lists the ports, and you choose one there. Connect nothing that
    transmits, and no DC, to the analyzer: disconnect the modem first.
    """
    sharing = page.sharing
    require_new(analyzer.record)
    locked = None
    if station is not None:
        require_locked(
            station.name,
            {
                "--plan": plan is not None,
                "--kit": kit is not None,
                "--recipe": recipe is not None,
                "--plane": plane is not None,
                "--share": sharing is not None,
                "--load-db and --assume": assumed.assumptions != Assumptions(),
            },
        )
        locked = load_station(station)
    bench = live_bench(
        analyzer.port,
        plan=None if plan is None else load_plan(plan),
        kit=None if kit is None else load_kit(kit, user_folders.kits()),
        profile=analyzer.named_profile,
        calibration=calibration,
        cable=cable,
        record=analyzer.record,
        step_khz=analyzer.step_khz,
        assumptions=assumed.assumptions,
        recipe=NO_RECIPE if recipe is None else load_recipe(recipe),
        plane=plane_text_of_option(plane),
        learned_folder=user_folders.learned(),
        recent_folder=user_folders.recent(),
        station=locked,
        clock=analyzer.clock,
        practice=practice(),
    )
    page.serve(bench, sharing)


def require_locked(station: str, given: Mapping[str, bool]) -> None:
    """Raise SetupError where an option would change what a station locks.

    given : which of them were, by their names.
    """
    for option, was in given.items():
        if was:
            raise SetupError(
                f"{option} cannot stand beside --station: helpers work by {station} alone. Leave "
                "it out, or change that file."
            )


def demo(
    context: typer.Context,
    *,
    page: PageOptions,
) -> None:
    """Open the page with a virtual bench; no hardware needed."""
    sharing = page.sharing
    say("The virtual bench: analyzer, standards and antenna are simulated, all data is invented.")
    bench = demo_bench(
        parse_plan(scenario.PLAN, scenario.PLAN_NAME, load_bands()),
        records_folder=user_folders.practice() / "records",
        calibrations_folder=user_folders.practice() / "calibrations",
        learned_folder=user_folders.practice() / "learned",
        recent_folder=user_folders.recent(invented=True),
        clock=clock_of(context),
    )
    page.serve(bench, sharing)
