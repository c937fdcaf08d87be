"""What a line loses: one way, by the law A = k1 sqrt(f) + k2 f.

Skin effect goes with the square root of frequency, the dielectric's loss with frequency itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import FloatArray
from calibration.errors import PlaneError

M_PER_S = 299_792_458.0
"""Speed of light in vacuum: exact, by the definition of the metre."""


@dataclass(frozen=True, slots=True)
class LossLaw:
    """A loss one way: k1 sqrt(f) + k2 f, dB, f in MHz."""

    k1: float
    """dB per square root of a megahertz."""
    k2: float
    """dB per megahertz."""

    @classmethod
    def through(cls, at_mhz: tuple[float, float], loss_db: tuple[float, float]) -> LossLaw:
        """The law through two figures.

        Raises PlaneError where no cable has those: its loss must rise, more slowly than frequency
        and no more slowly than its root.
        """
        (f1, f2), (a1, a2) = at_mhz, loss_db
        k1 = (a1 * f2 - a2 * f1) / (f2 * np.sqrt(f1) - f1 * np.sqrt(f2))
        k2 = (a2 - k1 * np.sqrt(f2)) / f2
        if k1 < 0 or k2 < -1e-3 * a2 / f2:
            raise PlaneError(
                f"No coax loses {a1:g} dB at {f1:g} MHz and {a2:g} dB at {f2:g} MHz: loss rises "
                "faster than the root of frequency and more slowly than frequency. Correct a "
                "figure."
            )
        return cls(float(k1), float(max(k2, 0.0)))

    @classmethod
    def at_one(cls, loss_db: float, at_mhz: float, skin_share: float) -> LossLaw:
        """The law through one figure.

        skin_share : which part of the loss there goes with the root of frequency, 0 to 1.
        """
        return cls(
            loss_db * skin_share / float(np.sqrt(at_mhz)), loss_db * (1 - skin_share) / at_mhz
        )

    def db(self, frequency_hz: FloatArray) -> FloatArray:
        """One way, dB, positive, shape as frequency_hz."""
        mhz = np.asarray(frequency_hz, dtype=np.float64) / 1e6
        loss: FloatArray = self.k1 * np.sqrt(mhz) + self.k2 * mhz
        return loss

    def times(self, factor: float) -> LossLaw:
        """The law of so many times the length."""
        return LossLaw(self.k1 * factor, self.k2 * factor)


NO_LOSS = LossLaw(0.0, 0.0)
