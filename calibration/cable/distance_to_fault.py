"""Distance to fault: what stands out of a line's reflections, where, and how sure that is.

How far a reflection may be off (about 95 %): what a calibration leaves of its three terms sits at
the connector and changes slowly along frequency, so of a reflection r further along it leaves the
tracking's part of r, the source match's part of what went to and fro, T of G^2, and of directivity
only what the window's sidelobes let through; at the connector all of it. To that come the
sidelobes of the other reflections, noise, and of what is undone the loss's own doubt. The distance
is as sure as the velocity factor, and as the top of a peak that much disturbed.          [derived]
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from acquire.sweep import FloatArray
from calibration.cable.distance_domain import Trace, kaiser_sidelobe
from calibration.uncertainty.interval import Residuals

ABOVE_SIDELOBES = 2.0
"""A peak stands out if it is so many times what the window's sidelobes explain."""
LOBE_WIDTHS = 2.0
"""Within so many widths of the range's end, what is at the connector comes back."""
NOISE_TIMES = 4.0
RANDOM_TIMES = 2.45
"""Of an rms, for 95 % of a complex scatter [derived: sqrt(-2 ln 0.05), in one direction less]."""
LEAST_PEAK = 0.003
"""50 dB: less is nobody's fault."""
FULL_RETURN = 0.7
"""What returns so much is an end, open or shorted."""

Kind = Literal["at the connector", "open end", "short", "end, open or short", "fault",
               "higher impedance", "lower impedance", "behind it", "not proven"]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Peak:
    """One reflection along the line."""

    distance_m: float
    size: float
    """|reflection| there, its way undone as far as the loss is stated; linear."""
    kind: Kind
    sign: int = 0
    """1: towards an open, a higher impedance; -1: towards a short; 0: cannot be told."""
    distance_off_m: float = 0.0
    """How far the distance may be off, about 95 %."""
    size_off: float = 0.0
    """How far the size may be off, about 95 %; what lies nearer dims it besides."""

    @property
    def return_loss_db(self) -> float:
        """Of this reflection by itself, dB, positive."""
        return float(-20 * np.log10(self.size))


def peaks(trace: Trace, noise: float = 0.0, left: Residuals | None = None) -> tuple[Peak, ...]:
    """The reflections that stand out of a trace, nearest first.

    noise : of the trace, rms, linear: that of a frequency over the root of their number. A peak
    must exceed, as it arrives, what the sidelobes of all others can explain, and the noise.
    left : what the calibration leaves of its error terms; None takes them for exact. The error of
    its load shows as a reflection at the connector, so what is no larger there is not proven.
    What follows the largest one is what hangs at the line's end, or goes to and fro.
    """
    arrived, compensated = np.abs(trace.arrived), trace.size
    least = max(
        LEAST_PEAK,
        NOISE_TIMES * noise,
        ABOVE_SIDELOBES * kaiser_sidelobe(trace.beta) * float(arrived.max()),
    )
    first = -trace.resolution_m / 2
    last = trace.range_m - LOBE_WIDTHS * trace.resolution_m
    inside = (trace.distance_m > first) & (trace.distance_m < last)
    tops = 1 + np.flatnonzero(
        (arrived[1:-1] >= arrived[:-2]) & (arrived[1:-1] > arrived[2:]) & inside[1:-1]
    )
    peak_uncertainty = _PeakUncertainty.of(trace, noise, left)
    found: list[Peak] = []
    for at in sorted(tops.tolist(), key=lambda top: -arrived[top]):
        if arrived[at] <= least:
            break
        where, _ = _top(trace.distance_m, arrived, at)
        if any(abs(where - other.distance_m) < trace.resolution_m for other in found):
            continue
        height = _top(trace.distance_m, compensated, at)[1]
        sign = int(np.sign(trace.arrived[at].real)) if trace.signed else 0
        kind = _kind(where, height, sign, trace.resolution_m)
        if kind == "at the connector" and height <= peak_uncertainty.directivity:
            kind = "not proven"
        off_m, size_off = peak_uncertainty.of_peak(trace, at, height, others=bool(tops.size > 1))
        found.append(Peak(max(where, 0.0), height, kind, sign, off_m, size_off))
    end = max(found, key=lambda each: each.size, default=None)
    return tuple(
        replace(each, kind="behind it") if end is not None and each.distance_m > end.distance_m
        else each
        for each in sorted(found, key=lambda each: each.distance_m)
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _PeakUncertainty:
    """What may disturb a peak, linear; see the head of this file."""

    directivity: float
    tracking: float
    source_match: float
    noise: float
    sidelobe: float
    largest: float
    """The largest reflection of all, as it arrives."""

    @classmethod
    def of(cls, trace: Trace, noise: float, left: Residuals | None) -> _PeakUncertainty:
        directivity, tracking, source_match = (
            (0.0, 0.0, 0.0)
            if left is None
            else (
                float(np.median(each))
                for each in (left.directivity, left.tracking, left.source_match)
            )
        )
        return cls(
            directivity,
            tracking,
            source_match,
            RANDOM_TIMES * noise,
            kaiser_sidelobe(trace.beta),
            float(np.abs(trace.arrived).max()),
        )

    def of_peak(self, trace: Trace, at: int, height: float, *, others: bool) -> tuple[float, float]:
        """How far distance, m, and size of the peak at a sample may be off."""
        distance, size = float(trace.distance_m[at]), float(np.abs(trace.arrived[at]))
        near = abs(distance) < LOBE_WIDTHS * trace.resolution_m
        off = (
            self.directivity * (1.0 if near else self.sidelobe)
            + self.tracking * size
            + self.source_match * float(np.abs(trace.to_and_fro[at]))
            + self.noise
            + (self.sidelobe * self.largest if others else 0.0)
        )
        line = trace.line
        uncertain_db = (
            2
            * max(distance, 0.0)
            * line.loss_tolerance
            * float(line.loss.db(np.array(trace.middle_hz)))
        )
        metres = trace.resolution_m * off / size + abs(distance) * (
            line.velocity_tolerance / line.velocity_factor
        )
        return metres, off * height / size + height * (10 ** (uncertain_db / 20) - 1)


def _top(x: FloatArray, size: FloatArray, at: int) -> tuple[float, float]:
    """Where a parabola through three points is highest, and how high."""
    below, here, above = size[at - 1 : at + 2]
    bend = below - 2 * here + above
    shift = 0.0 if bend == 0 else 0.5 * (below - above) / bend
    return float(x[at] + shift * (x[1] - x[0])), float(here - 0.25 * (below - above) * shift)


def _kind(distance_m: float, size: float, sign: int, width_m: float) -> Kind:
    if distance_m < width_m / 2:
        return "at the connector"
    if sign == 0:
        return "end, open or short" if size > FULL_RETURN else "fault"
    if size > FULL_RETURN:
        return "open end" if sign > 0 else "short"
    return "higher impedance" if sign > 0 else "lower impedance"
