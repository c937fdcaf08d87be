"""The page's panel that checks a calibration, and says how far it can be trusted."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from acceptance.batch.piece_chart import piece_series
from acceptance.batch.wording import enough, series_words, signals
from acceptance.pictures.batch_pictures import control_chart_picture
from acceptance.plan.acceptance_plan import Plan
from acquire.printable_text import plain
from acquire.touchstone.reader import MOST_BYTES, parse_touchstone
from calibration.errors import DeviceError
from calibration.files.device_file import device_from_table
from calibration.guided.verification_session import MeasureDevice
from calibration.uncertainty.budget import Budget
from calibration.uncertainty.ranking import (
    SensitivityRanking,
    advice,
    assumed_words,
    rank_sensitivities,
)
from calibration.verification.check_piece import PieceReading
from dashboard.files.kept_check_piece import USUAL_NAME

DEFAULT_TOLERANCE = 0.05
LARGEST_UPLOAD = 4 * MOST_BYTES // 3 + 100


def checks_panel() -> html.Div:
    """What can be measured of a calibration that holds, and what that was worth."""
    return html.Div(
        [
            html.Div(
                [
                    html.H2("Check this calibration"),
                    html.P(
                        "Connect a part whose value you know to the end of the cable. The result "
                        "is saved with the calibration and counts from then on."
                    ),
                    html.Div(id="check-outcome", role="status"),
                    _row(
                        "Reconnect a standard",
                        "This shows whether anything has drifted since the calibration.",
                        [html.Div(id="put-back", className="choice", role="group")],
                    ),
                    _row(
                        "Measure another load",
                        "Enter its return loss: at least so many dB.",
                        [
                            *_number("second-load", "Return loss at least (dB)", 36, 6),
                            dcc.Checklist(
                                options=[
                                    {
                                        "label": "a different load, although it reads the same",
                                        "value": "another",
                                    }
                                ],
                                value=[],
                                id="another-load",
                            ),
                            _measure("check-load"),
                        ],
                    ),
                    _row(
                        "Measure a mismatch",
                        "Enter its VSWR and its tolerance.",
                        [
                            *_number("mismatch-vswr", "VSWR", 2, 1),
                            *_number("mismatch-tolerance", "Tolerance", DEFAULT_TOLERANCE, 0),
                            _measure("check-mismatch"),
                        ],
                    ),
                    _row(
                        "Measure a device with a certificate",
                        "Choose its Touchstone file and enter its error (linear, such as 0.004).",
                        [
                            dcc.Upload(
                                html.Button("Choose file", type="button", className="quiet"),
                                id="certificate",
                                max_size=LARGEST_UPLOAD,
                            ),
                            *_number("certificate-error", "Error (linear)", None, 0),
                            _measure("check-certificate"),
                        ],
                    ),
                    _row(
                        "Measure the check piece each morning",
                        "Connect it to the end of the cable and take your hands away. Enter its "
                        "return loss (dB) if its maker states it.",
                        [
                            _spoken_label("check-piece-name", "Name of the check piece"),
                            dcc.Input(
                                id="check-piece-name", type="text", value=USUAL_NAME, maxLength=60
                            ),
                            *_number("check-piece-db", "Its return loss (dB)", None, 1),
                            html.Button(
                                "It is connected. Measure it.", id="check-piece", type="button"
                            ),
                        ],
                    ),
                    html.Div(id="check-piece-shown", role="status"),
                    _row(
                        "Test how well the connector repeats",
                        "Connect the same standard five times. Take it off each time.",
                        [html.Div(id="remake", className="choice", role="group")],
                    ),
                ],
                className="card",
            ),
            html.Div(
                [
                    html.H2("How accurate it is"),
                    html.P(id="trust-load"),
                    html.Div(id="costs"),
                    html.Button(
                        "What limits accuracy?",
                        id="work-costs-out",
                        type="button",
                        className="primary",
                    ),
                ],
                className="card",
            ),
        ],
        id="calibration-checks",
        hidden=True,
    )


def piece_panel(found: PieceReading, readings: Sequence[PieceReading]) -> list[Any]:
    """What a check piece shows: a sentence, and its chart over days."""
    shown: list[Any] = [html.P(plain(found.words), className="" if found.holds else "warning")]
    series = piece_series(readings)
    if series is None or not enough(series):
        return shown
    picture = base64.b64encode(control_chart_picture(series).svg().encode()).decode()
    shown += [html.P(plain(sentence)) for sentence in signals(series)]
    image = html.Img(src=f"data:image/svg+xml;base64,{picture}", alt=plain(series_words(series)))
    return [*shown, html.Div(image, className="picture")]


def _row(title: str, hint: str, fields: Sequence[Any]) -> html.Div:
    return html.Div(
        [
            html.Div([html.H3(title), html.P(hint, className="remark")]),
            html.Div(fields, className="fields"),
        ],
        className="check",
    )


def _number(name: str, label: str, value: float | None, least: float) -> list[Any]:
    field = dcc.Input(id=name, type="number", value=value, min=least, step="any", debounce=False)
    return [_spoken_label(name, label), field]


def _spoken_label(name: str, label: str) -> html.Label:
    """The name of a field for screen readers; what eyes read stands beside the row."""
    return html.Label(label, htmlFor=name, className="only-spoken")


def _measure(name: str) -> html.Button:
    return html.Button("Measure", id=name, type="button")


def second_load(return_loss_db: float | None, another: bool | None = None) -> MeasureDevice:
    """Another load is to be measured back. Raises DeviceError for a figure that is none.

    another : the person says that it is another piece, though it reads as the calibration's does.
    """
    if return_loss_db is None:
        raise DeviceError("Enter the load's return loss: a positive number from 6 to 80 dB.")
    load = {"name": "second load", "form": "load", "return_loss_db": return_loss_db}
    return _device(load | {"another": bool(another)})


def mismatch(vswr: float | None, tolerance: float | None) -> MeasureDevice:
    """A mismatch is to be measured back. Raises DeviceError for figures that are none."""
    if vswr is None or tolerance is None:
        raise DeviceError("Enter the mismatch's VSWR (1 or more) and its tolerance.")
    return _device({"name": "mismatch", "form": "vswr", "vswr": vswr, "tolerance": tolerance})


def certified(name: str | None, upload: str | None, error: float | None) -> MeasureDevice:
    """A device whose certificate was chosen is to be measured back.

    upload : as the browser hands a file over, "data:...;base64,...". Raises DeviceError,
    TouchstoneError.
    """
    if not name or not upload:
        raise DeviceError("Choose the certificate's Touchstone file first.")
    if error is None:
        raise DeviceError("Enter the certificate's error (linear, such as 0.004).")
    try:
        content = base64.b64decode(upload.partition(",")[2], validate=True)
    except binascii.Error as fault:
        raise DeviceError(f"{name} did not arrive complete. Choose it again.") from fault
    reading = parse_touchstone(content, name).reading
    table = {"name": name[:60], "form": "certificate", "file": name[:200], "error": error}
    return MeasureDevice(device_from_table(table, name, lambda _: reading))


def _device(table: dict[str, Any]) -> MeasureDevice:
    def no_file(_: str) -> Any:
        raise DeviceError("This device has no file.")

    return MeasureDevice(device_from_table(table, "named here", no_file))


def costs_table(budget: Budget, plan: Plan) -> list[Any]:
    """What the uncertainty costs in each band of the plan, what would help, what is assumed."""
    targets = {(each.low_hz, each.high_hz): each for each in plan.targets}
    found = rank_sensitivities(
        budget, [(span, each.limit.reflection) for span, each in targets.items()]
    )
    heads = ("Band", "Trust floor", "At the limit", "Main cause")
    rows = [_cost(targets[each.span].name, targets[each.span].link, each) for each in found]
    return [
        html.P(html.Strong(advice(found))),
        html.Div(
            html.Table(
                [
                    html.Thead(html.Tr([html.Th(head, scope="col") for head in heads])),
                    html.Tbody(rows),
                ]
            ),
            className="table",
        ),
        html.P(assumed_words(budget), className="remark"),
    ]


def _cost(name: str, link: str, ranking: SensitivityRanking) -> html.Tr:
    low_db, high_db = ranking.interval_db
    cause, share = ranking.shares[0]
    return html.Tr(
        [
            html.Th([name, html.Small("" if link == "both" else f" {link}")], scope="row"),
            html.Td(f"{ranking.floor_db:.1f} dB"),
            html.Td(f"{low_db:.1f} to {high_db:.1f} dB"),
            html.Td(f"{cause}, {share:.0%}"),
        ]
    )
