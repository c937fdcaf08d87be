"""A section of a line gated out: what a sweep would read without it, as far as that can be told.

The sweep is taken to delay, the section multiplied by a gate with soft edges, and taken back. At
both ends of the band the transform has points on one side only, so the outer parts of what comes
back are guessed: they are put right for a flat reflection in the middle of the section, and marked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.cable.distance_domain import Line, range_m, resolution_m, step_of
from calibration.errors import FaultError

EDGE_SHARE = 0.1
"""So much of the span at either end is not to be relied on [practice]."""
PADDING_FACTOR = 8

EDGE_WARNING = (
    "A gated trace is a diagnosis and no verdict: within {edge:.0f} MHz of either end of the sweep "
    "it is guessed, what the section hid from what lies behind it stays hidden, and a section "
    "shorter than the resolution takes its neighbours along."
)


@dataclass(frozen=True, slots=True, eq=False)
class Gated:
    """A sweep without a section of the line."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    reflection: ComplexArray
    """Shape (points,)."""
    sure: np.ndarray[tuple[int], np.dtype[np.bool_]]
    """False within a tenth of the span of either end."""
    warning: str


def gate_out(
    frequency_hz: FloatArray, reflection: ComplexArray, line: Line, low_m: float, high_m: float
) -> Gated:
    """Take a section of the line out of a sweep.

    frequency_hz, reflection : shape (points,), corrected, on one even grid, all finite.
    low_m, high_m : between which distances. The line's loss does not count: what is taken out is
    what the section adds to the reading.
    Raises FaultError where the section is none, or shorter than can be told apart.
    """
    width = resolution_m(frequency_hz, line.velocity_factor, 0.0)
    range_end_m = range_m(frequency_hz, line.velocity_factor)
    if not -width <= low_m < high_m <= range_end_m:
        raise FaultError(
            f"There is no section from {low_m:g} to {high_m:g} m: give two distances, the nearer "
            f"one first, from {-width:.2g} to {range_end_m:.3g} m."
        )
    if high_m - low_m < width:
        raise FaultError(
            f"A section of {high_m - low_m:.3g} m is shorter than the {width:.3g} m that this "
            "sweep can tell apart. Gate more, or sweep a wider span."
        )
    step_hz = step_of(frequency_hz)
    section = _kept(step_hz, reflection, line, low_m, high_m)
    middle = (low_m + high_m) / 2
    probe = np.exp(-4j * np.pi * frequency_hz * middle / line.speed_m_per_s)
    seen = _kept(step_hz, probe, line, low_m, high_m) / probe
    span_hz = float(frequency_hz[-1] - frequency_hz[0])
    edge_hz = EDGE_SHARE * span_hz
    sure = (frequency_hz >= frequency_hz[0] + edge_hz) & (
        frequency_hz <= frequency_hz[-1] - edge_hz
    )
    return Gated(
        frequency_hz, reflection - section / seen, sure, EDGE_WARNING.format(edge=edge_hz / 1e6)
    )


def _kept(
    step_hz: float, values: ComplexArray, line: Line, low_m: float, high_m: float
) -> ComplexArray:
    """What a section contributes, its gate's edges rounded over one width."""
    count = PADDING_FACTOR * values.size
    delay = np.fft.fftfreq(count, d=step_hz)  # of exp(-2 pi i f delay), there and back
    distance = (delay % (1 / step_hz)) * line.speed_m_per_s / 2
    low, high = low_m, high_m
    if low < 0:  # the connector's own peak reaches below 0, which is the far end of the range
        distance = np.where(distance > line.speed_m_per_s / (2 * step_hz) * 0.9,
                            distance - line.speed_m_per_s / (2 * step_hz), distance)  # fmt: skip
    soft = line.speed_m_per_s / (2 * step_hz * values.size) / 2
    gate = _rise(distance - low, soft) * _rise(high - distance, soft)
    spectrum = np.fft.ifft(values, count) * count
    kept: ComplexArray = np.fft.fft(spectrum * gate)[: values.size] / count
    return kept


def _rise(x: FloatArray, soft: float) -> FloatArray:
    """From 0 to 1 over one width about 0, as a raised cosine."""
    return 0.5 * (1 + np.sin(np.pi / 2 * np.clip(x / soft, -1, 1)))
