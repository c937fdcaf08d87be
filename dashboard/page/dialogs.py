"""The page's dialogs: plan, keys, reference plane, save, share."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboard.page.actions.table import key_rows
from dashboard.page.help_panel import help_about, term
from dashboard.page.html_attributes import aria, data, does
from dashboard.page.plane_form import cable_options


def plan_dialog() -> Any:
    """Which bands, which limits: filled by the page's script, from the plan that is in use."""
    return html.Dialog(
        html.Div(
            [
                html.Header(
                    [html.H2("Plan", tabIndex="-1"), help_about("plans"), close_button("plan")]
                ),
                html.Div(id="plan-builder"),
                _answer_line(),
            ]
        ),
        id="plan",
        **aria(label="Plan"),
    )


def keys_dialog() -> Any:
    """The list of keys."""
    rows = [
        html.Div([html.Dt([html.Kbd(k) for k in keys.split(", ")]), html.Dd(what)])
        for keys, what in key_rows()
    ]
    return html.Dialog(
        html.Div(
            [
                html.Header([html.H2("Keys"), close_button("keys")]),
                html.Dl(rows),
                html.P("Every key presses a button on the page."),
            ]
        ),
        id="keys",
        **aria(label="Keys"),
    )


def plane_dialog() -> Any:
    """Where the verdict holds, and what lies before it."""

    def number(name: str, label: str, hint: str) -> html.Div:
        return html.Div(
            [
                html.Label(label, htmlFor=name),
                dcc.Input(id=name, type="number", step="any", placeholder=hint),
            ],
            className="field",
        )

    return html.Dialog(
        html.Div(
            [
                html.Header(
                    [html.H2("Reference plane"), help_about("cables"), close_button("plane")]
                ),
                html.P(
                    [
                        "A reading is measured at one place along the cable, the ",
                        term("reference plane"),
                        ". After calibrating, that is the end of the calibrated cable; whatever "
                        "you connect beyond it counts as the antenna. A lossy pigtail makes a bad "
                        "antenna look good. Describe what lies between, and it is removed from "
                        "the reading.",
                    ]
                ),
                html.Label("Cable between the calibrated end and the antenna's feed"),
                dcc.Dropdown(
                    id="plane-cable",
                    options=cable_options(),
                    placeholder="another cable (enter its figures)",
                    searchable=False,
                ),
                html.Div(
                    [
                        number("plane-length", "Length (mm)", "182"),
                        number("plane-velocity", "Velocity factor", "from the table"),
                        number("plane-loss", "Loss one way (dB)", "from the table"),
                        number("plane-loss-at", "at (MHz)", "900"),
                    ],
                    className="fields",
                ),
                html.P(id="plane-refused", role="alert"),
                html.Div(
                    [
                        html.Button(
                            "At the antenna's feed",
                            id="plane-feed",
                            type="button",
                            className="primary",
                        ),
                        html.Button(
                            "At the end of the calibrated cable",
                            id="plane-connector",
                            type="button",
                        ),
                    ],
                    className="actions",
                ),
                html.H3("Or measure it (better than any figure)"),
                html.P(
                    "Connect the pigtail without its antenna. Measure it twice: once with its far "
                    "end open and once shorted. Use your kit if the end has a connector; otherwise "
                    "leave it open, then bridge it. One reading works; two are much better."
                ),
                html.Div(
                    [
                        _action_button("pigtail-open", "Measure with the end open", "pigtail open"),
                        _action_button(
                            "pigtail-short", "Measure with the end shorted", "pigtail short"
                        ),
                    ],
                    className="actions",
                ),
                html.P(id="pigtail-taken", role="status"),
                _answer_line(),
                html.Div(
                    [
                        _action_button(
                            "pigtail-kit", "Use this (ends from my kit)", "kit's pigtail"
                        ),
                        _action_button(
                            "pigtail-bare", "Use this (bare end, hand-made short)", "bare pigtail"
                        ),
                    ],
                    className="actions",
                ),
                html.Ul(id="pigtail-found", className="notes"),
                html.P(
                    [
                        "Removing a cable from the reading makes it less certain; the ",
                        term("trust floor"),
                        " shows by how much. Calibrating at its far end is better still.",
                    ],
                    className="remark",
                ),
            ]
        ),
        id="plane",
        **aria(label="Reference plane"),
    )


def save_dialog() -> Any:
    """What is on the screen as a file."""
    forms = (
        ("png", "Picture", "PNG, for a message or a document"),
        ("svg", "Picture that scales", "SVG, for print"),
        ("s1p", "Touchstone", "the sweep, for other programs"),
        ("csv", "Table", "CSV with the 95 % interval, for a spreadsheet"),
        ("json", "JSON", "sweep, interval and verdict, for programs"),
    )
    return html.Dialog(
        html.Div(
            [
                html.Header([html.H2("Save the screen"), close_button("save")]),
                html.P(
                    "This saves what is shown: the newest sweep with its verdict, the part you "
                    "zoomed to, your markers and the held traces that are drawn."
                ),
                html.Ul(
                    [
                        html.Li(
                            [
                                html.A(name, href=f"/save/sweep.{form}", **data(save=form)),
                                html.Span(what),
                            ]
                        )
                        for form, name, what in forms
                    ],
                    className="forms",
                ),
                html.P("This saves a snapshot only. To write a record, use Accept."),
            ]
        ),
        id="save",
        **aria(label="Save"),
    )


def share_dialog() -> Any:
    """The one-time code as a picture, who is looking, and whose hands are on it."""
    return html.Dialog(
        html.Div(
            [
                html.Header([html.H2("Let others watch"), close_button("share")]),
                html.P(
                    "Anyone on this network who scans the code sees the bands and the advice, but "
                    "cannot change anything. Each code works once."
                ),
                html.Img(id="share-code", alt="The address with its one-time code"),
                html.Code(id="share-address"),
                html.P(id="share-viewers", role="status"),
                html.Ul(id="share-list"),
                html.Div(
                    [
                        html.Button(
                            "Take control back", type="button", **does("take control back")
                        ),
                        html.Button("Stop sharing", type="button", **does("stop sharing")),
                        html.Button("Share again", type="button", **does("share again")),
                    ],
                    className="actions",
                ),
                _answer_line(),
                html.P(id="share-privacy", className="remark"),
            ]
        ),
        id="share",
        **aria(label="Share"),
    )


def _action_button(name: str, words: str, what: str) -> html.Button:
    return html.Button(words, id=name, type="button", **does(what))


def _answer_line() -> html.P:
    """Where a dialog says what came of an action that was asked for in it."""
    return html.P(className="answered", role="status")


def close_button(dialog: str) -> html.Button:
    return html.Button("Close", type="button", className="quiet", **data(closes=dialog))
