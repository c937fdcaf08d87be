"""One match, written in the trade's different ways. Return loss is positive throughout.

|G| = (S - 1) / (S + 1), RL = -20 log10 |G|, ML = -10 log10(1 - |G|^2), Z = R (1 + G) / (1 - G).
Source: definitions; the same in Pozar, Microwave Engineering, and the ARRL Handbook [memory].
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from acquire.sweep import ComplexArray, FloatArray


def return_loss_db(reflection: ArrayLike) -> FloatArray:
    """Return -20 log10 |reflection|, dB, the input's shape; infinite where there is none."""
    with np.errstate(divide="ignore"):
        return np.asarray(0.0 - 20 * np.log10(np.abs(reflection)), dtype=np.float64)


def one_return_loss_db(size: float) -> float:
    """The same of one |reflection|, without an array's cost."""
    return math.inf if size == 0 else 0.0 - 20 * math.log10(size)


def vswr(reflection: ArrayLike) -> FloatArray:
    """Return the voltage standing wave ratio, at least 1; infinite from |reflection| 1 on."""
    size = np.abs(np.asarray(reflection))
    total = size >= 1
    ratio = np.asarray((1 + size) / np.where(total, 1, 1 - size), dtype=np.float64)
    return np.where(total, np.inf, ratio)


def mismatch_loss_db(reflection: ArrayLike) -> FloatArray:
    """Return the power that does not get in, dB, at least 0; infinite from |reflection| 1 on."""
    passed = 1 - np.minimum(np.abs(np.asarray(reflection)), 1.0) ** 2
    with np.errstate(divide="ignore"):
        return np.asarray(0.0 - 10 * np.log10(passed), dtype=np.float64)


def impedance_ohm(reflection: ArrayLike, reference_ohm: float = 50.0) -> ComplexArray:
    """Return the impedance, ohm, complex; infinite where the reflection is exactly 1."""
    given = np.asarray(reflection, dtype=np.complex128)
    is_open = given == 1
    with np.errstate(invalid="ignore"):  # a point that was not measured
        impedance = reference_ohm * (1 + given) / np.where(is_open, 1, 1 - given)
    return np.asarray(np.where(is_open, complex(np.inf), impedance), dtype=np.complex128)


def reflection_from_return_loss(loss_db: ArrayLike) -> FloatArray:
    """Return |reflection| of a return loss, dB, positive."""
    return np.asarray(10 ** (-np.asarray(loss_db, dtype=np.float64) / 20), dtype=np.float64)


def reflection_from_vswr(ratio: ArrayLike) -> FloatArray:
    """Return |reflection| of a VSWR of 1 or more."""
    given = np.asarray(ratio, dtype=np.float64)
    return np.asarray((given - 1) / (given + 1), dtype=np.float64)


def average_return_loss_db(frequency_hz: FloatArray, reflection: ArrayLike) -> float:
    """Return the return loss of the reflected power averaged over frequency, dB.

    The trapezoidal mean of |reflection|^2 over the whole of frequency_hz, shape (points,),
    increasing, so that unevenly spaced points weigh by the width they stand for.
    """
    power = np.abs(np.asarray(reflection)) ** 2
    if frequency_hz.size == 1:
        mean = float(power[0])
    else:
        width = float(frequency_hz[-1] - frequency_hz[0])
        steps = frequency_hz[1:] - frequency_hz[:-1]
        mean = float(((power[1:] + power[:-1]) @ steps) / 2) / width
    return one_return_loss_db(math.sqrt(mean))
