"""The page's layout: what stands still. The script in assets fills it from the feed."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboard.bench.composed_bench import Bench
from dashboard.page.bench_view import bench_view
from dashboard.page.dialogs import keys_dialog, plan_dialog, plane_dialog, save_dialog, share_dialog
from dashboard.page.help_panel import help_button, help_panel
from dashboard.page.html_attributes import aria, data, does, key_cap
from dashboard.page.panels import accept_view, calibrate_view, demo_panel
from dashboard.page.port_panel import first_steps, port_change_dialog, port_view
from dashboard.page.read_view import read_view

TOKEN_PLACE = "the-token-of-this-start"  # noqa: S105 - where it is put, see dashboard.server.routes
FRAME = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{%title%}</title>
<link rel="icon" type="image/svg+xml" href="/assets/bandwright.svg">
<meta name="bandwright-token" content="the-token-of-this-start">
<script src="/assets/theme.js"></script>
<script src="/assets/token.js"></script>
{%css%}
</head>
<body>
{%app_entry%}
<footer>
{%config%}
{%scripts%}
{%renderer%}
<script type="module" src="/assets/main.js"></script>
</footer>
</body>
</html>
"""


def layout(bench: Bench) -> html.Div:
    """The whole page."""
    now = bench.snapshot()
    return html.Div(
        [
            # What the person wants done, written by the script; what came of it, by a callback.
            dcc.Store(id="action"),
            dcc.Store(id="accept-action"),
            html.A("Skip to what to do", href="#headline", className="skip"),
            _top(),
            html.Aside(id="origin", hidden=True, **aria(label="Kind of data")),
            html.P(id="lost", role="alert", hidden=True),
            first_steps(),
            html.Main(
                [
                    _headline(),
                    port_view(),
                    bench_view(),
                    read_view(),
                    calibrate_view(now),
                    accept_view(now.recipe),
                    demo_panel(),
                ]
            ),
            html.Div(html.P(), id="answer", role="status", hidden=True),
            # Spoken at most every few seconds; the sentence itself may change with every sweep.
            html.P(id="spoken", className="only-spoken", **aria(live="polite")),
            port_change_dialog(),
            plan_dialog(),
            keys_dialog(),
            share_dialog(),
            save_dialog(),
            plane_dialog(),
            help_panel(),
        ],
        id="page",
        **data(
            view="bench", feed="connecting", metric="loss", plane="none", old="false", touch="idle"
        ),
    )


def _top() -> html.Header:
    views = (
        ("bench", "Bench"),
        ("read", "Read"),
        ("calibrate", "Calibrate"),
        ("accept", "Accept"),
        ("wall", "Wall"),
    )
    return html.Header(
        [
            html.Div(
                [html.Img(src="/assets/bandwright.svg", alt=""), html.Span("bandwright")],
                className="brand",
            ),
            html.Nav(
                [
                    *(
                        html.Button(
                            [_icon(name), html.Span(label), key_cap(f"view {name}")],
                            type="button",
                            **data(view_to=name),
                            **does(f"view {name}"),
                        )
                        for name, label in views
                    ),
                    html.A(
                        [_icon("cable"), html.Span("Cable")],
                        href="/cable",
                        target="_blank",
                        id="cable-open",
                    ),
                    html.A(
                        [_icon("records"), html.Span("Records")],
                        href="/records",
                        target="_blank",
                        id="records-open",
                    ),
                ],
                **aria(label="Views"),
            ),
            html.Div(
                [
                    html.Button(
                        "Connecting…",
                        id="port-state",
                        className="pill",
                        type="button",
                        **data(view_to="port"),
                    ),
                    html.Button(
                        "Not calibrated",
                        id="calibration-state",
                        className="pill",
                        type="button",
                        **data(view_to="calibrate"),
                    ),
                    html.Button(
                        [html.Span("Plan: "), html.Span("Choose bands", id="plan-name")],
                        id="plan-open",
                        className="pill plan",
                        type="button",
                        **data(opens="plan"),
                        **does("open plan"),
                    ),
                    html.Button(
                        "Share",
                        id="share-open",
                        className="pill",
                        type="button",
                        hidden=True,
                        **data(opens="share"),
                    ),
                    html.Span(id="viewer-name", className="pill", hidden=True),
                    help_button(),
                    _icon_button("theme", "◐", "Light or dark", **does("theme")),
                    _icon_button(
                        "keys-open", "?", "Keys", **data(opens="keys"), **does("open keys")
                    ),
                ],
                className="status",
            ),
        ],
        className="top",
    )


def _headline() -> html.Section:
    return html.Section(
        [
            html.Span(id="sentence-mark"),
            html.Div([html.H1("Connecting…", id="sentence"), html.P(id="aside")], className="say"),
            html.Div(
                [
                    html.Span(id="last-step"),
                    html.Strong(id="checked"),
                    html.Span(id="waiting-for", role="status"),
                ],
                id="outcome",
            ),
            html.A(
                "Look along the cable",
                id="way",
                href="/cable",
                target="_blank",
                className="button",
                hidden=True,
            ),
            html.Button("I did it", id="did-it", type="button", hidden=True),
            html.Button(
                [html.Span("Next step", id="next-words"), key_cap("next step")],
                id="next-step",
                type="button",
                **does("next step"),
            ),
            html.Button(
                ["Cancel", key_cap("leave touch")],
                id="leave-touch",
                type="button",
                className="quiet",
                hidden=True,
                **does("leave touch"),
            ),
            html.Button(
                "Leave the wall view",
                id="leave-wall",
                type="button",
                className="quiet",
                **data(view_to="bench"),
            ),
        ],
        id="headline",
        **aria(label="What matters now"),
    )


def _icon(name: str) -> html.Span:
    """The picture of a view; its word stands beside it."""
    return html.Span(className=f"icon-{name} view-icon", **aria(hidden="true"))


def _icon_button(name: str, sign: str, label: str, **more: Any) -> html.Button:
    return html.Button(
        sign, id=name, type="button", className="icon", title=label, **aria(label=label), **more
    )
