"""A line looked along: what it reflects, where, what that means, and what a section does to bands.

Page, terminal, record and report say the same of it, in these words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acceptance.cable.fault_causes import Finding, read_ripple
from acceptance.cable.verdict_through_cable import Wanted
from acceptance.limits.match import return_loss_db
from acceptance.tuning.touch_test import Touch
from acceptance.verdict.band_verdict import known
from acquire.coverage.spans import Span, span_words
from acquire.sweep import ComplexArray, FloatArray
from calibration.cable.distance_domain import Trace, along, even_stretch
from calibration.cable.distance_to_fault import Peak, peaks
from calibration.cable.time_gating import Gated, gate_out
from calibration.files.line_file import LineToInspect
from calibration.plane.loss import NO_LOSS
from calibration.uncertainty.interval import Residuals


@dataclass(frozen=True, slots=True)
class GatedBand:
    """One band's worst return loss, with a section of the line and without it."""

    name: str
    was_db: float | None
    """None where the band was not swept."""
    now_db: float | None
    """None where that is guessed, at the end of the sweep."""

    @property
    def cells(self) -> tuple[str, str]:
        """Both, in words."""
        return (
            "not swept" if self.was_db is None else f"{self.was_db:.1f} dB",
            "" if self.was_db is None
            else "at the end" if self.now_db is None
            else f"{self.now_db:.1f} dB",
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class LineReflections:
    """All that one sweep shows of a line."""

    inspected: LineToInspect
    span: Span
    """The even stretch that was used, Hz."""
    left_out: bool
    """True where the sweep holds more than that."""
    read: ComplexArray
    """The reading there, shape (points,)."""
    trace: Trace
    peaks: tuple[Peak, ...]
    findings: tuple[Finding, ...]
    gated: Gated | None
    bands: tuple[GatedBand, ...]

    @property
    def shown(self) -> tuple[Peak, ...]:
        """The peaks up to the line's end."""
        return tuple(each for each in self.peaks if each.kind != "behind it")

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """Of each peak shown: where, how large, as return loss, what it is."""
        return tuple(
            (
                f"{each.distance_m:.3f} ± {each.distance_off_m:.3f} m",
                f"{each.size:.3f} ± {each.size_off:.3f}",
                f"{each.return_loss_db:.1f} dB",
                "the line's end" if each is self.shown[-1] and each.kind == "fault" else each.kind,
            )
            for each in self.shown
        )

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the figures rest on, and what they mean."""
        trace, line = self.trace, self.trace.line
        sentences = ["Nothing stands out."]
        if self.shown:
            behind = len(self.peaks) - len(self.shown)
            more = f"; {behind} more behind it: the antenna's own, or to and fro" if behind else ""
            end = self.shown[-1]
            taken = (
                "lies at the connector itself"
                if end.kind == "at the connector"
                else "is taken for the line's end"
            )
            sentences = [f"The largest, at {end.distance_m:.3f} m, {taken}{more}."]
        lossy = "as they arrive" if line.loss == NO_LOSS else "the cable's loss undone"
        sentences.append(
            f"Velocity factor {line.velocity_factor:g}, sizes {lossy}. Two reflections closer than "
            f"{trace.resolution_m * 1e3:.0f} mm are one; up to {trace.range_m:.2f} m, beyond that "
            "they come back in front."
        )
        if self.left_out:
            sentences.append(
                f"Only {span_words(self.span)} is one even grid; the rest of the sweep is left "
                "aside. To see further or finer, let go of the port and calibrate with `bandwright "
                "calibrate --even`."
            )
        if not trace.signed:
            sentences.append(
                "Whether an end is open or short cannot be told from this sweep: it takes a grid "
                "whose every frequency is a multiple of the first, from its step upwards."
            )
        return (*sentences, *(each.text for each in self.findings))

    def as_json(self) -> dict[str, object]:
        """What a record's verdict and `fault --json` tell, but for the trace."""
        trace = self.trace
        return {
            "line": self.inspected.words,
            "low_hz": self.span[0],
            "high_hz": self.span[1],
            "velocity_factor": trace.line.velocity_factor,
            "loss_undone": trace.line.loss != NO_LOSS,
            "beta": trace.beta,
            "resolution_m": trace.resolution_m,
            "range_m": trace.range_m,
            "open_told_from_short": trace.signed,
            "peaks": [
                {
                    "distance_m": each.distance_m,
                    "distance_uncertainty_m": each.distance_off_m,
                    "size": each.size,
                    "size_uncertainty": each.size_off,
                    "return_loss_db": each.return_loss_db,
                    "kind": each.kind,
                }
                for each in self.peaks
            ],
            "findings": [
                {"what": each.what, "distance_m": each.distance_m, "text": each.text}
                for each in self.findings
            ],
            "gated": None
            if self.gated is None
            else {
                "section_m": list(self.inspected.gate_m or ()),
                "warning": self.gated.warning,
                "bands": [
                    {
                        "name": each.name,
                        "worst_return_loss_db": known(each.was_db),
                        "without_it_db": known(each.now_db),
                    }
                    for each in self.bands
                ],
            },
        }

    def as_csv(self) -> str:
        """The trace, one line a distance."""
        rows = zip(
            self.trace.distance_m.tolist(),
            self.trace.reflection.real.tolist(),
            self.trace.size.tolist(),
            strict=True,
        )
        lines = ["distance_m,real,size", *(f"{m!r},{real!r},{size!r}" for m, real, size in rows)]
        return "".join(f"{each}\r\n" for each in lines)


def inspect_line(
    inspected: LineToInspect,
    frequency_hz: FloatArray,
    reflection: ComplexArray,
    *,
    left: Residuals | None = None,
    noise: float = 0.0,
    wanted: Sequence[Wanted] = (),
    touch: Touch | None = None,
) -> LineReflections:
    """Look along a line, on the widest even stretch of a sweep.

    frequency_hz, reflection : shape (points,), corrected at the connector. left : what the
    calibration leaves of its terms, likewise. noise : of a frequency, rms, linear.
    wanted : bands to be shown with the section that is asked for, and without it.
    touch : what a touch test showed, if there was one.
    Raises FaultError where no stretch is even, a point is missing, or there is no such section.
    """
    part = even_stretch(frequency_hz)
    grid, seen = frequency_hz[part], reflection[part]
    trace = along(grid, seen, inspected.line, inspected.beta)
    if left is not None:
        left = Residuals(left.directivity[part], left.tracking[part], left.source_match[part])
    found = peaks(trace, noise / float(np.sqrt(grid.size)), left)
    gated = (
        None
        if inspected.gate_m is None
        else gate_out(grid, seen, inspected.line, *inspected.gate_m)
    )
    return LineReflections(
        inspected,
        (float(grid[0]), float(grid[-1])),
        grid.size < frequency_hz.size,
        seen,
        trace,
        found,
        read_ripple(trace, found, touch),
        gated,
        () if gated is None else tuple(_band(each, gated, seen) for each in wanted),
    )


def _band(wanted: Wanted, gated: Gated, as_read: ComplexArray) -> GatedBand:
    inside = (gated.frequency_hz >= wanted.span[0]) & (gated.frequency_hz <= wanted.span[1])
    if not inside.any():
        return GatedBand(wanted.name, None, None)
    was, now = (
        float(return_loss_db(np.abs(values[inside]).max()))
        for values in (as_read, gated.reflection)
    )
    return GatedBand(wanted.name, was, now if gated.sure[inside].all() else None)
