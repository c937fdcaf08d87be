"""The page of a station: three pictures, one sentence, one word, and the label to print."""

from __future__ import annotations

import json
from typing import Any

from dash import Dash, Input, Output, dcc, html
from dash.exceptions import PreventUpdate

from dashboard.access.sharing import Sharing
from dashboard.bench.composed_bench import Bench
from dashboard.page.actions.action import ActionRequest
from dashboard.page.actions.station_actions import STATION_ACTIONS, perform
from dashboard.page.callbacks import Performer, answer
from dashboard.page.html_attributes import aria, data
from dashboard.page.layout import FRAME
from dashboard.page.panels import demo_panel

STATION_FRAME = FRAME.replace("/assets/main.js", "/assets/station.js")
PICTURES = (("connect", "Connect"), ("sweep", "Wait"), ("result", "Read the word"))


def connect_station(app: Dash, bench: Bench, sharing: Sharing | None = None) -> None:
    """Register the one callback: every button and key of the page ends in it."""
    performer = Performer(bench, sharing, perform)

    @app.callback(Output("answer", "children"), Input("action", "data"), prevent_initial_call=True)
    async def act(request: ActionRequest | None) -> html.P:
        if request is None:
            raise PreventUpdate
        return answer(await performer.perform(request), number=str(request.get("number")))


def station_layout(bench: Bench) -> html.Div:
    """The whole page."""
    name = "" if bench.station is None else bench.station.station.name
    return html.Div(
        [
            dcc.Store(id="action"),
            html.Header(
                [
                    html.Div(
                        [html.Img(src="/assets/bandwright.svg", alt=""), html.Span(name)],
                        className="brand",
                    ),
                    html.Span(id="count"),
                    html.Button(
                        "◐",
                        id="theme",
                        type="button",
                        className="icon",
                        title="Light or dark",
                        **aria(label="Light or dark"),
                    ),
                ],
                className="top",
            ),
            html.Aside(id="origin", hidden=True, **aria(label="Kind of data")),
            html.P(id="lost", role="alert", hidden=True),
            html.Main(
                [
                    html.Div(
                        [
                            html.H1(id="say", **aria(live="assertive")),
                            html.P(id="why"),
                            html.Ol(
                                [
                                    html.Li(
                                        [html.Div(className="drawing"), html.Span(words)],
                                        **data(picture=picture),
                                    )
                                    for picture, words in PICTURES
                                ],
                                id="pictures",
                                **aria(label="Connect, wait, read the word"),
                            ),
                            html.Form(
                                [
                                    html.Label("Serial", htmlFor="serial"),
                                    dcc.Input(
                                        id="serial",
                                        type="text",
                                        maxLength=60,
                                        autoComplete="off",
                                        placeholder="scan or type",
                                    ),
                                    html.Button("Take it", type="submit", className="primary"),
                                ],
                                id="serial-form",
                                hidden=True,
                            ),
                            html.Div(
                                [
                                    _button("next", "station next", "primary", key="Space"),
                                    _button("again", "station serial", "", words="Test it again"),
                                    _button("drop", "station drop", "quiet", words="Put it aside"),
                                    html.Button(
                                        "Print the label",
                                        id="print",
                                        type="button",
                                        hidden=True,
                                    ),
                                    _button("finish", "station finish", "quiet", words="Finish"),
                                    _button("more", "station go on", "", words="Test more"),
                                ],
                                className="keys",
                            ),
                            html.Details(
                                [html.Summary(id="detail-for"), html.P(id="detail")],
                                id="details",
                                hidden=True,
                            ),
                        ],
                        id="step",
                    ),
                    html.Aside(
                        [
                            html.Div(html.Img(id="label", alt=""), id="label-box", hidden=True),
                            html.H2("Tested"),
                            html.Ol(id="tested"),
                        ],
                        id="session",
                        **aria(label="Tested"),
                    ),
                    demo_panel(),
                ]
            ),
            html.Div(html.P(), id="answer", role="status", hidden=True),
        ],
        id="page",
        **data(view="station", feed="connecting", phase="", old="false"),
    )


def _button(name: str, action: str, look: str, *, words: str = "", key: str = "") -> html.Button:
    """A button of the station's table, hidden until the page's script shows it."""
    keys = STATION_ACTIONS[action].keys
    more: dict[str, Any] = data(keys=" ".join(keys)) if keys else {}
    return html.Button(
        [html.Span(words, className="words"), *([html.Kbd(key)] if key else [])],
        id=name,
        type="button",
        className=look,
        hidden=True,
        **data(action=json.dumps({"do": action})),
        **more,
    )
