"""The page's panels beside the bench: calibrate, accept, the demo's bench."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from acceptance.plan.recipe import Recipe
from acceptance.verdict.plan_verdict import MATCH_ONLY
from calibration.files.calibration_file import LONGEST_CABLE_NAME
from calibration.files.store import list_kits
from calibration.standards.stated_load import LONGEST_SOURCE
from dashboard.bench.snapshot import Snapshot
from dashboard.files import user_folders
from dashboard.page.checks_panel import checks_panel
from dashboard.page.help_panel import term
from dashboard.page.html_attributes import aria, data, does
from dashboard.page.plane_form import cable_options
from dashboard.page.recent_list import kept_calibrations


def calibrate_view(now: Snapshot) -> html.Section:
    """The guided calibration."""
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Calibrate at the connector"),
                    html.P(id="calibration-words"),
                    html.Div(id="calibration-warnings"),
                    kept_calibrations(),
                    html.Label("Your standards", htmlFor="kit"),
                    dcc.RadioItems(
                        id="kit",
                        options=[
                            {"label": kit.label, "value": name}
                            for name, kit in list_kits(user_folders.kits()).items()
                        ],
                        value=now.calibration.kit or None,
                        className="options",
                    ),
                    html.P(id="kit-words", role="status"),
                    html.Label(
                        "Return loss of your load (dB), if its maker states it", htmlFor="load-db"
                    ),
                    dcc.Input(
                        id="load-db",
                        type="number",
                        value=now.stated_load_db,
                        step="any",
                        placeholder="not stated: 26 dB is assumed",
                        debounce=True,
                    ),
                    html.Label(
                        "Source of that figure, if it is above 46 dB", htmlFor="load-source"
                    ),
                    dcc.Input(
                        id="load-source",
                        type="text",
                        value=now.assumptions.load_source or None,
                        maxLength=LONGEST_SOURCE,
                        placeholder="such as certificate 123",
                        debounce=True,
                    ),
                    html.Label(
                        "Name of your test cable (if you have several)", htmlFor="test-cable"
                    ),
                    dcc.Input(
                        id="test-cable",
                        type="text",
                        value=now.calibration.cable or None,
                        maxLength=LONGEST_CABLE_NAME,
                        placeholder="such as blue, 1 m",
                        debounce=True,
                    ),
                    html.P(
                        [
                            "Connect the three ",
                            term("standards", "calibration standard"),
                            ", one after the other, to the end of the cable where the antenna "
                            "will be. bandwright averages several sweeps of each, and waits "
                            "until they are steady.",
                        ]
                    ),
                    html.Ul(
                        [
                            html.Li("Never connect a transmitter or a DC voltage to the analyzer."),
                            html.Li(
                                "Let the analyzer warm up, and fix the cable so it cannot move."
                            ),
                        ],
                        className="cautions",
                    ),
                    html.Div(
                        [
                            html.Button(
                                "Start the calibration",
                                id="start-calibration",
                                type="button",
                                className="primary",
                                **does("calibrate"),
                            ),
                            html.Span(id="start-why", role="status"),
                        ],
                        className="start",
                    ),
                ],
                id="calibration-idle",
            ),
            checks_panel(),
            html.Div(
                [
                    html.Ol(id="steps"),
                    html.Div(
                        [
                            html.Div(id="standard-picture"),
                            html.H2(id="instruction"),
                            html.Div(id="refusal", role="alert", hidden=True),
                            html.Figure(
                                [
                                    html.Div(id="standard-live", className="plot-box"),
                                    html.Figcaption(id="standard-live-words"),
                                ],
                                id="standard-reading",
                                hidden=True,
                            ),
                            _steadiness(),
                            html.Div(
                                [
                                    html.Button(
                                        "It is connected. Measure it.",
                                        id="standard-on",
                                        type="button",
                                        className="primary",
                                        **does("standard is on"),
                                    ),
                                    html.Button(
                                        "Skip this step",
                                        id="skip-standard",
                                        type="button",
                                        hidden=True,
                                        **does("skip standard"),
                                    ),
                                    html.Button(
                                        "Cancel",
                                        id="leave-calibration",
                                        type="button",
                                        className="quiet",
                                        **does("leave calibration"),
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


def accept_view(recipe: Recipe) -> html.Section:
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
                    html.Div(
                        [
                            html.H2("What each condition changes"),
                            html.Ul(id="changes-words"),
                            html.Div(
                                html.Table(
                                    [html.Thead(id="changes-head"), html.Tbody(id="changes-rows")]
                                ),
                                className="table",
                            ),
                            html.Div(
                                html.Img(
                                    id="changes-picture",
                                    alt="The curves of all conditions, compared",
                                ),
                                className="picture",
                            ),
                        ],
                        id="changes",
                        hidden=True,
                    ),
                ],
                className="card",
            ),
            html.Div(
                [
                    html.H2("Accept this antenna"),
                    html.P(
                        "This saves the sweeps, the plan, the calibration and the verdict in one "
                        f"folder. The record shows the {MATCH_ONLY}."
                    ),
                    html.Div(id="accepted", role="status"),
                    html.Div(
                        [
                            html.P(id="unfinished-words"),
                            html.Button(
                                "Discard them",
                                id="throw-away",
                                type="button",
                                className="quiet",
                                **does("throw unfinished away"),
                            ),
                        ],
                        id="unfinished",
                        hidden=True,
                    ),
                    _field("antenna-label", "Name on its label", "weir-3", 100),
                    _field("operator", "Operator", "who measured", 100),
                    _field("note", "Note", "serial number, place, anything", 500),
                    *_sizes(recipe),
                    html.Label("Add a cable plot to the record (optional)", htmlFor="along"),
                    dcc.Dropdown(
                        id="along",
                        options=cable_options(),
                        placeholder="none",
                        searchable=False,
                    ),
                    html.Ol(id="accept-conditions", hidden=True),
                    html.P(id="accept-instruction", hidden=True),
                    html.Button(
                        "Write the record", id="accept", type="button", className="primary"
                    ),
                    html.P(id="accept-why"),
                    html.Div(
                        [
                            html.P(id="batch-words"),
                            html.Button(
                                "Check the batch (short or open connected)",
                                id="check-batch",
                                type="button",
                                className="quiet",
                                **does("check batch"),
                            ),
                        ],
                        id="batch",
                        hidden=True,
                    ),
                ],
                className="card form",
            ),
        ],
        id="view-accept",
        hidden=True,
    )


def _sizes(recipe: Recipe) -> list[Any]:
    """The finished antenna's sizes, for what the batches teach."""
    if not recipe.dimensions:
        return []
    return [
        html.Details(
            [
                html.Summary("Finished sizes (mm)"),
                html.Div(
                    [
                        html.Label(
                            [
                                html.Span(each.label),
                                dcc.Input(
                                    id={"type": "size", "name": each.name},
                                    type="number",
                                    min=0,
                                    step="any",
                                    placeholder="not measured",
                                ),
                            ]
                        )
                        for each in recipe.dimensions
                    ],
                    className="sizes",
                ),
            ],
            id="sizes",
        )
    ]


def demo_panel() -> html.Aside:
    """What a hand does in the real world: screw on, bend; then what is wanted less often."""
    return html.Aside(
        [
            html.Div(
                [
                    html.H2("Virtual bench"),
                    html.P(
                        "These buttons do what your hands do at a real bench.", className="remark"
                    ),
                    html.H3("On the port"),
                    html.Div(id="on-port", className="choice", role="group"),
                    html.P(id="bench-steady"),
                    html.H3(id="antenna-name"),
                    html.Div(
                        id="antennas",
                        className="choice",
                        role="group",
                        **aria(label="Other antennas"),
                    ),
                    html.Div(
                        id="surroundings",
                        className="choice",
                        role="group",
                        **aria(label="Around it"),
                    ),
                    html.Ul(id="dimensions"),
                ],
                className="hands",
            ),
            html.Div(
                [
                    html.Div(id="antenna-drawing"),
                    html.H3("Cable between connector and antenna", id="pigtails-title"),
                    html.Div(id="pigtails", className="choice", role="group"),
                    html.Button("Grip the cable", id="grip", type="button", className="quiet"),
                    html.Button(
                        "A phone transmits nearby",
                        id="transmit",
                        type="button",
                        className="quiet",
                        **does("transmit nearby"),
                    ),
                ],
                className="hands more",
            ),
        ],
        id="demo",
        hidden=True,
        **aria(label="Virtual bench"),
    )


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
