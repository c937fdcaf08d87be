"""The cable as a page: what the sweep of this moment shows along it, and what a section does.

Served whole, as the records are, from the newest sweep at the connector; nothing here changes the
bench. A cable is told by its type or its figures, in the words of `calibration.files.line_file`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

import numpy as np

from acceptance.cable.cable_faults import LineReflections, inspect_line
from acceptance.cable.verdict_through_cable import Wanted
from acceptance.pictures.cable_picture import line_picture
from acceptance.pictures.sweep_pictures import Trace, overview
from acquire.errors import BandwrightError
from acquire.sweep import ComplexArray, FloatArray
from calibration.cable.fault_sweep import FaultPlan, plan_fault
from calibration.errors import FaultError
from calibration.files.line_file import LineToInspect, parse_typed_line
from calibration.files.store import load_cable_types
from calibration.uncertainty.interval import Residuals, residuals
from calibration.verification.reading_budget import ReadingBudget, noise_in
from dashboard.bench.composed_bench import Bench
from dashboard.bench.snapshot import Snapshot
from dashboard.errors import NotNowError
from dashboard.server.page_template import Answer, FormValues, PicturePair, page_answer
from dashboard.source_words import WHAT_IT_IS

T = TypeVar("T")
USUAL = "ptfe-2.5mm"
"""The cable that is offered first: the pigtail most antennas hang on [practice]."""
USUAL_RESOLUTION_MM = 100.0


def cable_page(bench: Bench) -> Answer:
    """Serve the page, `/cable?cable=ptfe-2.5mm&gate=0.5-1.5`; all of it may be left out."""

    return page_answer(lambda form: ("cable", page_values(bench, form)))


def page_values(bench: Bench, form: FormValues) -> dict[str, Any]:
    """What the page says; where something cannot be shown, why, beside all that can."""
    refused: list[str] = []

    def try_to(make: Callable[[], T]) -> T | None:
        try:
            return make()
        except BandwrightError as error:
            refused.append(str(error))
            return None

    types = load_cable_types()
    cable = form.cable or ("" if form.velocity else USUAL)
    cable_text = " ".join(each for each in (cable, form.velocity, form.loss) if each)
    line = try_to(lambda: parse_typed_line(cable_text, types, gate=form.gate or None))
    now = bench.snapshot()
    reading = try_to(lambda: _Reading.of(now))
    seen = (
        None if line is None or reading is None else try_to(lambda: _see_cable(line, reading, now))
    )
    planned = None
    if line is not None and form.range:
        planned = try_to(lambda: _plan_sweep(line, bench, form))
    return {
        "form": form,
        "cable": cable,
        "cables": [(name, each.label) for name, each in types.items()],
        "refused": refused,
        "seen": seen,
        "picture": None if seen is None else PicturePair.by(partial(line_picture, seen)),
        "gated_picture": None if seen is None else _gated_picture(seen, now),
        "taken": _taken_words(now),
        "planned": planned,
        "port": now.port.address,
    }


@dataclass(frozen=True, slots=True, eq=False)
class _Reading:
    """The newest sweep at the connector."""

    frequency_hz: FloatArray
    reflection: ComplexArray
    left: Residuals
    noise: float
    """Of a frequency, rms, linear."""

    @classmethod
    def of(cls, now: Snapshot) -> _Reading:
        """Raises NotNowError while there is none."""
        calibration = now.calibration.calibration
        if calibration is None or now.calibration.phase != "held":
            raise NotNowError(
                "Distances take a calibration: raw readings show the analyzer's own errors. "
                "Calibrate "
                "on the bench (key c), then look again."
            )
        if now.averaged is None:
            raise NotNowError("Nothing was swept yet. Look again when the first sweep is in.")
        corrected = calibration.correct(now.averaged.sweep)
        budget = ReadingBudget(now.assumptions).budget(
            calibration, corrected, now.averaged, swept=now.swept
        )
        noise = noise_in(budget, corrected.reflection)
        return cls(corrected.frequency_hz, corrected.reflection, residuals(budget), noise)


def _see_cable(line: LineToInspect, reading: _Reading, now: Snapshot) -> LineReflections:
    return inspect_line(
        line,
        reading.frequency_hz,
        reading.reflection,
        left=reading.left,
        noise=reading.noise,
        wanted=() if now.plan is None else Wanted.of_plan(now.plan),
        touch=now.touch.result,
    )


def _gated_picture(seen: LineReflections, now: Snapshot) -> PicturePair | None:
    """The sweep over frequency as it was read, and without the section."""
    if seen.gated is None:
        return None
    gated = seen.gated
    kept = np.where(gated.sure, gated.reflection, complex(np.nan, np.nan))
    traces = [
        Trace("as read", gated.frequency_hz, seen.read),
        Trace("without the section", gated.frequency_hz, kept),
    ]
    low, high = seen.span
    bands = [] if now.verdict is None else now.verdict.bands
    inside = [each for each in bands if low <= each.low_hz and each.high_hz <= high]
    title = "With the section and without"
    return PicturePair.by(lambda width, high: overview(width, high, traces, inside, title=title))


def _plan_sweep(line: LineToInspect, bench: Bench, form: FormValues) -> FaultPlan:
    range_m = _number(form.range, "m")
    apart_mm = _number(form.resolution, "mm") if form.resolution else USUAL_RESOLUTION_MM
    limits = bench.passes.limits
    if limits is None:
        raise NotNowError(
            "Which sweep is possible hangs on the analyzer, and it has not answered yet. Connect "
            "it."
        )
    return plan_fault(range_m, apart_mm / 1e3, line.line.velocity_factor, limits, line.beta)


def _number(text: str, unit: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not 0 < value < 1e6:
        raise FaultError(f'"{text}" is no length. Write it in {unit}: 5.')
    return value


def _taken_words(now: Snapshot) -> str:
    """When the sweep was taken, and what it is."""
    if now.sweep is None:
        return ""
    at = now.sweep.taken_at.astimezone()
    what = WHAT_IT_IS[now.sweep.source.kind]
    mixed = " Part of it is newer than the rest." if now.watched is not None else ""
    stale = "" if now.fresh else " No sweep has come since."
    return (
        f"Sweep {now.sequence}, {at:%H:%M:%S}, at the end of the calibrated cable."
        f"{mixed}{stale}{f' {what}.' if what else ''}"
    )
