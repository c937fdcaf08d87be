"""How far a sum of errors reaches: some bounded and of unknown phase, some random.

Seen along one direction, a bounded error of unknown phase follows an arcsine law (most often near
its bound) and a random one a normal law. Their sum is taken in closed form, by the variance and
the kurtosis, as Pearson's type II law, a symmetric beta law that has just these two at its ends:
alpha 1/2 is the arcsine, alpha without bound the normal law. Seen as a distance in the plane, the
same family runs from the ring of one phasor to Rayleigh's law.

Source: Pearson's type II law by its moments, Johnson, Kotz and Balakrishnan, "Continuous
Univariate Distributions" [memory]; fourth cumulant of an arcsine law -3/8 a^4 [derived].
"""

from __future__ import annotations

import numpy as np

from acquire.sweep import FloatArray

NORMAL_95 = 1.959964
"""95 % of a normal law lie within so many standard deviations [table]."""
RADIAL_95 = 2.447747
"""95 % of a complex normal law lie within so many standard deviations of one component:
sqrt(-2 ln 0.05) [derived]."""
LAW_MARGIN = 1.04
"""The matched law is up to 3.6 % short for a few arcsines of unequal size [run]."""
KURTOSIS = (-1.5, -1.48, -1.45, -1.42, -1.38, -1.34, -1.3, -1.25, -1.2, -1.1, -1.0, -0.9, -0.8,
          -0.6, -0.4, -0.2, -0.1, 0.0)  # fmt: skip
FACTOR_95 = (1.409854, 1.427282, 1.453198, 1.478734, 1.511992, 1.544131, 1.574957, 1.611428,
             1.645448, 1.705927, 1.756679, 1.798701, 1.833252, 1.884817, 1.919642, 1.943451,
             1.952446, 1.959964)  # fmt: skip
"""Standard deviations that hold 95 % of the law, by its excess kurtosis; linear between, to
0.14 % [run: scipy's beta law]."""
SMALLEST_VARIANCE = 1e-300


def half_width_95(bounds: FloatArray, sigma: FloatArray) -> FloatArray:
    """How far the sum reaches along one direction, 95 %.

    bounds : shape (errors, ...), the bound of each bounded error, 0 or more.
    sigma : shape (...), standard deviation of all random errors together along the direction.
    Returns shape (...), never more than the sum of the bounds and the random part alone.
    """
    square = bounds * bounds
    variance = square.sum(axis=0) / 2 + sigma * sigma
    fourth = -0.375 * (square * square).sum(axis=0)
    excess = fourth / np.maximum(variance * variance, SMALLEST_VARIANCE)
    matched = LAW_MARGIN * np.interp(excess, KURTOSIS, FACTOR_95) * np.sqrt(variance)
    half_width: FloatArray = np.minimum(matched, bounds.sum(axis=0) + NORMAL_95 * sigma)
    return half_width


def radius_95(bounds: FloatArray, sigma: FloatArray) -> FloatArray:
    """How far the sum reaches in the plane, in any direction, 95 %.

    bounds, sigma : as `half_width_95`. Returns shape (...), never more than the sum of the
    bounds and the random part alone.
    With second and fourth moments m2, m4 of the distance, kappa = m4 / m2^2 and
    nu = (3 kappa - 4) / (2 - kappa): R^2 = m2 (nu + 2), r95^2 = R^2 (1 - 0.05^(1/(nu + 1))).
    Around one large phasor the others only count along its direction; that sum is taken where
    it reaches further.
    """
    square = bounds * bounds
    random = 2 * sigma * sigma
    mean_square = square.sum(axis=0) + random
    excess = -(square * square).sum(axis=0) / np.maximum(
        mean_square * mean_square, SMALLEST_VARIANCE
    )
    kappa = np.clip(2 + excess, 1 + 1e-9, 2 - 1e-9)
    shape = (3 * kappa - 4) / (2 - kappa)
    square_95 = mean_square * (shape + 2) * -np.expm1(np.log(0.05) / (shape + 1))
    matched = LAW_MARGIN * np.sqrt(square_95)
    largest = bounds.max(axis=0)
    rest = np.where(np.arange(len(bounds)).reshape(-1, *[1] * sigma.ndim) == bounds.argmax(axis=0),
                    0.0, bounds)  # fmt: skip
    around = largest + half_width_95(rest, sigma) * (largest > 0)
    worst = bounds.sum(axis=0) + RADIAL_95 * sigma
    half_width: FloatArray = np.minimum(np.maximum(matched, around), worst)
    return half_width
