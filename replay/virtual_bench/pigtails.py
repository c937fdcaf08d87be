"""What can be laid between the virtual bench's connector and whatever is screwed on to its end.

Good, lossy, wrong and broken pigtails to practise on, all of them invented. A cascade of volts and
amperes, written down a second time on purpose: `calibration.plane.reference_plane` goes by
reflections.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from replay.errors import BenchError
from replay.virtual_bench.antenna import LIGHT_M_PER_S
from replay.virtual_bench.standards import Device


@dataclass(frozen=True, slots=True)
class Pigtail:
    """A length of coax with a joint at either end."""

    words: str
    """As a person would call it."""
    length_m: float
    velocity_factor: float = 0.695
    loss_db_per_m: float = 0.95
    """One way at 1 GHz; nine tenths of it rise with the root of frequency, the rest with it."""
    line_ohm: float = 50.0
    near_h: float = 0.10e-9
    """Inductance of the joint at the connector."""
    far_f: float = 0.03e-12
    """Capacitance across the joint at the far end."""
    near_ohm: float = 0.0
    """Resistance of the joint at the connector: a dry joint has some."""

    @property
    def delay_s(self) -> float:
        """One way."""
        return self.length_m / (self.velocity_factor * LIGHT_M_PER_S)

    def loss_db(self, frequency_hz: FloatArray) -> FloatArray:
        """One way, of the whole length."""
        ghz = frequency_hz / 1e9
        loss: FloatArray = self.loss_db_per_m * self.length_m * (0.9 * np.sqrt(ghz) + 0.1 * ghz)
        return loss

    def seen(self, reflection: ComplexArray, frequency_hz: FloatArray) -> ComplexArray:
        """A reflection at the far end, as it is at the connector; both referred to 50 ohm."""
        omega = 2 * np.pi * np.asarray(frequency_hz, dtype=np.float64)
        volts, amperes = 1 + reflection, (1 - reflection) / 50.0
        amperes = amperes + 1j * omega * self.far_f * volts
        neper = self.loss_db(frequency_hz) * np.log(10) / 20
        gamma = neper + 1j * omega * self.delay_s
        volts, amperes = (
            volts * np.cosh(gamma) + amperes * self.line_ohm * np.sinh(gamma),
            volts / self.line_ohm * np.sinh(gamma) + amperes * np.cosh(gamma),
        )
        volts = volts + (self.near_ohm + 1j * omega * self.near_h) * amperes
        result: ComplexArray = (volts - 50.0 * amperes) / (volts + 50.0 * amperes)
        return result


PIGTAILS: dict[str, Pigtail] = {
    "good": Pigtail("182 mm of 2.5 mm PTFE coax", 0.182),
    "lossy": Pigtail("3.2 m of micro-coax", 3.2, loss_db_per_m=2.05),
    "bad-joint": Pigtail("1.5 m of coax, its near joint dry", 1.5, near_h=2.5e-9, near_ohm=12.0),
    "wrong": Pigtail("2 m of 75 ohm coax", 2.0, velocity_factor=0.81, loss_db_per_m=0.2,
                     line_ohm=75.0),
}  # fmt: skip
"""By the name that an address gives: virtual:?pigtail=lossy."""


@dataclass(frozen=True, slots=True)
class BehindPigtail:
    """A device at the far end of a pigtail."""

    pigtail: Pigtail
    device: Device

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """Linear reflection at the connector, same shape as frequency_hz."""
        return self.pigtail.seen(self.device.reflection(frequency_hz), frequency_hz)


def pigtail_named(name: str) -> Pigtail | None:
    """The pigtail of that name; None for "none". Raises BenchError where there is no such."""
    if name == "none":
        return None
    if name not in PIGTAILS:
        raise BenchError(
            f"The bench has no pigtail {name!r}: lay one of none, {', '.join(PIGTAILS)}."
        )
    return PIGTAILS[name]
