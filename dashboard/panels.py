"""The page's panels beside the bench: calibrate, accept, the demo's bench, and two dialogs."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from acceptance.verdict import MATCH_ONLY
from calibration.store import list_kits
from dashboard import folders
from dashboard.attributes import aria, data, wish
from dashboard.planning import DEFAULT_LIMITS, region_names, region_words
from dashboard.snapshot import Snapshot

KEYS = (
    ("n, PageDown", "next step of the job (a foot switch or a presenter will do)"),
    ("h", "hold the trace"),
    ("u", "undo the last hold"),
    ("b, c, a", "bench, calibrate, accept"),
    ("r, v, z, s", "return loss, VSWR, impedance, Smith chart"),
    ("o", "other services on the overview"),
    ("p", "plan: which bands, which limits"),
    ("t", "light or dark"),
    ("?", "this list"),
    ("Esc", "close"),
)


def calibrate_view(now: Snapshot) -> html.Section:
    """The guided calibration."""
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Calibrate at the connector"),
                    html.P(id="calibration-words"),
                    html.Div(id="calibration-warnings"),
                    html.Label("Your standards", htmlFor="kit"),
                    dcc.RadioItems(
                        id="kit",
                        options=[
                            {"label": kit.label, "value": name}
                            for name, kit in list_kits(folders.kits()).items()
                        ],
                        value=now.calibration.kit,
                        className="options",
                    ),
                    html.P(
                        "Open, short and load, one after the other, at the end of the cable where "
                        "the antenna will be. Several sweeps of each are averaged, and only while "
                        "they are steady.",
                    ),
                    html.Ul(
                        [
                            html.Li("Nothing that transmits and no DC on the analyzer's port."),
                            html.Li("Let the unit warm up, and lay the cable so that it stays."),
                        ],
                        className="cautions",
                    ),
                    html.Button(
                        "Start the calibration",
                        id="start-calibration",
                        type="button",
                        className="primary",
                        **wish("calibrate"),
                    ),
                ],
                id="calibration-idle",
            ),
            html.Div(
                [
                    html.Ol(id="steps"),
                    html.Div(
                        [
                            html.Div(id="standard-picture"),
                            html.H2(id="instruction"),
                            html.Div(id="refusal", role="alert", hidden=True),
                            _steadiness(),
                            html.Div(
                                [
                                    html.Button(
                                        "It is on: capture",
                                        id="standard-on",
                                        type="button",
                                        className="primary",
                                        **wish("standard is on"),
                                    ),
                                    html.Button(
                                        "Leave the calibration",
                                        id="leave-calibration",
                                        type="button",
                                        className="quiet",
                                        **wish("leave calibration"),
                                    ),
                                ],
                                className="actions",
                            ),
                            html.Ul(id="cautions", className="cautions"),
                        ],
                        className="step",
                    ),
                ],
                id="calibration-running",
                hidden=True,
            ),
        ],
        id="view-calibrate",
        hidden=True,
        **data(phase="idle"),
    )


def _steadiness() -> html.Div:
    return html.Div(
        [
            html.Div(id="cells"),
            html.Div(html.I(), id="stillness"),
            html.P([html.Span(id="capture-message"), html.Span(id="movement")]),
        ],
        id="steadiness",
        hidden=True,
        role="progressbar",
        **aria(label="Steady sweeps", valuemin="0"),
    )


def accept_view() -> html.Section:
    """The verdict, and the form that writes the record."""
    columns = ("Band", "Verdict", "Limit", "Worst point", "Margin", "Band average")
    return html.Section(
        [
            html.Div(
                [
                    html.H2(["Verdict ", html.Span(id="verdict-overall")]),
                    html.Div(
                        html.Table(
                            [
                                html.Thead(html.Tr([html.Th(c, scope="col") for c in columns])),
                                html.Tbody(id="verdict-rows"),
                            ]
                        ),
                        className="table",
                    ),
                    html.Ul(id="verdict-notes", className="notes"),
                ],
                className="card",
            ),
            html.Div(
                [
                    html.H2("Accept this antenna"),
                    html.P(
                        "Sweeps, plan, calibration and verdict go into one folder. It records the "
                        f"{MATCH_ONLY}."
                    ),
                    html.Div(id="accepted", role="status"),
                    _field("unit-name", "Name on its label", "weir-3", 100),
                    _field("operator", "Operator", "who measured", 100),
                    _field("note", "Note", "serial number, place, anything", 500),
                    html.Button(
                        "Write the record", id="accept", type="button", className="primary"
                    ),
                    html.P(id="accept-why"),
                ],
                className="card form",
            ),
        ],
        id="view-accept",
        hidden=True,
    )


def demo_panel() -> html.Aside:
    """What a hand does in the real world: screw on, bend."""
    return html.Aside(
        [
            html.H2("Virtual bench"),
            html.P("Your hands, for the demo.", className="remark"),
            html.H3("On the port"),
            html.Div(id="on-port", className="choice", role="group"),
            html.P(id="bench-steady"),
            html.H3(id="antenna-name"),
            html.Ul(id="dimensions"),
        ],
        id="demo",
        hidden=True,
        **aria(label="Virtual bench"),
    )


def plan_dialog(now: Snapshot) -> Any:
    """Which bands, which limits."""
    text = "" if now.plan is None else now.plan.text
    metrics = [
        {"label": "Return loss, dB, at least", "value": "return_loss_db"},
        {"label": "VSWR, at most", "value": "vswr"},
    ]
    return html.Dialog(
        html.Div(
            [
                html.Header([html.H2("Plan"), _closing("plan")]),
                html.P(
                    "Which bands the antenna must serve, and how good its match must be. What a "
                    "region uses is a suggestion, not a statement of what is licensed where.",
                ),
                html.Div(
                    [
                        html.Label("Suggest the bands of", htmlFor="region"),
                        dcc.Dropdown(
                            id="region",
                            options=[
                                {"label": region_words(name), "value": name}
                                for name in region_names()
                            ],
                            placeholder="a part of the world",
                            searchable=False,
                        ),
                        dcc.Checklist(id="bands", options=[], value=[], className="bands"),
                        dcc.RadioItems(
                            id="limit-metric",
                            options=metrics,
                            value="return_loss_db",
                            className="options",
                        ),
                        html.Label("Limit", htmlFor="limit-value"),
                        dcc.Input(
                            id="limit-value",
                            type="number",
                            value=DEFAULT_LIMITS["return_loss_db"],
                            step="any",
                            debounce=False,
                        ),
                    ],
                    className="suggest",
                ),
                html.Div(
                    [
                        html.Label("The plan itself: edit it as you like", htmlFor="plan-text"),
                        dcc.Textarea(id="plan-text", value=text, spellCheck=False),
                    ],
                    className="written",
                ),
                html.P(id="plan-refused", role="alert"),
                html.Button("Use this plan", id="use-plan", type="button", className="primary"),
            ]
        ),
        id="plan",
        **aria(label="Plan"),
    )


def keys_dialog() -> Any:
    """The list of keys."""
    rows = [
        html.Div([html.Dt([html.Kbd(k) for k in keys.split(", ")]), html.Dd(what)])
        for keys, what in KEYS
    ]
    return html.Dialog(
        html.Div(
            [
                html.Header([html.H2("Keys"), _closing("keys")]),
                html.Dl(rows),
                html.P("Every key presses a button that is on the page as well."),
            ]
        ),
        id="keys",
        **aria(label="Keys"),
    )


def _closing(dialog: str) -> html.Button:
    return html.Button("Close", type="button", className="quiet", **data(closes=dialog))


def _field(name: str, label: str, hint: str, longest: int) -> html.Div:
    return html.Div(
        [
            html.Label(label, htmlFor=name),
            dcc.Input(
                id=name, type="text", placeholder=hint, maxLength=longest, autoComplete="off"
            ),
        ],
        className="field",
    )
