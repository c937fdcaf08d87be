"""What the page's forms do: ordinary Dash callbacks that read their fields and perform an action.

Buttons and keys come in by one store, forms by their own fields; all of them end in `perform`, so
that what is refused is refused in one way. What only fills the page changes nothing.

Actions run in threads: Dash would otherwise run them on the server's one loop, where writing a
record would hold up everyone's feed.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import quote

from dash import ALL, Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from acceptance.report.report_files import REPORT_HTML, REPORT_PDF
from acquire.printable_text import plain
from dashboard.access.access_control import role_now
from dashboard.access.sharing import Sharing
from dashboard.bench.composed_bench import Bench
from dashboard.files.defect_log import defect_words, note_defect
from dashboard.page.actions.action import ActionRequest, Outcome
from dashboard.page.actions.table import perform
from dashboard.page.html_attributes import data


def connect(app: Dash, bench: Bench, sharing: Sharing | None = None) -> None:
    """Register every callback."""
    performer = Performer(bench, sharing)
    _connect_buttons(app, performer)
    _connect_calibration(app, performer)
    _connect_checks(app, performer)
    _connect_plane(app, performer)
    _connect_acceptance(app, performer)


class Performer:
    """Performs actions for whoever asks, in a thread."""

    def __init__(
        self,
        bench: Bench,
        sharing: Sharing | None,
        performs: Callable[..., Outcome] | None = None,
    ) -> None:
        """performs : does it, by another table of what may be done than the bench's."""
        self._bench = bench
        self._sharing = sharing
        self._performs = performs

    async def perform(self, request: ActionRequest) -> Outcome:
        try:
            return await asyncio.to_thread(
                self._performs or perform, self._bench, request, self._sharing, role=role_now
            )
        except Exception as error:  # noqa: BLE001 - a defect: the page must not wait in vain
            note_defect(error, "doing what the page asked for")
            return Outcome("refused", defect_words())

    async def do(self, name: str, **given: Any) -> Outcome:
        return await self.perform({"do": name, **given})


def answer(outcome: Outcome, **more: str) -> html.P:
    """What came of an action: "done" or "refused".

    more : the number of the request for it.
    """
    if outcome.closes:
        more["closes"] = outcome.closes
    return html.P(plain(outcome.words), **data(kind=outcome.kind, **more))


def in_dialog(outcome: Outcome) -> tuple[Any, str]:
    """The same for a dialog's own line of what was refused, which it keeps until it is done."""
    return (no_update, outcome.words) if outcome.kind == "refused" else (answer(outcome), "")


ANSWER = Output("answer", "children", allow_duplicate=True)


def _connect_buttons(app: Dash, performer: Performer) -> None:
    @app.callback(Output("answer", "children"), Input("action", "data"), prevent_initial_call=True)
    async def act(request: ActionRequest | None) -> html.P:
        if request is None:
            raise PreventUpdate
        return answer(await performer.perform(request), number=str(request.get("number")))


def _connect_calibration(app: Dash, performer: Performer) -> None:
    @app.callback(ANSWER, Input("kit", "value"), prevent_initial_call=True)
    async def choose_kit(name: str) -> html.P:
        return answer(await performer.do("use kit", kit=name))

    @app.callback(ANSWER, Input("test-cable", "value"), prevent_initial_call=True)
    async def name_cable(cable: str | None) -> html.P:
        return answer(await performer.do("name cable", cable=cable))

    @app.callback(
        ANSWER,
        Input("load-db", "value"),
        Input("load-source", "value"),
        prevent_initial_call=True,
    )
    async def state_load(decibels: float | None, source: str | None) -> html.P:
        return answer(await performer.do("state load", decibels=decibels, source=source))


def _connect_checks(app: Dash, performer: Performer) -> None:
    @app.callback(
        ANSWER,
        Input("check-load", "n_clicks"),
        State("second-load", "value"),
        State("another-load", "value"),
        prevent_initial_call=True,
    )
    async def load(_clicks: int, decibels: float | None, another: list[str] | None) -> html.P:
        return answer(await performer.do("check load", decibels=decibels, another=bool(another)))

    @app.callback(
        ANSWER,
        Input("check-mismatch", "n_clicks"),
        State("mismatch-vswr", "value"),
        State("mismatch-tolerance", "value"),
        prevent_initial_call=True,
    )
    async def stated(_clicks: int, vswr: float | None, tolerance: float | None) -> html.P:
        return answer(await performer.do("check mismatch", vswr=vswr, tolerance=tolerance))

    @app.callback(
        ANSWER,
        Input("check-certificate", "n_clicks"),
        State("certificate", "filename"),
        State("certificate", "contents"),
        State("certificate-error", "value"),
        prevent_initial_call=True,
    )
    async def certificate(
        _clicks: int, file: str | None, content: str | None, error: float | None
    ) -> html.P:
        done = await performer.do("check certificate", file=file, content=content, error=error)
        return answer(done)

    @app.callback(
        Output("certificate", "children"),
        Input("certificate", "filename"),
        prevent_initial_call=True,
    )
    def chosen(name: str | None) -> html.Button:
        return html.Button(name or "Choose its file", type="button", className="quiet")

    @app.callback(
        Output("check-piece-shown", "children"),
        Input("check-piece", "n_clicks"),
        State("check-piece-name", "value"),
        State("check-piece-db", "value"),
        prevent_initial_call=True,
    )
    async def check_piece(_clicks: int, piece: str | None, decibels: float | None) -> Any:
        found = await performer.do("check piece", piece=piece, decibels=decibels)
        return html.P(plain(found.words)) if found.kind == "refused" else found.made

    @app.callback(
        Output("costs", "children"), Input("work-costs-out", "n_clicks"), prevent_initial_call=True
    )
    async def work_out(_clicks: int) -> Any:
        found = await performer.do("work out costs")
        return html.P(plain(found.words)) if found.kind == "refused" else found.made


def _connect_plane(app: Dash, performer: Performer) -> None:
    plane_refused = Output("plane-refused", "children", allow_duplicate=True)

    @app.callback(
        ANSWER,
        plane_refused,
        Input("plane-feed", "n_clicks"),
        State("plane-cable", "value"),
        State("plane-length", "value"),
        State("plane-velocity", "value"),
        State("plane-loss", "value"),
        State("plane-loss-at", "value"),
        prevent_initial_call=True,
    )
    async def at_the_feed(
        _clicks: int,
        cable: str | None,
        length: float | None,
        velocity: float | None,
        loss: float | None,
        loss_at: float | None,
    ) -> tuple[Any, str]:
        done = await performer.do(
            "use plane",
            cable=cable,
            length_mm=length,
            velocity_factor=velocity,
            loss_db=loss,
            loss_at_mhz=loss_at,
        )
        return in_dialog(done)

    @app.callback(
        ANSWER, plane_refused, Input("plane-connector", "n_clicks"), prevent_initial_call=True
    )
    async def at_the_connector(_clicks: int) -> tuple[Any, str]:
        return in_dialog(await performer.do("use connector"))


def _connect_acceptance(app: Dash, performer: Performer) -> None:
    @app.callback(
        output=Output("accepted", "children"),
        inputs={"request": Input("accept-action", "data")},
        state={
            "form": {
                "antenna": State("antenna-label", "value"),
                "operator": State("operator", "value"),
                "note": State("note", "value"),
                "along": State("along", "value"),
                "sizes": State({"type": "size", "name": ALL}, "value"),
                "named": State({"type": "size", "name": ALL}, "id"),
            }
        },
        prevent_initial_call=True,
    )
    async def accept(request: ActionRequest | None, form: Mapping[str, Any]) -> html.Div:
        if request is None:
            raise PreventUpdate
        given = {**form, "sizes": _by_name(form["named"], form["sizes"])}
        number, condition = str(request.get("number")), request.get("condition")
        if condition is None:
            return acceptance_answer(await performer.do("sign off", **given), number)
        kept = await performer.do("sweep condition", condition=condition, **given)
        kind = "kept" if kept.kind == "done" else kept.kind
        return html.Div(html.P(plain(kept.words)), **data(kind=kind, number=number))


def _by_name(named: list[Mapping[str, str]], sizes: list[Any]) -> dict[str, Any]:
    """The form's sizes by the names of their dimensions."""
    return {each["name"]: size for each, size in zip(named, sizes, strict=True)}


def acceptance_answer(outcome: Outcome, number: str) -> html.Div:
    """What came of signing off: where the record is, and what is in it; or why there is none."""
    if outcome.kind == "refused":
        return html.Div(html.P(plain(outcome.words)), **data(kind="refused", number=number))
    if outcome.made is None:  # swept and kept: a standard is to be put back
        return html.Div(html.P(plain(outcome.words)), **data(kind="kept", number=number))
    signed, antenna, files = outcome.made
    return html.Div(
        [
            html.P([html.Strong(plain(outcome.words)), " It is in"]),
            html.Code(plain(signed.path)),
            html.P(", ".join(files)),
            *([html.P(plain(signed.remark))] if signed.remark else []),
            html.P(_report_links(signed.path.name)),
        ],
        **data(kind="done", number=number, antenna=antenna),
    )


def _report_links(record: str) -> list[Any]:
    """To the record's report, for the screen and for paper."""
    at = f"/records/{quote(record)}/"
    return [
        html.A("Open its report", href=f"{at}{REPORT_HTML}", target="_blank"),
        html.A("its PDF", href=f"{at}{REPORT_PDF}"),
    ]
