"""The table of what a person may do on the page, in the order of the list of keys.

Buttons, keys, the foot switch, the forms and the list of keys are all made from it: a button takes
its key and what it asks for from here (`dashboard.page.html_attributes`), the served page carries
both, and its script has no table of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import groupby
from typing import Any

from acceptance.plan.size_names import require_size_name
from acceptance.record.conditions import words_of
from calibration.files.line_file import parse_typed_line
from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.files.store import list_kits, load_cable_types
from calibration.guided.verification_session import RemeasureStandard, RepeatConnection
from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.access.sharing import Sharing
from dashboard.bench.composed_bench import Bench
from dashboard.errors import NotNowError, PutBackWantedError
from dashboard.files import user_folders
from dashboard.files.kept_check_piece import USUAL_NAME
from dashboard.page.actions.action import (
    MAYBE_NUMBER,
    MAYBE_TEXT,
    MAYBE_YES,
    NUMBER,
    TEXT,
    WHOLE,
    YES,
    Action,
    ActionRequest,
    Outcome,
    Take,
)
from dashboard.page.actions.action import perform as perform_of
from dashboard.page.actions.reading_actions import HOLD_CHOICES, HOLD_KEYS, PLOT_KEYS
from dashboard.page.checks_panel import certified, costs_table, mismatch, piece_panel, second_load
from dashboard.page.plan_form import read_plan
from dashboard.page.plane_form import typed_of
from dashboard.page.recent_list import use_calibration, use_recipe

VIEWS = "show the bench, read, calibrate, accept or wall view"


def _report_change(bench: Bench, dimension: str, mm: float | None) -> str:
    return f"Noted: {bench.tuning.report_change(dimension, mm)}."


def _use_kit(bench: Bench, kit: str) -> str:
    # By its name alone: a path from a page would have this machine read any file.
    chosen = list_kits(user_folders.kits()).get(kit)
    if chosen is None:
        raise NotNowError("This kit is no longer in its folder. Reload the page.")
    bench.calibration.use_kit(chosen)
    return f"The next calibration uses the kit {chosen.label}."


def _name_cable(bench: Bench, cable: str | None) -> str:
    bench.calibration.name_cable(cable or "")
    if not (cable or "").strip():
        return "The next calibration names no test cable."
    return f'The next calibration is for the test cable "{cable}".'


def _state_load(bench: Bench, decibels: float | None, source: str | None) -> str:
    named = (source or "").strip() if decibels is not None else ""
    bench.calibration.state_load(decibels, named)
    if decibels is None:
        return "The load is as the kit states. If the kit states nothing, 26 dB is assumed."
    return f"The load has a return loss of {decibels:g} dB, as {named or 'its maker'} states."


def _check_piece(bench: Bench, piece: str | None, decibels: float | None) -> Outcome:
    found, readings = bench.check_piece.measure(piece or USUAL_NAME, decibels)
    return Outcome("done", found.words, made=piece_panel(found, readings))


def _work_out_costs(bench: Bench) -> Outcome:
    now = bench.snapshot()
    if now.budget is None or now.plan is None:
        raise NotNowError("Calibrate, choose a plan and wait for a sweep first.")
    return Outcome("done", made=costs_table(now.budget, now.plan))


def _use_plan(bench: Bench, text: str | None) -> Outcome:
    plan = read_plan(text or "")
    bench.use_plan(plan)
    return Outcome("done", f"The plan {plan.name} is in use.", closes="plan")


def _use_plane(bench: Bench, declared: PlaneText) -> Outcome:
    bench.plane.use(declared)
    plane = bench.snapshot().plane
    if plane.problem:
        raise NotNowError(f"The plane cannot be there. {plane.problem}")
    return Outcome("done", f"Verdicts now apply {plane.words}.", closes="plane")


def _sweep_condition(bench: Bench, condition: str, **form: Any) -> str:
    words = bench.acceptance.sweep_condition(condition, _antenna_details(**form))
    return f"Swept and kept: {words_of(condition).label}, {words}."


def _sign_off(bench: Bench, **form: Any) -> Outcome:
    details = _antenna_details(**form)
    try:
        signed = bench.acceptance.sign_off(details)
    except PutBackWantedError as wanted:
        return Outcome("done", str(wanted))
    files = sorted(path.name for path in signed.path.iterdir())
    shown = [each.words for each in signed.examined.checks[-1:]]
    return Outcome(
        "done",
        " ".join([f"The record of {details.antenna} is written: {signed.examined.words}.", *shown]),
        made=(signed, details.antenna, files),
    )


def _antenna_details(
    antenna: str | None,
    operator: str | None,
    note: str | None,
    along: str | None,
    sizes: Mapping[str, float],
) -> AntennaDetails:
    """What the acceptance's form says of the antenna. Raises RecipeError, FaultError."""
    for name in sizes:
        require_size_name(name)
    line = parse_typed_line(along, load_cable_types()) if along else None
    return AntennaDetails(antenna or "", operator or "", note or "", sizes_mm=sizes, line=line)


def _sizes(given: Mapping[str, Any]) -> dict[str, float]:
    """Finished sizes, mm, by name; one that was left out is not measured."""
    return {str(name): float(size) for name, size in dict(given).items() if size is not None}


def _lend(sharing: Sharing, viewer: int) -> str:
    return f"{sharing.lend(viewer)} now has control. You can take it back at any time."


def _take_back(sharing: Sharing) -> str:
    sharing.take_back()
    return "Control is back on the bench."


def _stop(sharing: Sharing) -> str:
    sharing.stop()
    return "Sharing has stopped, and every viewer is disconnected."


def _again(sharing: Sharing) -> str:
    sharing.again()
    return "Sharing has started again with a new code."


FORM: Mapping[str, Take] = {
    "antenna": MAYBE_TEXT,
    "operator": MAYBE_TEXT,
    "note": MAYBE_TEXT,
    "along": MAYBE_TEXT,
    "sizes": Take(_sizes),
}
"""What the acceptance's form says."""

TABLE: tuple[Action, ...] = (
    Action(
        name="next step",
        whose="page",
        keys=("n", "PageDown"),
        help="go to the next step (a foot switch or slide remote works too)",
    ),
    *HOLD_KEYS,
    Action(name="view bench", whose="page", keys=("b",), help=VIEWS),
    Action(name="view read", whose="page", keys=("i",), help=VIEWS),
    Action(name="view calibrate", whose="page", keys=("c",), help=VIEWS),
    Action(name="view accept", whose="page", keys=("a",), help=VIEWS),
    Action(name="view wall", whose="page", keys=("w",), help=VIEWS),
    Action(
        name="report change",
        keys=tuple("123456789"),
        shown_keys="1 to 8",
        help="I did it: 1 shortened the first dimension, 2 lengthened it; 3 and 4 the second, ...",
        while_shown="done",
        takes={"dimension": TEXT, "mm": NUMBER},
        does=_report_change,
    ),
    Action(
        name="just bent",
        keys=("d",),
        help="I bent it (amount unknown)",
        does=lambda bench: _report_change(bench, "", None),
    ),
    Action(
        name="undo change",
        keys=("l",),
        help="undo my last report",
        does=lambda bench: f"Taken back: {bench.tuning.undo()}.",
    ),
    Action(
        name="touch test",
        keys=("g",),
        help="touch test: is the cable part of the antenna? Press g again or Esc to cancel",
        does=lambda bench: bench.touch_test.begin(),
    ),
    Action(
        name="tone",
        whose="page",
        keys=("m",),
        help="turn the tone on or off: higher means nearer to passing; silent once all bands pass",
    ),
    *PLOT_KEYS,
    Action(
        name="open save",
        whose="page",
        keys=("f",),
        help="save the screen as a picture or as numbers",
    ),
    Action(
        name="open plane",
        whose="page",
        keys=("e",),
        help="set the reference plane: end of the calibrated cable or antenna feed",
    ),
    Action(name="open plan", whose="page", keys=("p",), help="choose the plan: bands and limits"),
    Action(name="theme", whose="page", keys=("t",), help="switch between light and dark"),
    Action(name="open help", whose="page", keys=("F1",), help="show help on this view"),
    Action(name="open keys", whose="page", keys=("?",), help="show this list"),
    Action(
        name="leave touch",
        keys=("Escape",),
        shown_keys="Esc",
        help="close or cancel",
        while_shown="leave-touch",
        rather="leave-wall",
        does=lambda bench: bench.touch_test.leave(),
    ),
    Action(name="touch next", does=lambda bench: bench.touch_test.next()),
    Action(name="forget touch", does=lambda bench: bench.acceptance.forget_touch_test()),
    *HOLD_CHOICES,
    Action(
        name="identify port",
        whose="bench",
        takes={"address": TEXT},
        does=lambda bench, address: bench.port.ask(address),
    ),
    Action(
        name="use port",
        whose="bench",
        takes={"address": TEXT, "sure": MAYBE_YES},
        does=lambda bench, address, sure: bench.port.use(address, sure=bool(sure)),
    ),
    Action(name="use kit", takes={"kit": TEXT}, does=_use_kit),
    Action(name="name cable", takes={"cable": MAYBE_TEXT}, does=_name_cable),
    Action(
        name="state load",
        takes={"decibels": MAYBE_NUMBER, "source": MAYBE_TEXT},
        does=_state_load,
    ),
    Action(name="calibrate", does=lambda bench: bench.calibration.begin()),
    Action(name="standard is on", does=lambda bench: bench.calibration.standard_is_on()),
    Action(
        name="redo",
        takes={"standard": TEXT},
        does=lambda bench, standard: bench.calibration.redo(standard),
    ),
    Action(name="skip standard", does=lambda bench: bench.calibration.skip()),
    Action(name="leave calibration", does=lambda bench: bench.calibration.leave()),
    Action(
        name="put back",
        takes={"standard": TEXT},
        does=lambda bench, standard: bench.calibration.begin_check(RemeasureStandard(standard)),
    ),
    Action(
        name="remake",
        takes={"standard": TEXT},
        does=lambda bench, standard: bench.calibration.begin_check(RepeatConnection(standard)),
    ),
    Action(
        name="check load",
        takes={"decibels": MAYBE_NUMBER, "another": MAYBE_YES},
        does=lambda bench, decibels, another: bench.calibration.begin_check(
            second_load(decibels, another)
        ),
    ),
    Action(
        name="check mismatch",
        takes={"vswr": MAYBE_NUMBER, "tolerance": MAYBE_NUMBER},
        does=lambda bench, vswr, tolerance: bench.calibration.begin_check(
            mismatch(vswr, tolerance)
        ),
    ),
    Action(
        name="check certificate",
        takes={"file": MAYBE_TEXT, "content": MAYBE_TEXT, "error": MAYBE_NUMBER},
        does=lambda bench, file, content, error: bench.calibration.begin_check(
            certified(file, content, error)
        ),
    ),
    Action(
        name="check piece",
        takes={"piece": MAYBE_TEXT, "decibels": MAYBE_NUMBER},
        does=_check_piece,
    ),
    Action(name="work out costs", does=_work_out_costs),
    Action(name="use plan", takes={"text": MAYBE_TEXT}, does=_use_plan),
    Action(name="use recipe", takes={"recipe": TEXT}, does=use_recipe),
    Action(name="use calibration", takes={"calibration": TEXT}, does=use_calibration),
    Action(
        name="use plane",
        takes={
            "cable": MAYBE_TEXT,
            "length_mm": MAYBE_NUMBER,
            "velocity_factor": MAYBE_NUMBER,
            "loss_db": MAYBE_NUMBER,
            "loss_at_mhz": MAYBE_NUMBER,
        },
        does=lambda bench, **figures: _use_plane(bench, typed_of(**figures)),
    ),
    Action(name="use connector", does=lambda bench: _use_plane(bench, NOT_MOVED)),
    Action(name="pigtail open", does=lambda bench: bench.plane.take_end("open")),
    Action(name="pigtail short", does=lambda bench: bench.plane.take_end("short")),
    Action(name="bare pigtail", does=lambda bench: bench.plane.use_ends("bare")),
    Action(name="kit's pigtail", does=lambda bench: bench.plane.use_ends("kit")),
    Action(name="sweep condition", takes={"condition": TEXT, **FORM}, does=_sweep_condition),
    Action(name="sign off", takes=FORM, does=_sign_off),
    Action(name="check batch", does=lambda bench: bench.acceptance.check_batch()),
    Action(
        name="throw unfinished away",
        does=lambda bench: bench.acceptance.throw_unfinished_away(),
    ),
    Action(
        name="screw on",
        takes={"name": TEXT},
        does=lambda bench, name: bench.hands.screw_on(name),
    ),
    Action(
        name="lay",
        takes={"pigtail": TEXT},
        does=lambda bench, pigtail: bench.hands.lay(pigtail),
    ),
    Action(
        name="bend",
        takes={"dimension": TEXT, "mm": NUMBER},
        does=lambda bench, dimension, mm: bench.hands.bend(dimension, mm),
    ),
    Action(
        name="grip",
        takes={"gripped": YES},
        does=lambda bench, gripped: bench.hands.grip(gripped=gripped),
    ),
    Action(
        name="fetch antenna",
        takes={"antenna": TEXT},
        does=lambda bench, antenna: bench.hands.fetch(antenna),
    ),
    Action(
        name="surround",
        takes={"enclosed": MAYBE_YES, "wet": MAYBE_YES},
        does=lambda bench, enclosed, wet: bench.hands.surround(enclosed=enclosed, wet=wet),
    ),
    Action(name="transmit nearby", does=lambda bench: bench.hands.transmit_nearby()),
    Action(name="lend control", whose="sharing", takes={"viewer": WHOLE}, does=_lend),
    Action(name="take control back", whose="sharing", does=_take_back),
    Action(name="stop sharing", whose="sharing", does=_stop),
    Action(name="share again", whose="sharing", does=_again),
)
ACTIONS: Mapping[str, Action] = {each.name: each for each in TABLE}


def perform(
    bench: Bench,
    request: ActionRequest,
    sharing: Sharing | None = None,
    *,
    role: Callable[[], str] = lambda: "bench",
) -> Outcome:
    """Do what was asked for; see `dashboard.page.actions.action.perform`."""
    return perform_of(ACTIONS, bench, request, sharing, role=role)


def key_rows() -> list[tuple[str, str]]:
    """The list of keys: which, separated by commas, and what they do."""
    keyed = [each for each in TABLE if each.help]
    return [
        (", ".join(each.shown_keys or ", ".join(each.keys) for each in row), words)
        for words, row in ((words, list(row)) for words, row in groupby(keyed, _help))
    ]


def _help(action: Action) -> str:
    return action.help
