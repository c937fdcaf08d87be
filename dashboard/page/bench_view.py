"""The bench view: bands and links, the curves beneath them, and what a hand did."""

from __future__ import annotations

import json
from typing import Any

from dash import dcc, html

from acceptance.bands.load import load_services
from dashboard.page.help_panel import explains
from dashboard.page.html_attributes import aria, data, does, key_cap, taps
from dashboard.page.read_view import marker_line

SERVICE_NAMES = {
    "wifi": "Wi-Fi",
    "gnss": "GNSS",
    "srd": "SRD",
    "ism": "ISM",
    "adsb": "ADS-B",
    "amateur": "Amateur",
}


def bench_view() -> html.Section:
    return html.Section(
        [
            html.Div(id="strips"),
            html.Div(
                [
                    _done(),
                    html.Div(
                        [
                            _metrics(),
                            html.Span(id="age"),
                            html.Span(id="history-of-margin"),
                            _trace_tools(),
                        ],
                        className="tools",
                    ),
                    html.P(id="burst", role="status", hidden=True),
                    html.Div(
                        [
                            html.Span(id="touch-found", role="status"),
                            html.Button(
                                "Discard this result",
                                id="forget-touch",
                                type="button",
                                className="quiet",
                                **does("forget touch"),
                            ),
                        ],
                        id="touch-result",
                        hidden=True,
                    ),
                    html.Div(id="overview", className="plot-box"),
                    html.Div(id="smith", className="plot-box"),
                    marker_line(),
                    html.P(
                        "Impedance needs a calibration: raw readings carry the analyzer's own "
                        "errors.",
                        id="withheld",
                    ),
                    html.Div(
                        [
                            html.Div(
                                id="holds",
                                className="choice",
                                role="group",
                                **aria(label="Held traces"),
                            ),
                            html.Span(id="since-hold", role="status", hidden=True),
                            html.Button(
                                [html.Span(id="plane-words"), key_cap("open plane")],
                                id="plane-open",
                                type="button",
                                **data(opens="plane"),
                                **does("open plane"),
                            ),
                            html.Span(id="plane-effect"),
                            html.Span(id="coverage"),
                            html.Span(id="averaged"),
                            html.Span(id="trust", **explains("trust floor")),
                            html.Span(id="best"),
                            html.Span(id="trouble", hidden=True),
                        ],
                        id="beneath",
                    ),
                ],
                id="curves",
                **data(services=json.dumps(_services())),
            ),
        ],
        id="view-bench",
    )


def _done() -> html.Div:
    """What the person did, a tap a step; in a demo the virtual hand says so itself."""
    return html.Div(
        [
            html.Span("I did", className="label"),
            html.Div(id="dimensions-done", **taps("report change")),
            html.Button(
                ["Bent it (amount unknown)", key_cap("just bent")],
                id="just-bent",
                type="button",
                **does("just bent"),
            ),
            html.Button(
                ["Undo", key_cap("undo change")],
                id="take-back",
                type="button",
                className="quiet",
                **does("undo change"),
            ),
        ],
        id="done",
        hidden=True,
    )


def _metrics() -> html.Div:
    metrics = (
        ("loss", "Return loss"),
        ("vswr", "VSWR"),
        ("impedance", "Impedance"),
        ("smith", "Smith"),
    )
    return html.Div(
        [
            html.Button(
                [label, key_cap(f"plot {name}")],
                id=f"metric-{name}",
                type="button",
                **data(metric_to=name),
                **does(f"plot {name}"),
            )
            for name, label in metrics
        ],
        className="choice",
        role="group",
        **aria(label="What to plot"),
    )


def _trace_tools() -> html.Div:
    return html.Div(
        [
            html.Button(["Hold", key_cap("hold")], id="hold", type="button", **does("hold")),
            html.Button(
                ["Undo hold", key_cap("undo hold")],
                id="undo-hold",
                type="button",
                **does("undo hold"),
            ),
            html.Button(
                ["Touch test", key_cap("touch test")],
                id="touch",
                type="button",
                **does("touch test"),
            ),
            html.Button(
                ["Tone", key_cap("tone")],
                id="tone",
                type="button",
                **aria(pressed="false"),
                **does("tone"),
            ),
            dcc.Input(
                id="volume",
                type="range",
                min=0,
                max=100,
                value=30,
                step=1,
            ),
            html.Button(
                ["Other services", key_cap("services")],
                id="services",
                type="button",
                **aria(pressed="false"),
                **does("services"),
            ),
            html.Button(
                ["Save", key_cap("open save")],
                id="save-open",
                type="button",
                **data(opens="save"),
                **does("open save"),
            ),
        ],
        className="trace-tools",
    )


def _services() -> list[dict[str, Any]]:
    """Services other than cellular, for the overlay: ranges of one kind that touch are one."""
    merged: list[dict[str, Any]] = []
    for each in sorted(load_services(), key=lambda each: (each.service, each.low_hz)):
        name = SERVICE_NAMES.get(each.service, each.name)
        low_mhz, high_mhz = each.low_hz / 1e6, each.high_hz / 1e6
        if merged and merged[-1]["name"] == name and low_mhz <= merged[-1]["high_mhz"]:
            merged[-1]["high_mhz"] = max(high_mhz, merged[-1]["high_mhz"])
        else:
            merged.append({"name": name, "low_mhz": low_mhz, "high_mhz": high_mhz})
    return sorted(merged, key=lambda each: each["low_mhz"])
