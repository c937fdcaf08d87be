"""Dips: where an antenna takes power, how much of it, and over what width.

Close to one resonance the reflection is a bilinear function of frequency, whatever the circuit and
whatever lossless line lies between, so that its size squared is one quadratic over another

    |G|^2 = (p0 + p1 x + p2 x^2) / (1 + q1 x + q2 x^2),   x = f / f_min - 1          [derived]

which five numbers describe, found by linear least squares over the points around a minimum. The
dip's place, depth and width then follow in closed form, finer than the grid.

Width and Q: with loaded Q, the absorbed share is (1 - |G0|^2) / (1 + (2 Q_loaded df/f0)^2), so half
of what is absorbed at the bottom is absorbed at both ends of f0 / Q_loaded. A matched antenna's own
Q is twice that: (S - 1) / (Q sqrt S) is its bandwidth at VSWR S (Yaghjian and Best, IEEE TAP 53(4),
2005, p. 1298 [abstract read, formula from memory]).

The ripple of a cable has minima too: many, alike and evenly spaced, or such as one delay explains
(`acceptance.tuning.cable_ripple`). They are no dips.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from acceptance.tuning.cable_ripple import is_cable
from acquire.sweep import ComplexArray, FloatArray

LEAST_PROMINENCE = 0.06
"""A minimum rises by so much in |G| on either side, or it is none: 0.5 dB at |G| = 1."""
LEAST_RANGE = 0.08
"""|G|^2 ranges over so much, or there are no dips: a load reflects little everywhere."""
NOISE_TIMES = 8.0
"""And by so many times the noise."""
STRETCH_GAP_FACTOR = 4.0
"""A step so many times as wide as those beside it parts two stretches that were swept."""
LEAST_POINTS = 5
RIPPLE_MINIMA = 4
"""So many minima, evenly spaced, are a cable's ripple; three may be three resonances."""
RIPPLE_PROMINENCE = 0.03
"""Of a ripple that is named where no dip is, half of what makes a dip."""
RIPPLE_SPREAD = 0.25
"""Evenly: their spacings differ from their mean by less than this part of it, rms."""
AT_THE_END, LEAST_FALL, MOST_AT_THE_END = 0.12, 0.12, 0.75
"""A dip lies beyond an end where |G| falls by so much over so much of the frequency, to so little;
no cable's loss changes as fast."""
STANDS_OUT = 2.5
"""A minimum so many times as prominent as the ripple around it is a dip all the same."""


Beyond = Literal["", "above", "below"]


@dataclass(frozen=True, slots=True)
class Dip:
    """One minimum of the reflection."""

    frequency_hz: float
    """Where it is deepest, finer than the grid."""
    frequency_sd_hz: float
    """How sure that is: one standard deviation, from the noise."""
    reflection: float
    """|G| at the bottom, linear."""
    low_hz: float
    high_hz: float
    """Where half of what is absorbed at the bottom is absorbed; or the ends of what was swept."""
    beyond: Beyond = ""
    """Where the curve still falls at the end of what was swept, the dip lies beyond that end: its
    frequency is then the end's, and only the side it lies on is known."""

    @property
    def return_loss_db(self) -> float:
        """Depth, dB, positive."""
        return float(-20 * np.log10(max(self.reflection, 1e-6)))

    @property
    def bandwidth_hz(self) -> float:
        """Between the two half-absorption points."""
        return self.high_hz - self.low_hz

    @property
    def q(self) -> float:
        """2 f0 / bandwidth: the antenna's own Q where it is matched."""
        return 2 * self.frequency_hz / max(self.bandwidth_hz, 1e-9)


@dataclass(frozen=True, slots=True)
class Ripple:
    """Minima in even steps, as a cable makes them between two ends that reflect."""

    count: int
    spacing_hz: float

    @property
    def delay_s(self) -> float:
        """Of that cable, one way."""
        return 1 / (2 * self.spacing_hz)


def ripple_seen(
    frequency_hz: FloatArray, reflection: ComplexArray, noise: float = 0.0
) -> Ripple | None:
    """The ripple that a reading shows where it has so many minima, or None.

    frequency_hz, reflection, noise : as of `find_dips`.
    """
    count, spacings = 0, []
    for stretch in _stretches(frequency_hz, reflection):
        if stretch.size < LEAST_POINTS:
            continue
        f, size = frequency_hz[stretch], np.abs(reflection[stretch])
        minima = _minima(size, max(RIPPLE_PROMINENCE, NOISE_TIMES * noise))
        count += len(minima)
        spacings += list(np.diff([f[each.at] for each in minima]))
    if count < RIPPLE_MINIMA or not spacings:
        return None
    return Ripple(count, float(np.median(spacings)))


def find_dips(frequency_hz: FloatArray, reflection: ComplexArray, noise: float = 0.0) -> list[Dip]:
    """Find the dips of a corrected reading, in order of frequency.

    frequency_hz, reflection : shape (points,); what is not finite was not measured. noise : rms of
    the complex noise on a point, linear. Gaps in the grid are not looked across.
    """
    found: list[Dip] = []
    for stretch in _stretches(frequency_hz, reflection):
        if stretch.size < LEAST_POINTS:
            continue
        f, size = frequency_hz[stretch], np.abs(reflection[stretch])
        least = max(LEAST_PROMINENCE, NOISE_TIMES * noise)
        if size.max() ** 2 - size.min() ** 2 < LEAST_RANGE:
            continue
        every = _minima(size, least)
        minima = _without_ripple(f, every)
        here = [_fitted(f, size, each, noise) for each in minima]
        if len(minima) == len(every):  # else ripple: what falls at an end is part of it
            here = [*_beyond(f, size, "below"), *here, *_beyond(f, size, "above")]
        if here and not is_cable(f, reflection[stretch], noise):
            found += here
    return found


def bandwidth_at(dip_curve: FloatArray, frequency_hz: FloatArray, reflection: float) -> float:
    """Width in Hz over which |G| stays within a limit around its least value, by straight lines.

    dip_curve : |G|, shape (points,). 0 where it never does.
    """
    bottom = int(np.argmin(dip_curve))
    if dip_curve[bottom] > reflection:
        return 0.0
    left = _crossing(frequency_hz[: bottom + 1][::-1], dip_curve[: bottom + 1][::-1], reflection)
    right = _crossing(frequency_hz[bottom:], dip_curve[bottom:], reflection)
    return right - left


def zero_reactance(frequency_hz: FloatArray, reflection: ComplexArray) -> list[tuple[float, float]]:
    """Where the reactance passes through zero: frequency, Hz, and the resistance there, ohm.

    Only sensible at a plane that was declared: a line in between moves these points, while it
    leaves the minima of |G| where they are. Straight lines between points.
    """
    imaginary = reflection.imag
    at = np.flatnonzero(np.signbit(imaginary[:-1]) != np.signbit(imaginary[1:]))
    found = []
    for i in at:
        share = imaginary[i] / (imaginary[i] - imaginary[i + 1])
        hz = frequency_hz[i] + share * (frequency_hz[i + 1] - frequency_hz[i])
        real = reflection.real[i] + share * (reflection.real[i + 1] - reflection.real[i])
        if abs(real) < 0.98:  # an open or a short crosses there too, without being a resonance
            found.append((float(hz), float(50 * (1 + real) / (1 - real))))
    return found


@dataclass(frozen=True, slots=True)
class _Minimum:
    at: int
    first: int
    last: int
    """The maxima on either side, or the ends."""
    prominence: float


def _stretches(f: FloatArray, reflection: ComplexArray) -> list[NDArray[np.intp]]:
    known = np.flatnonzero(np.isfinite(reflection))
    if known.size < 2:
        return []
    steps = np.diff(f[known])
    # a gap is wide beside the steps on both sides; where the grid only turns coarser there is none
    near = np.maximum(np.r_[0.0, steps[:-1]], np.r_[steps[1:], 0.0])
    return np.split(known, np.flatnonzero(steps > STRETCH_GAP_FACTOR * near) + 1)


def _minima(size: FloatArray, least: float) -> list[_Minimum]:
    """Minima that rise by at least so much on both sides, between the maxima that part them.

    At an end of the stretch a curve that still falls has no minimum: it lies outside.
    """
    found: list[_Minimum] = []
    low_at, high_at = 0, 0
    falling = False
    left_high = 0
    for i, value in enumerate(size):
        if falling:
            if value < size[low_at]:
                low_at = i
            elif value > size[low_at] + least:
                found.append(_Minimum(low_at, left_high, i, 0.0))
                falling, high_at = False, i
        elif value > size[high_at]:
            high_at = i
        elif value < size[high_at] - least:
            falling, low_at, left_high = True, i, high_at
    bounds = [each.first for each in found] + [size.size - 1]
    for n, each in enumerate(found):
        right = each.at + int(np.argmax(size[each.at : bounds[n + 1] + 1]))
        rise = min(size[each.first], size[right]) - size[each.at]
        found[n] = _Minimum(each.at, each.first, right, float(rise))
    return found


def _without_ripple(f: FloatArray, minima: list[_Minimum]) -> list[_Minimum]:
    """Drop the evenly spaced ones of like prominence; keep what stands out of them."""
    if len(minima) < RIPPLE_MINIMA:
        return minima
    spacing = np.diff([f[each.at] for each in minima])
    if np.std(spacing) > RIPPLE_SPREAD * np.mean(spacing):
        return minima
    usual = float(np.median([each.prominence for each in minima]))
    return [each for each in minima if each.prominence > STANDS_OUT * usual]


def _beyond(f: FloatArray, size: FloatArray, side: Beyond) -> list[Dip]:
    """A dip of which only the slope is in sight, at one end of a stretch; or none."""
    if side == "below":
        f, size = f[::-1], size[::-1]
    near = np.abs(f / f[-1] - 1) <= AT_THE_END
    last = size[near]
    if last.size < LEAST_POINTS or int(np.argmin(last)) < last.size - 2:
        return []
    if last[0] - last[-1] < LEAST_FALL or last[-1] > MOST_AT_THE_END:
        return []
    hz = float(f[-1])
    low_hz, high_hz = sorted((hz, _crossing(f[::-1], size[::-1], float((1 + size[-1]) / 2))))
    return [Dip(hz, AT_THE_END / 4 * hz, float(size[-1]), low_hz, high_hz, side)]


def _fitted(f: FloatArray, size: FloatArray, minimum: _Minimum, noise: float) -> Dip:
    """Fit the quadratic over the quadratic around a minimum, and read the dip off it."""
    at = minimum.at
    top = size[at] + 0.7 * minimum.prominence
    inside = np.arange(minimum.first, minimum.last + 1)
    inside = inside[size[inside] <= top]
    if inside.size < LEAST_POINTS + 1:
        low = max(min(at - LEAST_POINTS // 2 - 1, size.size - LEAST_POINTS - 2), 0)
        inside = np.arange(low, min(low + LEAST_POINTS + 2, size.size))
    x, y = f[inside] / f[at] - 1, size[inside] ** 2
    scale = max(float(np.abs(x).max()), 1e-12)
    x = x / scale
    rows = np.stack([np.ones_like(x), x, x**2, -y * x, -y * x**2], axis=1)
    solved: FloatArray = np.asarray(np.linalg.lstsq(rows, y, rcond=1e-9)[0], dtype=np.float64)
    here, depth = _least(solved, x)
    sd = 0.0
    if noise > 0:
        scatter = 2 * np.sqrt(np.maximum(y, 1e-6)) * noise / np.sqrt(2)
        moved = np.linalg.pinv(rows, rcond=1e-9) * scatter
        nudge = 1e-6 * np.maximum(np.abs(solved), 1e-3)
        slopes = [
            (_least(solved + nudge * unit, x)[0] - here) / nudge[k]
            for k, unit in enumerate(np.eye(5))
        ]
        sd = float(np.linalg.norm(np.array(slopes) @ moved))
    centre = float(f[at] * (1 + scale * here))
    absorbed = 1 - depth
    low_hz, high_hz = _half(f, size, at, np.sqrt(1 - absorbed / 2))
    sd_hz = min(sd * scale * float(f[at]), float(f[-1] - f[0]))
    return Dip(centre, sd_hz, float(np.sqrt(max(depth, 0.0))), low_hz, high_hz)


def _least(solved: FloatArray, x: FloatArray) -> tuple[float, float]:
    """Where the fitted curve is least within the points, and its value there.

    The derivative of (p0 + p1 x + p2 x^2)/(1 + q1 x + q2 x^2) has a quadratic numerator.
    """
    p0, p1, p2, q1, q2 = solved
    roots = np.roots([p2 * q1 - p1 * q2, 2 * (p2 - p0 * q2), p1 - p0 * q1])
    real = roots.real[np.abs(roots.imag) < 1e-9]
    inside = real[(real >= x[0]) & (real <= x[-1])]
    places = inside if inside.size else x
    values = (p0 + p1 * places + p2 * places**2) / (1 + q1 * places + q2 * places**2)
    best = int(np.argmin(values))
    return float(places[best]), float(np.clip(values[best], 0.0, 1.0))


def _half(f: FloatArray, size: FloatArray, at: int, level: float) -> tuple[float, float]:
    return (
        _crossing(f[: at + 1][::-1], size[: at + 1][::-1], level),
        _crossing(f[at:], size[at:], level),
    )


def _crossing(f: FloatArray, size: FloatArray, level: float) -> float:
    """Where a curve that begins below a level first rises above it; its end if it never does."""
    above = np.flatnonzero(size > level)
    if not above.size or above[0] == 0:
        return float(f[-1] if not above.size else f[0])
    i = int(above[0])
    share = (level - size[i - 1]) / (size[i] - size[i - 1])
    return float(f[i - 1] + share * (f[i] - f[i - 1]))
