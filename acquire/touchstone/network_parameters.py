"""What a file's network parameters say of port 1: its reflection, referred to 50 ohm.

An antenna is a one-port. Of a two-port file only this is wanted: the reflection into port 1
while port 2 ends in 50 ohm, which is S11 in a 50 ohm system.
"""

from __future__ import annotations

import numpy as np

from acquire.sweep import SYSTEM_OHM, ComplexArray


def reflection_from_scattering(
    matrix: ComplexArray, reference_ohm: tuple[float, ...]
) -> ComplexArray:
    """Return the reflection into port 1, referred to 50 ohm.

    matrix : complex, shape (points, ports, ports), ports 1 or 2, S parameters.
    reference_ohm : one real, positive resistance a port.
    Port 2's 50 ohm looks like the reflection g2 = (50 - R2) / (50 + R2) from its own
    reference, so port 1 sees S11 + S12 S21 g2 / (1 - S22 g2); then, with
    g1 = (R1 - 50) / (R1 + 50), the result is (g + g1) / (1 + g g1). [derived]
    Where that cannot be worked out, the value is not finite.
    """
    seen = matrix[:, 0, 0]
    with np.errstate(all="ignore"):
        if matrix.shape[1] == 2 and reference_ohm[1] != SYSTEM_OHM:
            end = (SYSTEM_OHM - reference_ohm[1]) / (SYSTEM_OHM + reference_ohm[1])
            seen = seen + matrix[:, 0, 1] * matrix[:, 1, 0] * end / (1 - matrix[:, 1, 1] * end)
        if reference_ohm[0] != SYSTEM_OHM:
            load_reflection = (reference_ohm[0] - SYSTEM_OHM) / (reference_ohm[0] + SYSTEM_OHM)
            seen = (seen + load_reflection) / (1 + seen * load_reflection)
    return np.asarray(seen, dtype=np.complex128)


def reflection_from_immittance(matrix: ComplexArray, kind: str) -> ComplexArray:
    """Return the reflection into port 1, referred to 50 ohm, from Z, Y, H or G parameters.

    matrix : complex, shape (points, ports, ports), in ohm and siemens (H and G mixed, as
        they are defined).
    kind : "Z", "Y", "H" or "G".
    With port 2 ended in 50 ohm all four have one form: looking into port 1 one sees
    m11 - m12 m21 / (m22 + t), an impedance for Z and H, an admittance for Y and G, where t
    is the ending in the unit of m22: 50 ohm for Z and G, 1/50 S for Y and H. [derived]
    """
    ending = SYSTEM_OHM if kind in "ZG" else 1 / SYSTEM_OHM
    seen = matrix[:, 0, 0]
    with np.errstate(all="ignore"):
        if matrix.shape[1] == 2:
            seen = seen - matrix[:, 0, 1] * matrix[:, 1, 0] / (matrix[:, 1, 1] + ending)
        if kind in "ZH":
            return np.asarray((seen - SYSTEM_OHM) / (seen + SYSTEM_OHM), dtype=np.complex128)
        return np.asarray((1 - seen * SYSTEM_OHM) / (1 + seen * SYSTEM_OHM), dtype=np.complex128)


def denormalised(matrix: ComplexArray, kind: str, reference_ohm: tuple[float, ...]) -> ComplexArray:
    """Give normalised Z, Y, H or G parameters their units back.

    Touchstone 1 divides them by the reference resistance, each by its own dimension; version 2
    does not. [memory: Touchstone 2.0, compatibility notes]
    """
    root = np.sqrt(np.array(reference_ohm))
    ohm_like = {"Z": (1, 1), "Y": (-1, -1), "H": (1, -1), "G": (-1, 1)}[kind]
    scale = root ** np.array(ohm_like[: len(root)])
    with np.errstate(all="ignore"):
        return np.asarray(matrix * np.outer(scale, scale), dtype=np.complex128)
