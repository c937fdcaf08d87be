"""The three-term error model of a one-port analyzer: solve, correct, embed.

The raw reading Gm of a reflection G at the reference plane is

    Gm = ED + ER G / (1 - ES G)

with directivity ED, source match ES and reflection tracking ER, all complex and dimensionless,
one of each at every frequency.

Source: the docstring of scikit-rf's OnePort [read], which cites R. A. Speciale, "Projective
Matrix Transformations in Microwave Network Theory", IEEE MTT-S Digest 1981, p. 510, and
R. B. Marks, "Formulations of the Basic Vector Network Analyzer Error Model Including Switch
Terms", 50th ARFTG Conference Digest 1997, p. 115.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from acquire.sweep import ComplexArray, FloatArray
from calibration.errors import CalibrationError

SINGULAR_DEPTH = 1e-9
"""Below this, relative to the size of the equations, no standard adds to the others."""


@dataclass(frozen=True, slots=True, eq=False)
class ErrorTerms:
    """What an analyzer and its cable do to a reflection, at every frequency."""

    frequency_hz: FloatArray
    """Shape (points,), strictly increasing."""
    directivity: ComplexArray
    """ED, shape (points,): what is read where nothing is reflected."""
    source_match: ComplexArray
    """ES, shape (points,): what the port reflects back towards the device."""
    reflection_tracking: ComplexArray
    """ER, shape (points,): loss and phase of the way there and back."""


def solve(frequency_hz: ArrayLike, measured: ArrayLike, actual: ArrayLike) -> ErrorTerms:
    """Find the three one-port error terms at every frequency.

    The model, multiplied out, is linear in t = (t11, t12, t21):

        Gm = t11 G + t12 - t21 G Gm,   t11 = ER - ED ES,  t12 = ED,  t21 = -ES

    Three standards give t exactly; with more it is the least-squares solution, every standard
    weighing the same.

    frequency_hz : real, shape (points,), Hz.
    measured, actual : complex, shape (standards, points), linear reflection.
    Returns ErrorTerms, each complex, shape (points,), dimensionless.
    Raises CalibrationError if fewer than three standards are given, if shapes differ, or if at
    some frequency fewer than three of them can be told apart.
    Assumes the load's reflection is known; its error becomes directivity and source match.
    Source: Speciale 1981, Marks 1997, as above.
    """
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    m = np.asarray(measured, dtype=np.complex128)
    a = np.asarray(actual, dtype=np.complex128)
    if m.shape != a.shape or m.ndim != 2 or m.shape[1:] != frequency.shape:
        raise CalibrationError(
            f"Each standard needs one reading and one known value a frequency: got shapes "
            f"{m.shape} and {a.shape} for {frequency.size} frequencies."
        )
    if len(m) < 3:
        raise CalibrationError(
            f"Three error terms need three standards or more, not {len(m)}. Measure another one."
        )
    with np.errstate(all="ignore"):  # what is singular is refused below, by name of frequency
        t11, t12, t21, depth = _three(m, a) if len(m) == 3 else _least_squares(m, a)
    apart = depth > SINGULAR_DEPTH
    if not apart.all():
        at = int(np.argmin(apart))
        raise CalibrationError(
            f"The standards cannot be told apart at {frequency[at] / 1e6:.3f} MHz, so there is no "
            f"solution. Measure three different standards, or use a kit whose standards differ "
            f"there."
        )
    return ErrorTerms(frequency, t12, -t21, t11 - t12 * t21)


_Solution = tuple[ComplexArray, ComplexArray, ComplexArray, FloatArray]
"""t11, t12, t21, and how far the equations are from singular (0 is singular, 1 is best)."""


def _three(m: ComplexArray, a: ComplexArray) -> _Solution:
    """Three standards: subtract the third equation from the others, then Cramer's rule."""
    am = a * m
    a1, a2 = a[0] - a[2], a[1] - a[2]
    p1, p2 = am[2] - am[0], am[2] - am[1]
    m1, m2 = m[0] - m[2], m[1] - m[2]
    left, right = a1 * p2, a2 * p1
    determinant = left - right
    t11 = (m1 * p2 - m2 * p1) / determinant
    t21 = (a1 * m2 - a2 * m1) / determinant
    t12 = m[2] - t11 * a[2] + t21 * am[2]
    depth = np.abs(determinant) / (np.abs(left) + np.abs(right))
    return t11, t12, t21, depth


def _least_squares(m: ComplexArray, a: ComplexArray) -> _Solution:
    """More standards: modified Gram-Schmidt, every step over all frequencies at once.

    The column of ones goes first, which takes the mean off the others; then a, then -a m.
    Applied to the columns and the right-hand side together it is as stable as Householder's QR.
    Source: A. Bjorck, "Solving linear least squares problems by Gram-Schmidt
    orthogonalization", BIT 7, 1967, pp. 1-21 [memory].
    """
    p = -a * m
    mean_a, mean_p, mean_m = a.mean(axis=0), p.mean(axis=0), m.mean(axis=0)
    a1, p1, m1 = a - mean_a, p - mean_p, m - mean_m
    power_a = _power(a1)
    share_p, share_m = _along(a1, p1) / power_a, _along(a1, m1) / power_a
    p2, m2 = p1 - a1 * share_p, m1 - a1 * share_m
    power_p = _power(p2)
    t21 = _along(p2, m2) / power_p
    t11 = share_m - share_p * t21
    t12 = mean_m - mean_a * t11 - mean_p * t21
    depth = np.sqrt(np.minimum(power_a / _power(a), power_p / _power(p)))
    return t11, t12, t21, depth


def _along(u: ComplexArray, v: ComplexArray) -> ComplexArray:
    """Inner product over the standards, shape (points,)."""
    product: ComplexArray = (u.conj() * v).sum(axis=0)
    return product


def _power(u: ComplexArray) -> FloatArray:
    """Squared length over the standards, shape (points,)."""
    length: FloatArray = (u.real**2 + u.imag**2).sum(axis=0)
    return length


def correct(terms: ErrorTerms, reflection: ArrayLike) -> ComplexArray:
    """Raw reading to reflection at the reference plane: G = (Gm - ED) / (ER + ES (Gm - ED)).

    reflection : complex, shape (..., points), linear, raw, at the terms' own frequencies.
    Returns complex, same shape. What is not finite stays so.
    Source: the model solved for G.
    """
    with np.errstate(all="ignore"):  # a point that was not measured is no reason to complain
        beyond = np.asarray(reflection, dtype=np.complex128) - terms.directivity
        result: ComplexArray = beyond / (terms.reflection_tracking + terms.source_match * beyond)
    return result


def embed(terms: ErrorTerms, reflection: ArrayLike) -> ComplexArray:
    """Reflection at the reference plane to raw reading: Gm = ED + ER G / (1 - ES G).

    reflection : complex, shape (..., points), linear, at the terms' own frequencies.
    Returns complex, same shape.
    Source: the model itself.
    """
    g = np.asarray(reflection, dtype=np.complex128)
    result: ComplexArray = terms.directivity + terms.reflection_tracking * g / (
        1 - terms.source_match * g
    )
    return result
