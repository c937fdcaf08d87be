"""Reflection against distance along a line.

A reflection g at the distance d is seen at the near end as g exp(-4j pi f d / v) 10^(-2 a(f) d/20),
v the speed on the line and a its loss a metre. So at each distance the sum over the sweep

    T(d) = sum of w_k G_k exp(+4j pi f_k d / v) 10^(+2 a(f_k) d/20) / sum of w_k         [derived]

with a Kaiser window w, is g again at the distance of the fault, its loss undone frequency by
frequency. Over a band without 0 Hz, T turns by half a turn each quarter wave, so its size is all
there is: an open and a short look alike. On a harmonic grid (every frequency a multiple of the
first) the sweep is carried on to 0 Hz and mirrored, T is real, and its sign tells them apart.

Two reflections closer than the impulse's -6 dB width are one; what lies beyond the unaliased range
v (N - 1) / (2 B) comes back in front.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.errors import FaultError
from calibration.plane.loss import M_PER_S, NO_LOSS, LossLaw

KAISER_BETA = 6.0
"""Kaiser's beta: sidelobes 44 dB below the peak, an impulse 1.6 times as wide as without [run]."""
SAMPLES_A_WIDTH = 8
"""Distances within one width."""
FEWEST_POINTS = 16
UNEVEN_STEP_SHARE = 0.01
"""Furthest a point may lie from its place on an even grid, as a part of a step: analyzers round."""
QUIET_RANGE_SHARE = (0.86, 0.97)
"""Part of the unaliased range in which nothing is expected: there the constant that 0 Hz adds is
read off. A line longer than that is not told on a harmonic grid."""


@dataclass(frozen=True, slots=True)
class Line:
    """What the distance is measured along."""

    velocity_factor: float
    loss: LossLaw = NO_LOSS
    """Of one metre; none leaves reflections as small as they arrive."""
    velocity_tolerance: float = 0.0
    """How far the velocity factor may be off."""
    loss_tolerance: float = 0.0
    """How far the loss may be off, as a part of it."""

    @property
    def speed_m_per_s(self) -> float:
        """On the line."""
        return self.velocity_factor * M_PER_S


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Reflection against distance."""

    distance_m: FloatArray
    """Shape (distances,), from a little before the connector to the end of the range."""
    reflection: ComplexArray
    """Shape (distances,), the loss up to there undone; real on a harmonic grid. Far beyond the
    line's end that makes much of nothing."""
    arrived: ComplexArray
    """The same as it arrives, no loss undone: what a peak must stand out of."""
    to_and_fro: ComplexArray
    """Of the reading squared, likewise: what a source match leaves is in proportion to it."""
    resolution_m: float
    """What lies closer together is one: the impulse's -6 dB width."""
    range_m: float
    """Unaliased: what lies beyond comes back in front."""
    signed: bool
    """True on a harmonic grid: an open can be told from a short."""
    beta: float
    line: Line
    middle_hz: float
    """The middle of the sweep."""

    @property
    def size(self) -> FloatArray:
        """|reflection|, shape (distances,)."""
        return np.abs(self.reflection)


@cache
def kaiser_width(beta: float) -> float:
    """-6 dB width of a Kaiser window's impulse, times the span [derived: its transform].

    sinh(sqrt(beta^2 - (pi u)^2)) / sqrt(beta^2 - (pi u)^2), u the width times the span.
    """
    u = np.linspace(0, 2 + beta, 200_001)
    below = _kaiser_transform(u, beta) < 0.5
    return float(2 * u[int(np.argmax(below))])


@cache
def kaiser_sidelobe(beta: float) -> float:
    """The largest sidelobe as a part of the peak, linear."""
    u = np.linspace(0, 6 + beta, 200_001)
    size = np.abs(_kaiser_transform(u, beta))
    null = int(np.argmax(np.diff(size) > 0))
    return float(size[null:].max())


def _kaiser_transform(u: FloatArray, beta: float) -> FloatArray:
    root = np.sqrt((beta**2 - (np.pi * u) ** 2).astype(np.complex128))
    small = np.abs(root) < 1e-9
    values = np.real(np.where(small, 1.0, np.sinh(root) / np.where(small, 1.0, root)))
    scale = np.sinh(beta) / beta if beta > 0 else 1.0
    result: FloatArray = values / scale
    return result


def step_of(frequency_hz: FloatArray) -> float:
    """The step of an even grid, Hz. Raises FaultError, with the place, where it is not even."""
    if frequency_hz.size < FEWEST_POINTS:
        raise FaultError(
            f"{frequency_hz.size} points show no distances. Sweep an even grid of 100 or more: "
            "`bandwright fault --range-m` says which."
        )
    step_hz = float(frequency_hz[-1] - frequency_hz[0]) / (frequency_hz.size - 1)
    even = frequency_hz[0] + step_hz * np.arange(frequency_hz.size)
    off = np.abs(frequency_hz - even)
    if off.max() > UNEVEN_STEP_SHARE * step_hz:
        at = int(np.argmax(np.abs(np.diff(frequency_hz) - step_hz)))
        raise FaultError(
            f"The grid is not even: from {frequency_hz[at] / 1e6:.6g} MHz the next point is "
            f"{(frequency_hz[at + 1] - frequency_hz[at]) / 1e6:.4g} MHz away, where "
            f"{step_hz / 1e6:.4g} is the mean. Distance needs one even grid: calibrate with --even."
        )
    return step_hz


def even_stretch(frequency_hz: FloatArray) -> slice:
    """The points of the widest even stretch of a grid. Raises FaultError where there is none.

    frequency_hz : shape (points,); bands swept apart make steps of several sizes.
    """
    steps = np.diff(frequency_hz)
    best = slice(0, 0)
    begin = 0
    for at in range(1, steps.size + 1):
        if at < steps.size and abs(steps[at] - steps[begin]) <= UNEVEN_STEP_SHARE * steps[begin]:
            continue
        if at - begin + 1 >= FEWEST_POINTS and (
            best.stop == 0
            or frequency_hz[at] - frequency_hz[begin]
            > frequency_hz[best.stop - 1] - frequency_hz[best.start]
        ):
            best = slice(begin, at + 1)
        begin = at
    if best.stop == 0:
        raise FaultError(
            f"No {FEWEST_POINTS} points in a row lie evenly apart, so the sweep shows no "
            "distances. Calibrate with --even for a grid that does."
        )
    return best


def is_harmonic(frequency_hz: FloatArray) -> bool:
    """True where every frequency of an even grid is a multiple of the first."""
    step_hz = step_of(frequency_hz)
    return bool(abs(frequency_hz[0] - step_hz) <= UNEVEN_STEP_SHARE * step_hz)


def resolution_m(
    frequency_hz: FloatArray, velocity_factor: float, beta: float = KAISER_BETA
) -> float:
    """How far apart two reflections must lie to be two, m: the impulse's -6 dB width."""
    step_hz = step_of(frequency_hz)
    span_hz = float(frequency_hz[-1] - frequency_hz[0])
    if is_harmonic(frequency_hz):
        span_hz = 2 * (span_hz + step_hz)  # mirrored about 0 Hz
    return kaiser_width(beta) * M_PER_S * velocity_factor / (2 * span_hz)


def range_m(frequency_hz: FloatArray, velocity_factor: float) -> float:
    """The unaliased range, m: v (N - 1) / (2 B)."""
    return M_PER_S * velocity_factor / (2 * step_of(frequency_hz))


def along(
    frequency_hz: FloatArray, reflection: ComplexArray, line: Line, beta: float = KAISER_BETA
) -> Trace:
    """Reflection against distance.

    frequency_hz, reflection : shape (points,), corrected, on one even grid, all finite.
    beta : of the Kaiser window; more is quieter and wider.
    Raises FaultError where the grid is not even, a point is missing, or the figures make no sense.
    """
    if not 0.3 <= line.velocity_factor <= 1 or not 0 <= beta <= 20:
        raise FaultError(
            f"A velocity factor lies between 0.3 and 1, a window's beta between 0 and 20; not "
            f"{line.velocity_factor:g} and {beta:g}."
        )
    if not np.isfinite(reflection).all():
        raise FaultError("Some points were not measured. Sweep again: distance needs every one.")
    width = resolution_m(frequency_hz, line.velocity_factor, beta)
    range_end_m = range_m(frequency_hz, line.velocity_factor)
    distance = np.arange(-width, range_end_m, width / SAMPLES_A_WIDTH)
    signed = is_harmonic(frequency_hz)
    points = frequency_hz.size
    window = np.kaiser(2 * points + 1, beta)[points + 1 :] if signed else np.kaiser(points, beta)
    weighted = reflection * window
    lossless = Line(line.velocity_factor)
    arrived = _summed(frequency_hz, weighted, distance, lossless)
    squared = _summed(frequency_hz, weighted * reflection, distance, lossless)
    compensated = arrived
    if line.loss != NO_LOSS:
        compensated = _summed(frequency_hz, weighted, distance, line)
    if signed:
        total = 1 + 2 * window.sum()
        # what 0 Hz adds is the same everywhere, and nothing comes from beyond the line's end
        quiet = (distance > QUIET_RANGE_SHARE[0] * range_end_m) & (
            distance < QUIET_RANGE_SHARE[1] * range_end_m
        )
        at_zero = float(-np.median(2 * arrived.real[quiet]))
        compensated, arrived = (
            ((2 * each.real + at_zero) / total).astype(np.complex128)
            for each in (compensated, arrived)
        )
        squared = (2 * squared.real / total).astype(np.complex128)
    else:
        compensated, arrived, squared = (
            each / window.sum() for each in (compensated, arrived, squared)
        )
    return Trace(
        distance,
        compensated,
        arrived,
        squared,
        width,
        range_end_m,
        signed,
        beta,
        line,
        float(frequency_hz[0] + frequency_hz[-1]) / 2,
    )


def _summed(
    frequency_hz: FloatArray, weighted: ComplexArray, distance_m: FloatArray, line: Line
) -> ComplexArray:
    neper_per_m = 2 * line.loss.db(frequency_hz) * np.log(10) / 20
    way = neper_per_m + 4j * np.pi * frequency_hz / line.speed_m_per_s
    total = np.empty(distance_m.size, dtype=np.complex128)
    for part in np.array_split(np.arange(distance_m.size), max(distance_m.size // 512, 1)):
        total[part] = np.exp(np.outer(distance_m[part], way)) @ weighted
    return total
