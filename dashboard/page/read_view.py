"""The view to read off: one large plot, this viewer's markers, the dips, the held traces.

Nothing here changes the bench but the held traces, which are the bench's own.
"""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.page.html_attributes import aria, data, does, key_cap

METRICS = (
    ("loss", "Return loss"),
    ("vswr", "VSWR"),
    ("impedance", "Impedance"),
    ("smith", "Smith"),
)


def read_view() -> html.Section:
    """The whole view."""
    return html.Section(
        [
            html.Div(
                [
                    _tools(),
                    html.Div(id="read-plot", className="plot-box"),
                    html.Div(id="read-smith", className="plot-box"),
                    html.P(
                        "Impedance needs a calibration: raw readings carry the analyzer's own "
                        "errors.",
                        className="withheld-words",
                    ),
                    html.P(id="read-origin"),
                ],
                id="read-main",
            ),
            html.Div([_markers(), _dips(), _held()], id="read-aside"),
        ],
        id="view-read",
        hidden=True,
    )


def marker_line() -> html.Ul:
    """This viewer's markers in one line, for beneath a small plot."""
    return html.Ul(id="marker-line", **aria(label="Markers"))


def _tools() -> html.Div:
    return html.Div(
        [
            html.Div(
                [
                    html.Button(label, type="button", **data(metric_to=name))
                    for name, label in METRICS
                ],
                className="choice",
                role="group",
                **aria(label="What to plot"),
            ),
            html.Div(
                [
                    _button("zoom-out", "−", "zoom out", label="Zoom out"),
                    _button("zoom-in", "+", "zoom in", label="Zoom in"),
                    _button("show-all", "Show all", "show all"),
                ],
                className="choice",
                role="group",
                **aria(label="Which part to see"),
            ),
            html.Div(
                [
                    html.Button("Copy picture", id="copy-picture", type="button"),
                    html.Button("Copy data", id="copy-data", type="button"),
                    html.Button("Save", type="button", **data(opens="save")),
                    html.Button("Print", id="print-page", type="button"),
                ],
                className="read-files",
            ),
            html.P(id="copied", role="status"),
        ],
        className="read-tools",
    )


def _markers() -> html.Section:
    return html.Section(
        [
            html.Header(
                [
                    html.H2("Markers"),
                    html.Button("Remove all", id="clear-markers", type="button", className="quiet"),
                ]
            ),
            html.Form(
                [
                    html.Label("Frequency, MHz", htmlFor="marker-mhz"),
                    html.Div(
                        [
                            # a plain field: Dash's own would ask the server what was typed
                            html.Div(id="marker-field"),
                            html.Button(
                                ["Set marker", key_cap("set marker")],
                                id="set-marker",
                                type="button",
                                **does("set marker"),
                            ),
                        ],
                        className="entry",
                    ),
                ],
                id="marker-form",
            ),
            html.P(id="marker-refused", role="alert"),
            html.Ol(id="marker-list"),
            html.P(
                "Tap the plot to set a marker. Tap its number to remove it.",
                id="marker-hint",
                className="remark",
            ),
        ],
        className="read-part",
    )


def _dips() -> html.Section:
    return html.Section(
        [html.H2("Dips"), html.Ol(id="dip-list"), html.P(id="dip-none", className="remark")],
        className="read-part",
    )


def _held() -> html.Section:
    return html.Section(
        [
            html.Header(
                [
                    html.H2("Held traces"),
                    html.Button("Hold this trace", type="button", **data(action='{"do": "hold"}')),
                ]
            ),
            html.Ul(id="held-list"),
            html.P(
                "Hold a trace to compare the next one with it. Up to four are drawn.",
                id="held-none",
                className="remark",
            ),
        ],
        className="read-part",
    )


def _button(name: str, words: str, action: str, label: str = "") -> html.Button:
    spoken: Any = aria(label=label) if label else {}
    return html.Button(words, id=name, type="button", **spoken, **does(action))
