"""Benches ready to start: over a real port, a recording or a virtual analyzer."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.recipe import NO_RECIPE, Recipe
from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import Profile, load_profiles
from acquire.analyzer.reconnection import Reopening
from acquire.clock import Clock, SystemClock
from acquire.errors import PortError
from acquire.port.port_list import Listing, list_ports
from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.files.store import load_kit
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions
from dashboard.acceptance_run.station_file import Station
from dashboard.bench.composed_bench import Bench
from dashboard.files import user_folders
from dashboard.files.named_cable import cable_name, calibration_of
from dashboard.sweeping.analyzer_ports import AnalyzerPorts, Interruption, Practice
from dashboard.sweeping.connection import recorded, scheme_of
from replay.address_schemes import make_with_pigtail, openers
from replay.bench_profile import profiles_at
from replay.virtual_bench.simulated_bench import VirtualBench

DEMO_KIT = "3.5mm-plug-50"


def live_bench(
    address: str | None,
    *,
    plan: Plan | None = None,
    kit: Kit | None = None,
    profile: Profile | None = None,
    profiles: Mapping[str, Profile] | None = None,
    calibration: Path | None = None,
    cable: str = "",
    record: Path | None = None,
    records_folder: Path | None = None,
    calibrations_folder: Path | None = None,
    step_khz: float | None = None,
    assumptions: Assumptions | None = None,
    recipe: Recipe = NO_RECIPE,
    plane: PlaneText = NOT_MOVED,
    learned_folder: Path | None = None,
    check_pieces_folder: Path | None = None,
    recent_folder: Path | None = None,
    station: Station | None = None,
    clock: Clock | None = None,
    practice: Practice | None = None,
    listing: Listing = list_ports,
) -> Bench:
    """Return a bench over the analyzer at an address; nothing is opened before its `start`.

    address : a port, any pyserial URL, "virtual:..." or "replay:FILE"; None is chosen on the page.
    kit : the standards at hand; without one it is to be chosen on the page, but for a virtual
        analyzer's, which are known.
    profile : how the analyzer talks; without one each of `profiles` is tried, or those shipped.
    plane : what lies between the connector and the antenna's feed, if that is to be undone.
    recipe : what can be changed on the antenna. learned_folder : where what is learned of its
        dimensions is kept; None keeps nothing.
    check_pieces_folder : where readings of the check piece are kept; without it, in the user's own.
    recent_folder : where what is used is remembered, to be offered again; None keeps nothing.
    station : what locks the bench to a station for helpers: its plan, kit, recipe and records.
    assumptions : what is taken to be so where nothing was measured; the load as stated.
    calibration : the file of one made before. cable : the test cable in use, by its name, if it has
        one. record : a new file for every byte; each
        connection after the first gets one of its own, numbered.
    practice : the virtual analyzer that the page offers beside the ports; None lets no other port
        be chosen there. listing : where the ports come from.
    Raises BandwrightError where a virtual analyzer's address, a kit, a profile or the calibration
    cannot be used.
    """
    clock = SystemClock() if clock is None else clock
    if station is not None:
        plan, kit, recipe = station.plan, station.kit, station.recipe
        records_folder = station.records
    given = address or ""
    is_virtual = scheme_of(given) == "virtual"
    virtual = VirtualBench(clock, kit=DEMO_KIT) if is_virtual else None
    if virtual is not None:
        make_with_pigtail(
            given, virtual
        )  # what no analyzer can be is refused before a page is served
    if kit is None and is_virtual:
        kit = load_kit(DEMO_KIT, user_folders.kits())
    assumed = Assumptions() if assumptions is None else assumptions
    if station is not None and station.load_db is not None:
        assumed = replace(assumed, load_db=station.load_db)
    if assumed.load_db is None and virtual is not None:
        assumed = replace(assumed, load_db=virtual.load_return_loss_db)
    stopping = threading.Event()
    profiles = load_profiles() if profiles is None else profiles
    ports = None
    if practice is not None:
        ports = AnalyzerPorts(
            profile=profile,
            profiles=profiles,
            practice=practice,
            given=given,
            virtual=virtual,
            record=record,
            clock=clock,
            stopping=stopping,
            listing=listing,
        )
    connect: Callable[[], Analyzer] = _no_port
    interruption = Interruption(stopping)
    if given:
        connect = Reopening(
            given,
            profile=profile,
            profiles=profiles_at(given, profiles),
            openers=recorded(given, record, openers(virtual, clock), clock),
            clock=clock,
            interrupted=interruption,
            listing=listing,
        )
    return Bench(
        connect,
        address=given,
        leave_analyzer=interruption.set,
        ports=ports,
        kit=kit,
        plan=plan,
        calibration=None if calibration is None else calibration_of(calibration, cable),
        cable=cable_name(cable),
        calibration_path=calibration,
        calibrations_folder=calibrations_folder or user_folders.calibrations(),
        records_folder=records_folder or user_folders.records(),
        step_khz=step_khz,
        assumptions=assumed,
        recipe=recipe,
        plane=plane,
        learned_folder=learned_folder,
        check_pieces_folder=check_pieces_folder or user_folders.check_pieces(invented=is_virtual),
        clock=clock,
        virtual_bench=virtual,
        stopping=stopping,
        recent_folder=recent_folder,
        station=station,
    )


def _no_port() -> Analyzer:
    """What is opened while no port is chosen."""
    raise PortError("No port is chosen yet. Choose one on the page.")
