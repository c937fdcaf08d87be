"""The ripple of a cable: minima that one delay explains, and that are no dips.

What a connector reflects (r) and what comes back from the far end of a cable (T, once round in the
delay t) add up, and once more between the two:

    G(f) = r + T (1 + s x) e + r' e^2,   e = exp(-2 pi i f t),   x = f / f_mid - 1      [derived]

with a turn or two more between connector and end, r a few percent to a fifth, and s no more than a
cable's loss changes by. A resonance turns fast at its dip and hardly at all beside it, which this
sum cannot do. Given t the rest is linear least squares; t itself begins at the peak of the
transform, to which it is known within 1 / span.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray

LARGEST_RESIDUE_SHARE = 0.12
"""What is left over is at most so much of the ripple in |G|, rms."""
NOISE_TIMES = 2.0
LARGEST_MISMATCH = 0.3
"""|r| of the worst connector or wrong cable: 93 ohm in a 50 ohm line."""
LARGEST_SLOPE = 0.35
"""How much T changes from the middle to an end of the stretch, as a part of itself."""
LEAST_TURNS = 1.25
"""Less than one whole turn within the stretch explains any dip."""
RIPPLE_TERMS = ((0, 0), (1, 0), (1, 1), (2, 0), (1, 2), (2, 1), (3, 0))
"""The sum's parts as (turns k, power m of x): x^m e^k."""
DELAYS_A_SPAN = 8
"""Tries of the delay within 1 / span."""


@dataclass(frozen=True, slots=True)
class CableRipple:
    """A stretch that one delay explains."""

    delay_s: float
    """One way, of the cable between what reflects at its two ends."""
    near: float
    """What is reflected at its near end, linear."""
    far: float
    """What comes back from its far end, linear."""

    @property
    def period_hz(self) -> float:
        """How far apart the ripples are."""
        return 1 / (2 * self.delay_s)


def cable_ripple(
    frequency_hz: FloatArray, reflection: ComplexArray, noise: float = 0.0
) -> CableRipple | None:
    """The cable whose ripple a whole stretch is, or None where it is none.

    frequency_hz, reflection : shape (points,), without gaps, all finite; at least 6 points.
    noise : rms of the complex noise on a point, linear.
    """
    span, x, allowed = _prepared(frequency_hz, reflection, noise)
    turns = _turns(x, reflection)
    turns = turns[turns >= LEAST_TURNS]
    left, near, far = _fits(x, reflection, turns)
    if not (left <= allowed).any():
        return None
    best = int(np.argmin(left))
    return CableRipple(float(turns[best] / (2 * span)), float(near[best]), float(far[best]))


def is_cable(frequency_hz: FloatArray, reflection: ComplexArray, noise: float = 0.0) -> bool:
    """Tell whether one delay explains a whole stretch.

    frequency_hz, reflection : shape (points,), without gaps, all finite; at least 6 points.
    noise : rms of the complex noise on a point, linear.
    """
    return cable_ripple(frequency_hz, reflection, noise) is not None


def _prepared(
    frequency_hz: FloatArray, reflection: ComplexArray, noise: float
) -> tuple[float, FloatArray, float]:
    """The span, frequency from -1 to 1, and how much may be left over."""
    span = float(frequency_hz[-1] - frequency_hz[0])
    x = 2 * (frequency_hz - frequency_hz[0]) / span - 1
    size = np.abs(reflection)
    ripple = float(np.std(size - np.polyval(np.polyfit(x, size, 1), x)))
    return span, x, max(LARGEST_RESIDUE_SHARE * ripple, NOISE_TIMES * noise)


def _turns(x: FloatArray, reflection: ComplexArray) -> FloatArray:
    """Turns within the stretch to try: around the peak of the transform."""
    even = np.linspace(-1, 1, x.size)
    centred = np.interp(even, x, reflection.real) + 1j * np.interp(even, x, reflection.imag)
    spectrum = np.abs(np.fft.ifft((centred - centred.mean()) * np.hanning(x.size), 4 * x.size))
    peak = int(np.argmax(spectrum[: 2 * x.size])) / 4
    tries: FloatArray = peak + np.arange(-DELAYS_A_SPAN, DELAYS_A_SPAN + 1) / DELAYS_A_SPAN
    return tries


def _fits(
    x: FloatArray, reflection: ComplexArray, turns: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rms of what the sum leaves, up to its third turn, infinite where its parts are no cable's;
    |r| and |T| of each.

    turns : shape (tries,), and so is each of what is returned. By normal equations, whose sums many
    parts share: over a turn or more the parts are as good as orthogonal, and decomposing the long
    matrix of each try takes many times as long.
    """
    e = np.exp(-1j * np.pi * turns[:, None] * x)
    turned = np.stack([np.ones_like(e), e, e * e, e * e * e])
    powers = np.vander(x, 5, increasing=True)
    power_sums = turned @ powers
    power_sums = np.concatenate(
        [power_sums, power_sums[:0:-1].conj()]
    )  # a turn backwards is the conjugate
    against = turned.conj() @ (powers[:, :3] * reflection[:, None])
    k, m = np.array(RIPPLE_TERMS).T
    gram = power_sums[k - k[:, None], :, m + m[:, None]].transpose(2, 0, 1)
    right = against[k, :, m].T[:, :, None]
    parts = (np.linalg.pinv(gram, hermitian=True) @ right)[:, :, 0]
    r, once, slope, twice, bend = np.abs(parts[:, :5]).T
    cables = (
        (r <= LARGEST_MISMATCH)
        & (slope + bend <= LARGEST_SLOPE * once)
        & (twice <= LARGEST_MISMATCH * once)
    )
    explained = np.sum(parts.conj() * right[:, :, 0], axis=1).real
    left = np.maximum(np.sum(np.abs(reflection) ** 2) - explained, 0.0)
    return np.where(cables, np.sqrt(left / x.size), np.inf), r, once
