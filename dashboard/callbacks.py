"""What the page's buttons and forms do: ordinary Dash callbacks over the bench's commands.

They run in threads: Dash would otherwise run them on the server's one loop, where writing a record
would hold up everyone's feed.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from typing import Any

from dash import Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from acceptance.limit import Metric
from acquire.errors import BandwrightError
from calibration.store import load_kit
from dashboard import folders
from dashboard.attributes import data
from dashboard.bench import Bench
from dashboard.errors import NotNowError
from dashboard.planning import DEFAULT_LIMITS, plan_text, read_plan, region_words, suggested

Wish = Mapping[str, Any]


def connect(app: Dash, bench: Bench) -> None:
    """Register every callback."""
    _wishes(app, bench)
    _calibration(app, bench)
    _planning(app, bench)
    _acceptance(app, bench)


def _wishes(app: Dash, bench: Bench) -> None:
    @app.callback(Output("answer", "children"), Input("wish", "data"), prevent_initial_call=True)
    async def grant(wish: Wish | None) -> html.P:
        if wish is None:
            raise PreventUpdate
        number = str(wish.get("number"))
        try:
            said = await asyncio.to_thread(granted, bench, wish)
        except BandwrightError as error:
            return answer(str(error), "refused", number=number)
        return answer(said, "done", number=number)


def granted(bench: Bench, wish: Wish) -> str:
    """Do what the person wishes and say what was done; empty where the page shows it anyway.

    Raises what the bench's commands raise, and NotNowError for a wish that is none.
    """
    name = str(wish.get("do"))
    if name not in WISHES:
        raise NotNowError("The page asked for something unknown. Load it again.")
    try:
        return WISHES[name](bench, wish) or ""
    except (KeyError, TypeError, ValueError) as error:
        raise NotNowError("The page asked for something incomplete. Load it again.") from error


WISHES: Mapping[str, Callable[[Bench, Wish], str | None]] = {
    "hold": lambda bench, _: bench.hold(),
    "undo hold": lambda bench, _: bench.undo_hold(),
    "calibrate": lambda bench, _: bench.begin_calibration(),
    "standard is on": lambda bench, _: bench.standard_is_on(),
    "redo": lambda bench, wish: bench.redo(str(wish["standard"])),
    "leave calibration": lambda bench, _: bench.leave_calibration(),
    "screw on": lambda bench, wish: bench.screw_on(str(wish["name"])),
    "bend": lambda bench, wish: bench.bend(str(wish["dimension"]), float(wish["mm"])),
}


def answer(text: str, kind: str, **more: str) -> html.P:
    """What came of a wish: "done" or "refused".

    more : the number of the wish; or, under "closes", the dialog that is done with.
    """
    return html.P(text, **data(kind=kind, **more))


def _calibration(app: Dash, bench: Bench) -> None:
    @app.callback(
        Output("answer", "children", allow_duplicate=True),
        Input("kit", "value"),
        prevent_initial_call=True,
    )
    async def choose_kit(name: str) -> html.P:
        try:
            kit = await asyncio.to_thread(load_kit, name, folders.kits())
            bench.use_kit(kit)
        except BandwrightError as error:
            return answer(str(error), "refused")
        return answer(f"The next calibration is made with the kit {kit.label}.", "done")


def _planning(app: Dash, bench: Bench) -> None:
    @app.callback(
        Output("bands", "options"),
        Output("bands", "value"),
        Input("region", "value"),
        prevent_initial_call=True,
    )
    def suggest(region: str | None) -> tuple[list[dict[str, str]], list[str]]:
        if region is None:
            return [], []
        choices = suggested(region)
        options = [
            {"label": choice.words, "value": choice.key, "title": choice.common_name}
            for choice in choices
        ]
        return options, [choice.key for choice in choices]

    @app.callback(
        Output("limit-value", "value"),
        Input("limit-metric", "value"),
        prevent_initial_call=True,
    )
    def default_limit(metric: Metric) -> float:
        return DEFAULT_LIMITS[metric]

    @app.callback(
        Output("plan-text", "value"),
        Output("plan-refused", "children"),
        Input("bands", "value"),
        Input("limit-value", "value"),
        State("limit-metric", "value"),
        State("region", "value"),
        prevent_initial_call=True,
    )
    def write(
        keys: list[str], value: float | None, metric: Metric, region: str | None
    ) -> tuple[Any, str]:
        if region is None:  # nothing suggested: the text is the person's own
            return no_update, ""
        if value is None:
            return no_update, "The limit is no number. Write 10 for return loss, 2 for VSWR."
        try:
            return plan_text(region_words(region), keys, metric, float(value)), ""
        except BandwrightError as error:
            return no_update, str(error)

    @app.callback(
        Output("answer", "children", allow_duplicate=True),
        Output("plan-refused", "children", allow_duplicate=True),
        Input("use-plan", "n_clicks"),
        State("plan-text", "value"),
        prevent_initial_call=True,
    )
    def use(_clicks: int, text: str | None) -> tuple[Any, str]:
        try:
            plan = read_plan(text or "")
            bench.use_plan(plan)
        except BandwrightError as error:
            return no_update, str(error)
        return answer(f"Judging by the plan {plan.name} from now on.", "done", closes="plan"), ""


def _acceptance(app: Dash, bench: Bench) -> None:
    @app.callback(
        Output("accepted", "children"),
        Input("accept", "n_clicks"),
        State("unit-name", "value"),
        State("operator", "value"),
        State("note", "value"),
        prevent_initial_call=True,
    )
    async def accept(
        clicks: int, unit: str | None, operator: str | None, note: str | None
    ) -> html.Div:
        try:
            folder = await asyncio.to_thread(bench.accept, unit or "", operator or "", note or "")
            files = sorted(path.name for path in folder.iterdir())
        except (BandwrightError, OSError) as error:
            return html.Div(html.P(str(error)), **data(kind="refused", number=str(clicks)))
        return html.Div(
            [
                html.P([html.Strong(f"The record of {unit} is written."), " It is in"]),
                html.Code(str(folder)),
                html.P(", ".join(files)),
            ],
            **data(kind="done", number=str(clicks)),
        )
