"""A sweep as a file, in the form its name asks for: numbers for programs, a picture for people.

The page's own and the command line's files are the same.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

import numpy as np

from acceptance.bands.band_table import Span
from acceptance.pictures.screen_picture import Shown, saved_picture
from acceptance.pictures.sweep_pictures import MarkedPoint, Trace
from acceptance.record.acceptance_record import touchstone_of
from acceptance.report.report_text import plane_sentence
from acceptance.report.sweep_export import as_csv, as_object
from acceptance.report.typesetting import png
from acceptance.verdict.plan_verdict import Verdict
from acceptance.version import software
from acquire.printable_text import plain
from acquire.sweep import Plane, Sweep
from calibration.uncertainty.interval import Interval
from dashboard.source_words import WHAT_IT_IS

FORMS = {
    ".s1p": "application/octet-stream",
    ".csv": "text/csv",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
}
"""What a file may be, by the end of its name, and what a browser is told of it."""


def sweep_file(
    taken: Sweep,
    suffix: str,
    uncertainty: Interval | None = None,
    verdict: Verdict | None = None,
    *,
    held: Sequence[tuple[str, Sweep]] = (),
    shown: Shown = "loss",
    part: Span | None = None,
    marked: Sequence[MarkedPoint] = (),
) -> bytes:
    """The content of a file of a sweep.

    suffix : of its name. .csv and .json hold the interval too, where it is known; .svg and .png
    are a picture; all else is Touchstone, with plane, time and analyzer in its comments.
    held : what a picture holds it against, each with its name. shown : what a picture plots;
    impedances are plotted of corrected readings alone. part : the range of frequencies, Hz, that a
    picture's large plot and a table show; None: all. marked : points that carry a number there.
    """

    def picture() -> str:
        traces = [
            Trace.of(taken, uncertainty, "now"),
            *(Trace.of(sweep, label=plain(name)) for name, sweep in held),
        ]
        title, lines = _heading(taken, verdict)
        plotted: Shown = shown
        if taken.plane is Plane.RAW:
            plotted = "vswr" if shown == "vswr" else "loss"
        drawing = saved_picture(traces, verdict, plotted, title, lines, part=part, marked=marked)
        return drawing.svg()

    match suffix.lower():
        case ".csv":
            alike = [
                (plain(name), sweep)
                for name, sweep in held
                if np.array_equal(sweep.frequency_hz, taken.frequency_hz)
            ]
            return as_csv(taken, uncertainty, part=part, held=alike).encode()
        case ".json":
            text = json.dumps(as_object(taken, uncertainty, verdict), indent=1, allow_nan=False)
            return f"{text}\n".encode()
        case ".svg":
            return picture().encode()
        case ".png":
            return png(picture())
        case _:
            de_embedding = None if verdict is None else verdict.de_embedding
            return touchstone_of(
                taken, "", software(), "" if de_embedding is None else de_embedding.words
            )


def _heading(taken: Sweep, verdict: Verdict | None) -> tuple[str, list[str]]:
    """A picture's title, and what a reader must know below it."""
    at = taken.taken_at.astimezone()
    lines = [
        f"{at:%Y-%m-%d %H:%M:%S %z}, sweep {taken.sequence} of {plain(taken.source.analyzer)}. "
        f"{software()}.",
        plane_sentence(taken.plane, None if verdict is None else verdict.de_embedding),
        WHAT_IT_IS[taken.source.kind],
    ]
    title = "No verdict" if verdict is None else plain(verdict.plan)
    return title, [line for line in lines if line]
