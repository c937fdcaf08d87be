"""What a person may do to read off: plots, markers, zoom, held traces."""

from __future__ import annotations

from dashboard.page.actions.action import MAYBE_TEXT, TEXT, WHOLE, Action

METRICS = "plot return loss, VSWR, impedance or the Smith chart"
ZOOM = "zoom in, zoom out, show the whole range"

HOLD_KEYS: tuple[Action, ...] = (
    Action(
        name="hold",
        keys=("h",),
        help="hold the trace",
        takes={"name": MAYBE_TEXT},
        does=lambda bench, name: bench.holds.hold(name or ""),
    ),
    Action(
        name="undo hold",
        keys=("u",),
        help="undo the last hold",
        does=lambda bench: bench.holds.undo(),
    ),
)
PLOT_KEYS: tuple[Action, ...] = (
    Action(name="plot loss", whose="page", keys=("r",), help=METRICS),
    Action(name="plot vswr", whose="page", keys=("v",), help=METRICS),
    Action(name="plot impedance", whose="page", keys=("z",), help=METRICS),
    Action(name="plot smith", whose="page", keys=("s",), help=METRICS),
    Action(
        name="set marker",
        whose="page",
        keys=("k",),
        help="set a marker at the pointer or arrow-key position, or at the worst point",
    ),
    Action(name="zoom in", whose="page", keys=("+",), help=ZOOM),
    Action(name="zoom out", whose="page", keys=("-",), help=ZOOM),
    Action(name="show all", whose="page", keys=("0",), help=ZOOM),
    Action(name="services", whose="page", keys=("o",), help="show other services on the overview"),
)
HOLD_CHOICES: tuple[Action, ...] = (
    Action(
        name="show hold",
        takes={"hold": WHOLE},
        does=lambda bench, hold: bench.holds.show(hold),
    ),
    Action(
        name="hide hold",
        takes={"hold": WHOLE},
        does=lambda bench, hold: bench.holds.hide(hold),
    ),
    Action(
        name="rename hold",
        takes={"hold": WHOLE, "name": TEXT},
        does=lambda bench, hold, name: bench.holds.rename(hold, name),
    ),
    Action(
        name="remove hold",
        takes={"hold": WHOLE},
        does=lambda bench, hold: bench.holds.remove(hold),
    ),
)
