"""What the page's buttons and forms do: ordinary Dash callbacks over the bench's commands.

They run in threads: Dash would otherwise run them on the server's one loop, where writing a record
would hold up everyone's feed.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import quote

from dash import ALL, Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from acceptance.limits.limit import Metric
from acceptance.record.conditions import words_of
from acceptance.report.report_files import REPORT_HTML, REPORT_PDF
from acquire.errors import BandwrightError
from acquire.printable_text import plain
from calibration.files.line_file import line_said
from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.files.store import list_kits, load_cable_types
from calibration.guided.verification_session import MeasureBack
from dashboard import folders
from dashboard.acceptance_run import Said
from dashboard.attributes import data
from dashboard.bench import Bench
from dashboard.checks_panel import certified, costs_table, mismatch, second_load
from dashboard.errors import NotNowError
from dashboard.plane_form import typed_of
from dashboard.planning import DEFAULT_LIMITS, plan_text, read_plan, region_words, suggested
from dashboard.sharing import Sharing
from dashboard.wishes import Wish, granted


def connect(app: Dash, bench: Bench, sharing: Sharing | None = None) -> None:
    """Register every callback."""
    _wishes(app, bench, sharing)
    _calibration(app, bench)
    _checks(app, bench)
    _planning(app, bench)
    _plane(app, bench)
    _acceptance(app, bench)


def _wishes(app: Dash, bench: Bench, sharing: Sharing | None) -> None:
    @app.callback(Output("answer", "children"), Input("wish", "data"), prevent_initial_call=True)
    async def grant(wish: Wish | None) -> html.P:
        if wish is None:
            raise PreventUpdate
        number = str(wish.get("number"))
        try:
            said = await asyncio.to_thread(granted, bench, wish, sharing)
        except BandwrightError as error:
            return answer(str(error), "refused", number=number)
        return answer(said, "done", number=number)


def answer(text: str, kind: str, **more: str) -> html.P:
    """What came of a wish: "done" or "refused".

    more : the number of the wish; or, under "closes", the dialog that is done with.
    """
    return html.P(plain(text), **data(kind=kind, **more))


def _calibration(app: Dash, bench: Bench) -> None:
    @app.callback(
        Output("answer", "children", allow_duplicate=True),
        Input("kit", "value"),
        prevent_initial_call=True,
    )
    async def choose_kit(name: str) -> html.P:
        try:
            # By its name alone: a path from a page would have this machine read any file.
            kit = (await asyncio.to_thread(list_kits, folders.kits())).get(str(name))
            if kit is None:
                raise NotNowError("The page named a kit that is not here. Load it again.")
            bench.calibration.use_kit(kit)
        except BandwrightError as error:
            return answer(str(error), "refused")
        return answer(f"The next calibration is made with the kit {kit.label}.", "done")


def _checks(app: Dash, bench: Bench) -> None:
    def begin(make: Callable[[], MeasureBack]) -> html.P:
        try:
            bench.calibration.begin_check(make())
        except BandwrightError as error:
            return answer(str(error), "refused")
        return answer("", "done")

    checked = Output("answer", "children", allow_duplicate=True)

    @app.callback(
        checked,
        Input("check-load", "n_clicks"),
        State("second-load", "value"),
        prevent_initial_call=True,
    )
    async def load(_clicks: int, decibels: float | None) -> html.P:
        return await asyncio.to_thread(begin, lambda: second_load(decibels))

    @app.callback(
        checked,
        Input("check-mismatch", "n_clicks"),
        State("mismatch-vswr", "value"),
        State("mismatch-tolerance", "value"),
        prevent_initial_call=True,
    )
    async def stated(_clicks: int, vswr: float | None, tolerance: float | None) -> html.P:
        return await asyncio.to_thread(begin, lambda: mismatch(vswr, tolerance))

    @app.callback(
        checked,
        Input("check-certificate", "n_clicks"),
        State("certificate", "filename"),
        State("certificate", "contents"),
        State("certificate-error", "value"),
        prevent_initial_call=True,
    )
    async def certificate(
        _clicks: int, name: str | None, content: str | None, error: float | None
    ) -> html.P:
        return await asyncio.to_thread(begin, lambda: certified(name, content, error))

    @app.callback(
        Output("certificate", "children"),
        Input("certificate", "filename"),
        prevent_initial_call=True,
    )
    def chosen(name: str | None) -> html.Button:
        return html.Button(name or "Choose its file", type="button", className="quiet")

    @app.callback(
        Output("answer", "children", allow_duplicate=True),
        Input("load-db", "value"),
        prevent_initial_call=True,
    )
    async def state_load(decibels: float | None) -> html.P:
        await asyncio.to_thread(bench.calibration.state_load, decibels)
        if decibels is None:
            return answer("What the kit states of its load counts; else 26 dB is assumed.", "done")
        return answer(f"The load is taken to have {decibels:g} dB, as its maker states.", "done")

    @app.callback(
        Output("costs", "children"), Input("work-costs-out", "n_clicks"), prevent_initial_call=True
    )
    async def work_out(_clicks: int) -> Any:
        now = bench.snapshot()
        if now.budget is None or now.plan is None:
            return html.P("There must be a calibration, a plan and a sweep first.")
        return await asyncio.to_thread(costs_table, now.budget, now.plan)


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


def _plane(app: Dash, bench: Bench) -> None:
    answered = (
        Output("answer", "children", allow_duplicate=True),
        Output("plane-refused", "children", allow_duplicate=True),
    )

    def used(declared: PlaneText) -> tuple[Any, str]:
        bench.plane.use(declared)
        plane = bench.snapshot().plane
        if plane.problem:
            return no_update, f"The plane cannot be there. {plane.problem}"
        return answer(f"Verdicts hold {plane.words} from now on.", "done", closes="plane"), ""

    @app.callback(
        *answered,
        Input("plane-feed", "n_clicks"),
        State("plane-cable", "value"),
        State("plane-length", "value"),
        State("plane-velocity", "value"),
        State("plane-loss", "value"),
        State("plane-loss-at", "value"),
        prevent_initial_call=True,
    )
    def at_the_feed(_: int, cable: str | None, *figures: float | None) -> tuple[Any, str]:
        try:
            return used(typed_of(cable, *figures))
        except BandwrightError as error:
            return no_update, str(error)

    @app.callback(*answered, Input("plane-connector", "n_clicks"), prevent_initial_call=True)
    def at_the_connector(_: int) -> tuple[Any, str]:
        return used(NOT_MOVED)


def _acceptance(app: Dash, bench: Bench) -> None:
    @app.callback(
        output=Output("accepted", "children"),
        inputs={"wish": Input("accept-wish", "data")},
        state={
            "form": {
                "unit": State("unit-name", "value"),
                "operator": State("operator", "value"),
                "note": State("note", "value"),
                "along": State("along", "value"),
                "sizes": State({"type": "size", "name": ALL}, "value"),
                "named": State({"type": "size", "name": ALL}, "id"),
            }
        },
        prevent_initial_call=True,
    )
    async def accept(wish: Wish | None, form: Mapping[str, Any]) -> html.Div:
        if wish is None:
            raise PreventUpdate
        number = str(wish.get("number"))
        condition = wish.get("condition")
        try:
            said = said_of(form)
            if condition is not None:
                words = await asyncio.to_thread(
                    bench.acceptance.sweep_condition, str(condition), said
                )
                kept = f"Swept and kept: {words_of(str(condition)).label}, {words}."
                return html.Div(html.P(plain(kept)), **data(kind="kept", number=number))
            signed = await asyncio.to_thread(bench.acceptance.sign_off, said)
            files = sorted(path.name for path in signed.path.iterdir())
        except (BandwrightError, OSError) as error:
            return html.Div(html.P(plain(error)), **data(kind="refused", number=number))
        return html.Div(
            [
                html.P([html.Strong(f"The record of {plain(said.unit)} is written."), " It is in"]),
                html.Code(plain(signed.path)),
                html.P(", ".join(files)),
                *([html.P(plain(signed.remark))] if signed.remark else []),
                html.P(_report_links(signed.path.name)),
            ],
            **data(kind="done", number=number, unit=said.unit),
        )


def _report_links(record: str) -> list[Any]:
    """To the record's report, for the screen and for paper."""
    at = f"/records/{quote(record)}/"
    return [
        html.A("Open its report", href=f"{at}{REPORT_HTML}", target="_blank"),
        html.A("its PDF", href=f"{at}{REPORT_PDF}"),
    ]


def said_of(form: Mapping[str, Any]) -> Said:
    """What the acceptance's form says of the unit; a size that was left out is not measured."""
    sizes = {
        str(each["name"]): float(size)
        for each, size in zip(form["named"], form["sizes"], strict=True)
        if size is not None
    }
    along = form["along"]
    return Said(
        form["unit"] or "",
        form["operator"] or "",
        form["note"] or "",
        dimensions=sizes,
        line=None if not along else line_said(along, load_cable_types()),
    )
