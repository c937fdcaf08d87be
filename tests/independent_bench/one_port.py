"""One port, made and unmade by other means than the program's: wave chains and cross ratios.

Nothing here, nor in `bench.py`, knows the program: a guard holds that. What it and the program
agree on, two independent routes agree on.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

OHM = 50.0


def line_ended(frequency_hz: Real, delay_s: Real | float, end_ohm: Complex) -> Complex:
    """What a lossless 50 ohm line reflects that is ended by an impedance: the line carries the
    impedance to its near end, Z = Z0 (Zt + j Z0 tan) / (Z0 + j Zt tan) [any handbook].

    All of shapes that fit each other; delay_s one way.
    """
    turn = 2 * np.pi * frequency_hz * delay_s
    cosine, sine = np.cos(turn), np.sin(turn)
    near = OHM * (end_ohm * cosine + 1j * OHM * sine) / (OHM * cosine + 1j * end_ohm * sine)
    result: Complex = (near - OHM) / (near + OHM)
    return result


def capacitor(frequency_hz: Real, farad: float) -> Complex:
    """Impedance of a capacitor, ohm."""
    result: Complex = 1 / (2j * np.pi * frequency_hz * farad)
    return result


def inductor(frequency_hz: Real, henry: float) -> Complex:
    """Impedance of an inductor, ohm."""
    result: Complex = 2j * np.pi * frequency_hz * henry
    return result


def in_series(reflection: Complex, ohm: Complex | float) -> Complex:
    """What the same part reflects behind a series impedance: a nut that is loose is one.

    Z = 50 (1 + G)/(1 - G), cleared of its fraction, so that an open is no exception [derived].
    """
    whole = OHM * (1 + reflection) + ohm * (1 - reflection)
    part = OHM * (1 - reflection)
    result: Complex = (whole - part) / (whole + part)
    return result


def seen_through(near: Complex, far: Complex, through: Complex, reflection: Complex) -> Complex:
    """What a two-port shows of a reflection, by its wave chain [derived from b = S a].

    near, far : what it reflects by itself at either port, S11 and S22. through : S12 S21.
    (b, a) before = T (a, b) behind, with T = 1/S21 [[S12 S21 - S11 S22, S11], [-S22, 1]]; the
    factor 1/S21 drops out of b/a.
    """
    back = (through - near * far) * reflection + near
    forth = 1 - far * reflection
    result: Complex = back / forth
    return result


def by_cross_ratio(
    raw: Complex, raw_standards: tuple[Complex, ...], standards: tuple[Complex, ...]
) -> Complex:
    """A raw reading, corrected without error terms: a two-port is a bilinear map, and a bilinear
    map keeps the cross ratio of any four points [any book on complex analysis].

    raw_standards, standards : of the same three, in one order; all of shapes that fit.
    """
    r1, r2, r3 = raw_standards
    g1, g2, g3 = standards
    up = (raw - r2) * (r1 - r3)
    down = (raw - r3) * (r1 - r2)
    result: Complex = (g2 * (g1 - g3) * down - g3 * (g1 - g2) * up) / (
        (g1 - g3) * down - (g1 - g2) * up
    )
    return result
