"""Pigtails whose joints and loss are drawn at random, within what is stated of them.

By chain matrices of volts and amperes, not by reflections: no formula of
`calibration.plane.reference_plane`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.plane.loss import LossLaw

Chain = ComplexArray
"""Shape (points, 2, 2)."""


@dataclass(frozen=True)
class HiddenPigtail:
    """A line between two joints, each a series inductance or a shunt capacitance."""

    delay_s: float
    loss: LossLaw
    """What it really loses, one way."""
    near: complex
    far: complex
    """Reflection of each joint by itself at the frequency of interest: j times its size, positive
    for an inductance, negative for a capacitance."""
    at_hz: float

    def seen(self, reflection: ComplexArray, frequency_hz: FloatArray) -> ComplexArray:
        """A reflection at the far end, as it is seen at the near one."""
        chain = (
            self._joint(self.near, frequency_hz)
            @ self._line(frequency_hz)
            @ self._joint(self.far, frequency_hz)
        )
        end = np.stack([1 + reflection, 1 - reflection], axis=-1)[..., None]
        volts, amperes = (chain @ end)[..., 0].T
        result: ComplexArray = (volts - amperes) / (volts + amperes)
        return result

    def _joint(self, reflection: complex, frequency_hz: FloatArray) -> Chain:
        """x of j x (series) or b of j b (shunt), with |x/2| about the reflection."""
        chain = np.zeros((frequency_hz.size, 2, 2), dtype=np.complex128)
        chain[:, 0, 0] = chain[:, 1, 1] = 1
        size = abs(reflection.imag)
        reactance = 2j * size / np.sqrt(1 - size**2) * frequency_hz / self.at_hz
        where = (0, 1) if reflection.imag > 0 else (1, 0)
        chain[(slice(None), *where)] = reactance
        return chain

    def _line(self, frequency_hz: FloatArray) -> Chain:
        neper = self.loss.db(frequency_hz) * np.log(10) / 20
        gamma = neper + 2j * np.pi * frequency_hz * self.delay_s
        chain = np.empty((frequency_hz.size, 2, 2), dtype=np.complex128)
        chain[:, 0, 0] = chain[:, 1, 1] = np.cosh(gamma)
        chain[:, 0, 1] = chain[:, 1, 0] = np.sinh(gamma)
        return chain


def random_pigtail(
    rng: np.random.Generator, at_hz: float, joint: float, loss_error: float = 0.0, low: float = 0.3
) -> tuple[HiddenPigtail, LossLaw]:
    """0.05 to 5 m of PTFE coax, 0 to 6 dB at `at_hz`; and the loss that is stated of it.

    joint : the joints reflect up to so much. loss_error : the truth is off by up to so much of
    what is stated, or by 0.02 dB.
    """
    length_m = np.exp(rng.uniform(np.log(0.05), np.log(5.0)))
    loss_db = rng.uniform(0, 6)
    stated = LossLaw.at_one(loss_db, at_hz / 1e6, 0.9)
    off_db = rng.uniform(-1, 1) * max(loss_error * loss_db, 0.02 if loss_error else 0.0)
    true = LossLaw.at_one(max(loss_db + off_db, 0.0), at_hz / 1e6, 0.9)
    near, far = (1j * joint * rng.uniform(low, 1) * rng.choice([-1, 1]) for _ in range(2))
    return HiddenPigtail(length_m / 0.695 / 299792458, true, near, far, at_hz), stated
