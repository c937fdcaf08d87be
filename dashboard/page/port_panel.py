"""Choosing the analyzer's port: the view that lists them, and the question before a change."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.page.html_attributes import aria, data


def port_view() -> html.Section:
    """The ports there are; the script fills the list, and keeps it up to date."""
    return html.Section(
        [
            html.H2("Which port is your analyzer on?", id="port-title"),
            html.P(
                "Before you plug it in: nothing that transmits and no DC on the analyzer's port.",
                className="caution",
            ),
            html.P(id="port-note", role="status"),
            html.Ul(id="ports", **aria(labelledby="port-title")),
            html.P(
                [
                    "Not sure which one? Unplug the analyzer and watch which port goes, or press ",
                    html.Strong("Identify"),
                    ": it opens that one port and asks who is there.",
                ],
                id="port-help",
            ),
            html.Button("Show the first steps", id="guide-again", type="button", className="quiet"),
        ],
        id="view-port",
        hidden=True,
    )


def port_change_dialog() -> Any:
    """Asks before an analyzer that is measuring is let go of."""
    return html.Dialog(
        html.Div(
            [
                html.H2("Change the port?"),
                html.P(id="port-change-words"),
                html.Div(
                    [
                        html.Button(
                            "Change the port",
                            id="port-change-sure",
                            type="button",
                            className="primary",
                        ),
                        html.Button("Cancel", type="button", **data(closes="port-change")),
                    ],
                    className="actions",
                ),
            ]
        ),
        id="port-change",
        **aria(label="Change the port"),
    )


def first_steps() -> html.Nav:
    """The steps of a first run, in one row; the script says where one stands."""
    return html.Nav(
        [
            html.Ol(id="guide-steps"),
            html.Button("", id="guide-leave", type="button", className="quiet"),
        ],
        id="guide",
        hidden=True,
        **aria(label="First steps"),
    )
