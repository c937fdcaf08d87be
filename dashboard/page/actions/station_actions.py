"""The table of what a helper may do at a station. Nothing else is done for its page: plan, kit,
recipe and limits are as whoever set it up left them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from dashboard.access.sharing import Sharing
from dashboard.bench.composed_bench import Bench
from dashboard.bench.parts.station import BenchStation
from dashboard.errors import NotNowError
from dashboard.page.actions.action import MAYBE_YES, TEXT, Action, ActionRequest, Outcome
from dashboard.page.actions.action import perform as perform_of
from dashboard.page.actions.table import ACTIONS

HANDS = ("screw on", "lay", "bend", "grip", "transmit nearby", "fetch antenna", "surround")
"""Of the virtual bench, to practise at a station; at a real port they are refused."""


def _station(bench: Bench) -> BenchStation:
    if bench.station is None:
        raise NotNowError("This bench is no station. Start it with --station.")
    return bench.station


def _take(bench: Bench, serial: str, again: bool | None) -> None:
    _station(bench).take_serial(serial, again=bool(again))


STATION_TABLE: tuple[Action, ...] = (
    Action(
        name="station next",
        keys=(" ", "PageDown"),
        shown_keys="Space",
        help="go on (a foot switch or a slide remote works too)",
        does=lambda bench: _station(bench).next(),
    ),
    Action(
        name="station serial",
        takes={"serial": TEXT, "again": MAYBE_YES},
        does=_take,
    ),
    Action(name="station drop", does=lambda bench: _station(bench).drop_serial()),
    Action(name="station finish", does=lambda bench: _station(bench).finish()),
    Action(name="station go on", does=lambda bench: _station(bench).go_on()),
    *(ACTIONS[name] for name in HANDS),
)
STATION_ACTIONS: Mapping[str, Action] = {each.name: each for each in STATION_TABLE}


def perform(
    bench: Bench,
    request: ActionRequest,
    sharing: Sharing | None = None,
    *,
    role: Callable[[], str] = lambda: "bench",
) -> Outcome:
    """Do what was asked for at a station; see `dashboard.page.actions.action.perform`."""
    return perform_of(STATION_ACTIONS, bench, request, sharing, role=role)
