"""The reflection across one band, edge to edge, or the reason why it cannot be told.

Only points from the one at or below the lower edge to the one at or above the upper edge are
used, so what lies further away changes nothing.

Between points the reflection is followed with the delay taken out: the feed cable turns the
phase quickly and evenly, and only what is left is smooth enough to interpolate. Interpolating
without that makes a match look better than it is: 0.13, 0.44 and 1.25 dB at 20, 36 and 60
degrees a step [run].

What may hide between two points is told step by step: a cubic is followed between them, and what
leaving a point out shows to be missed may come on top. That finds a resonance as narrow as one
step; of a narrower one the readings know nothing.
"""

from __future__ import annotations

import cmath
from dataclasses import dataclass, replace

import numpy as np

from acceptance.bands.band_table import Span
from acceptance.verdict.hidden_between import hidden_between
from acquire.sweep import ComplexArray, FloatArray

TOLERANCE_HZ = 1.0
"""A point this close to an edge is on it: analyzers round their frequencies."""
LEAST_POINTS = 3
"""Measured points a band must hold, edges included: fewer show no curve."""
LARGEST_STEP = 0.02
"""Widest step, as a fraction of the frequency: a hand-built antenna's narrowest resonance is a
few per cent wide [practice], and must not fit between two points."""
MOST_TURN_DEG = 90.0
"""Most phase a step may turn by delay. Beyond 180 degrees its sense is lost, and nothing in the
readings tells a full turn from none."""
MOST_SAG = 0.02
"""Furthest the reflection may leave the straight line between two points. At a 10 dB limit it is
half a decibel."""
NEGLIGIBLE_REFLECTION = MOST_SAG / 2
"""What is no larger leaves the line by no more than that, however it turns. So reads a load, whose
phase is noise."""
STENCIL_POINTS = 4


@dataclass(frozen=True, slots=True, eq=False)
class BandCurve:
    """What a band is judged by."""

    frequency_hz: FloatArray
    """Shape (points,), increasing, from the lower edge to the upper."""
    reflection: ComplexArray
    """Shape (points,); the first and last are interpolated where no point lies on the edge."""
    error: FloatArray
    """Shape (points,): how far interpolation may be off, in |reflection|; 0 where measured."""
    hidden: FloatArray
    """Shape (points,): how far |reflection| may rise above this point, where it is the larger end
    of a step, before the next one; 0 where it does not."""
    step_hz: float
    """The widest step: what resonates in less cannot be seen."""


@dataclass(frozen=True, slots=True, eq=False)
class Gap:
    """Why a band counts as not measured."""

    reason: str
    """One sentence, with the cure."""
    measured: BandCurve | None = None
    """Where only the grid is too coarse, the points measured in the band: what lies between them
    can hide a fail, but not undo one. None where readings are missing."""


def band_curve(frequency_hz: FloatArray, reflection: ComplexArray, span: Span) -> BandCurve | Gap:
    """Cut a band out of a reading.

    frequency_hz, reflection : shape (points,), strictly increasing; reflection not finite
        where a point was not measured.
    span : (low_hz, high_hz), the lower first.
    """
    low_hz, high_hz = span
    within = around(frequency_hz, span)
    if within is None:
        return _uncovered(frequency_hz, span)
    frequency, values = frequency_hz[within], reflection[within]
    unread_hz = frequency[~np.isfinite(values)]
    if unread_hz.size:
        more = f" and {unread_hz.size - 1} more" if unread_hz.size > 1 else ""
        return Gap(
            f"No reading at {_mhz(float(unread_hz[0]))} MHz{more}, in the band or next to "
            "its edge. Measure again."
        )
    low_on = bool(frequency[0] >= low_hz - TOLERANCE_HZ)
    high_on = bool(frequency[-1] <= high_hz + TOLERANCE_HZ)
    inside = slice(int(not low_on), frequency.size - int(not high_on))
    steps = frequency[1:] - frequency[:-1]
    none = np.zeros(frequency[inside].size)
    measured = BandCurve(frequency[inside], values[inside], none, none, float(steps.max()))
    reason = _too_few(frequency, steps, span, measured.frequency_hz.size)
    if reason:
        return Gap(reason, measured if measured.frequency_hz.size else None)
    delay_s = _delay(steps, values) if np.abs(values).max() > NEGLIGIBLE_REFLECTION else 0.0
    still = values * np.exp(2j * np.pi * delay_s * (frequency - frequency[0]))
    reason = _too_coarse(frequency, steps, still, delay_s)
    if reason:
        return Gap(reason, measured)
    curve = _with_edges(
        measured,
        frequency,
        still,
        delay_s=delay_s,
        missing=[(0, low_hz)] * (not low_on) + [(-1, high_hz)] * (not high_on),
    )
    size = np.abs(curve.reflection) + curve.error
    return replace(curve, hidden=hidden_between(frequency, still, curve.frequency_hz, size))


def around(frequency_hz: FloatArray, span: Span) -> slice | None:
    """The points from the one at or below the lower edge to the one at or above the upper; None
    where the band reaches beyond them."""
    low_hz, high_hz = span
    first = int(np.searchsorted(frequency_hz, low_hz + TOLERANCE_HZ, side="right")) - 1
    last = int(np.searchsorted(frequency_hz, high_hz - TOLERANCE_HZ, side="left"))
    return None if first < 0 or last == frequency_hz.size else slice(first, last + 1)


def value_between(
    frequency_hz: FloatArray, reflection: ComplexArray, at_hz: float
) -> tuple[complex, float] | None:
    """The reflection at a frequency between two points, and how far it may be off, linear.

    frequency_hz, reflection : shape (points,), increasing; not finite where not measured. Followed
    as at a band's edge, through the points next to it. None where the step around it is wider than
    can be followed, or what bounds it was not measured.
    """
    after = int(np.searchsorted(frequency_hz, at_hz))
    if not 0 < after < frequency_hz.size:
        return None
    known = np.isfinite(reflection[after - 1 : after + 1])
    widest = LARGEST_STEP * at_hz
    if not known.all() or frequency_hz[after] - frequency_hz[after - 1] > widest:
        return None
    first, last = after - 1, after
    while last - first + 1 < STENCIL_POINTS:
        down = first > 0 and _goes_on(frequency_hz, reflection, first - 1, first, widest)
        up = last + 1 < frequency_hz.size and _goes_on(
            frequency_hz, reflection, last + 1, last, widest
        )
        nearer_below = down and (not up or at_hz - frequency_hz[first] < frequency_hz[last] - at_hz)
        if not (down or up):
            break
        first, last = (first - 1, last) if nearer_below else (first, last + 1)
    near = slice(first, last + 1)
    grid, values = frequency_hz[near], reflection[near]
    delay_s = _delay(np.diff(grid), values)
    still = values * np.exp(2j * np.pi * delay_s * (grid - at_hz))
    order = np.argsort(np.abs(grid - at_hz), kind="stable")
    return _interpolate(grid[order], still[order], at_hz)


def _goes_on(
    frequency_hz: FloatArray, reflection: ComplexArray, to: int, beside: int, widest_hz: float
) -> bool:
    """True where the next point was measured, and lies no further away than can be followed."""
    step_hz = abs(float(frequency_hz[to] - frequency_hz[beside]))
    return step_hz <= widest_hz and bool(np.isfinite(reflection[to]))


def _uncovered(frequency_hz: FloatArray, span: Span) -> Gap:
    low_hz, high_hz = span
    bottom_hz, top_hz = float(frequency_hz[0]), float(frequency_hz[-1])
    missing = []
    if top_hz < low_hz or bottom_hz > high_hz:
        missing.append(span)
    else:
        if bottom_hz > low_hz + TOLERANCE_HZ:
            missing.append((low_hz, bottom_hz))
        if top_hz < high_hz - TOLERANCE_HZ:
            missing.append((top_hz, high_hz))
    parts = " and ".join(f"{_mhz(low)}-{_mhz(high)} MHz" for low, high in missing)
    return Gap(
        f"{parts} not covered: the readings run from {_about(bottom_hz, low_hz)} to "
        f"{_about(top_hz, high_hz)} MHz. "
        "Sweep the whole band."
    )


def _about(frequency_hz: float, edge_hz: float) -> str:
    """A frequency to the kHz; with every digit where a band's edge is nearer than that."""
    near = abs(frequency_hz - edge_hz) < 1e3
    return _mhz(frequency_hz if near else round(frequency_hz, -3))


def _mhz(frequency_hz: float) -> str:
    """Write a frequency with the digits it needs and no more: 832, 868.5, 832.000002."""
    return f"{frequency_hz / 1e6:.6f}".rstrip("0").rstrip(".")


def _too_few(frequency: FloatArray, steps: FloatArray, span: Span, inside: int) -> str:
    low_hz, high_hz = span
    if inside < LEAST_POINTS:
        return (
            f"Too coarse: {inside} measured point(s) in the band where {LEAST_POINTS} are needed. "
            f"Sweep in steps of {(high_hz - low_hz) / (LEAST_POINTS + 1) / 1e6:.3g} MHz or finer."
        )
    widest = int(np.argmax(steps / frequency[1:]))
    allowed_hz = LARGEST_STEP * float(frequency[widest + 1])
    if steps[widest] > allowed_hz:
        return (
            f"Too coarse: no reading between {_mhz(frequency[widest])} and "
            f"{_mhz(frequency[widest + 1])} MHz. Sweep in steps of {allowed_hz / 1e6:.3g} MHz "
            "or finer."
        )
    return ""


def _too_coarse(
    frequency: FloatArray, steps: FloatArray, still: ComplexArray, delay_s: float
) -> str:
    turn_deg = 360 * abs(delay_s) * float(steps.max())
    if turn_deg > MOST_TURN_DEG:
        finer_hz = float(steps.max()) * MOST_TURN_DEG / turn_deg
        return (
            f"Too coarse: the reflection turns about {turn_deg:.0f} degrees a step, and "
            f"{MOST_TURN_DEG:.0f} can be followed. Sweep in steps of {finer_hz / 1e6:.2g} MHz or "
            "finer, or shorten the cable."
        )
    slopes = (still[1:] - still[:-1]) / steps
    bend = np.abs(2 * (slopes[1:] - slopes[:-1]) / (steps[:-1] + steps[1:]))
    sag = steps**2 / 8  # times the larger bend of a step's two ends
    sag[0] *= bend[0]
    sag[1:-1] *= np.maximum(bend[:-1], bend[1:])
    sag[-1] *= bend[-1]
    worst = int(np.argmax(sag))
    if sag[worst] > MOST_SAG:
        finer_hz = float(steps[worst]) * np.sqrt(MOST_SAG / sag[worst])
        return (
            f"Too coarse: from {_mhz(frequency[worst])} to "
            f"{_mhz(frequency[worst + 1])} MHz the reflection may leave the line between the "
            f"points by {sag[worst]:.2f}, and {MOST_SAG:.2f} is allowed. Sweep in steps of "
            f"{finer_hz / 1e6:.2g} MHz or finer."
        )
    return ""


def _with_edges(
    measured: BandCurve,
    frequency: FloatArray,
    still: ComplexArray,
    *,
    delay_s: float,
    missing: list[tuple[int, float]],
) -> BandCurve:
    """Add the edges that no point lies on, each from the points nearest to it."""
    parts = [measured]
    for end, edge_hz in missing:
        near = slice(None, STENCIL_POINTS) if end == 0 else slice(None, -STENCIL_POINTS - 1, -1)
        value, error = _interpolate(frequency[near], still[near], edge_hz)
        value *= np.exp(-2j * np.pi * delay_s * (edge_hz - frequency[0]))
        edge = replace(
            measured,
            frequency_hz=np.array([edge_hz]),
            reflection=np.array([value]),
            error=np.array([error]),
        )
        parts = [edge, *parts] if end == 0 else [*parts, edge]
    return replace(
        measured,
        frequency_hz=np.concatenate([part.frequency_hz for part in parts]),
        reflection=np.concatenate([part.reflection for part in parts]),
        error=np.concatenate([part.error for part in parts]),
    )


def _delay(steps: FloatArray, values: ComplexArray) -> float:
    """Estimate the delay, seconds, by which the phase falls across the points.

    A first estimate from the mean turn of all steps, weighed by the reflection's size; then
    least squares on what is left, so that a delay added to the readings is found exactly.
    """
    turns = values[1:] * np.conj(values[:-1])
    coarse_s = -cmath.phase(turns.sum()) / (2 * np.pi * steps.mean())
    still = turns * np.exp(2j * np.pi * coarse_s * steps)
    left = np.arctan2(still.imag, still.real)
    weight = np.abs(turns)
    total = float((weight * steps**2).sum())
    if total == 0:
        return 0.0
    return float(coarse_s - (weight * left * steps).sum() / (2 * np.pi * total))


def _interpolate(near: FloatArray, still: ComplexArray, at_hz: float) -> tuple[complex, float]:
    """Run a polynomial through points, the nearest first; its error is what the last changes."""
    scaled = (near - at_hz) / (near[-1] - near[0])
    estimates = [_polynomial_at_zero(scaled[:count], still[:count]) for count in (-1, len(near))]
    return estimates[1], abs(estimates[1] - estimates[0])


def _polynomial_at_zero(x: FloatArray, y: ComplexArray) -> complex:
    """Evaluate at 0 the polynomial through (x, y), by Lagrange's form."""
    nodes, total = x.tolist(), 0j  # of so few points Python's own numbers are the quicker
    for at, (node, value) in enumerate(zip(nodes, y.tolist(), strict=True)):
        for other, away in enumerate(nodes):
            if other != at:
                value *= away / (away - node)  # noqa: PLW2901 - the product grows in place
        total += value
    return complex(total)
