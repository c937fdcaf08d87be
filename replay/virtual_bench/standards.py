"""What can be screwed on to the virtual bench's connector, as it physically is.

The model of open and short is that of `calibration.standards.kit`, written down a second time on
purpose: were both to share one function, an error in it would cancel out, and every rehearsal would
come out right. Here a line of the standard's own impedance is cascaded with its termination.

A real standard is never quite what its data sheet says. `with_hidden_errors` moves a standard
off its coefficients by a little, and the solver is never told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal, Protocol

import numpy as np

from acquire.sweep import ComplexArray, FloatArray

COEFFICIENT_SCALES = {"open": (1e-15, 1e-27, 1e-36, 1e-45), "short": (1e-12, 1e-24, 1e-33, 1e-42)}
"""What the four coefficients are counted in: F or H, divided by Hz to the power 0 to 3."""


class Device(Protocol):
    """Anything with one connector."""

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """Linear reflection coefficient referred to 50 ohm, same shape as frequency_hz."""
        ...


@dataclass(frozen=True, slots=True)
class OffsetStandard:
    """An open or a short behind a short length of line."""

    kind: Literal["open", "short"]
    coefficients: tuple[float, float, float, float]
    """C0 to C3 of an open, L0 to L3 of a short, counted in `COEFFICIENT_SCALES`."""
    delay_ps: float
    """One way along the line."""
    loss_gohm_per_s: float
    """Of the line, at 1 GHz."""
    line_ohm: float = 50.0

    def reflection(self, frequency_hz: FloatArray, reference_ohm: float = 50.0) -> ComplexArray:
        """Linear reflection coefficient, same shape as frequency_hz (above 0 Hz).

        The line is cascaded by Z = Zc (ZT + Zc tanh gl) / (Zc + ZT tanh gl), with gl and Zc
        by AN 1287-11 (2009) equations 36 and 37 [read, second-hand]. This reaches the result
        by impedances where `calibration.standards.kit` goes by reflections.
        """
        frequency = np.asarray(frequency_hz, dtype=np.float64)
        omega = 2.0 * np.pi * frequency
        reactive = sum(
            value * scale * frequency**power
            for power, (value, scale) in enumerate(
                zip(self.coefficients, COEFFICIENT_SCALES[self.kind], strict=True)
            )
        )
        skin_ohm_per_s = self.loss_gohm_per_s * 1e9 * np.sqrt(frequency / 1e9)
        attenuation = skin_ohm_per_s * self.delay_ps * 1e-12 / (2.0 * self.line_ohm)
        tangent = np.tanh(attenuation + 1j * (omega * self.delay_ps * 1e-12 + attenuation))
        line_ohm = self.line_ohm + (1.0 - 1j) * skin_ohm_per_s / (2.0 * omega)
        # over and under the fraction bar, so that an open without capacitance stays finite
        one, immittance = np.ones_like(tangent), 1j * omega * reactive
        over, under = (one, immittance) if self.kind == "open" else (immittance, one)
        volts = line_ohm * (over + under * line_ohm * tangent)
        amperes = under * line_ohm + over * tangent
        result: ComplexArray = (volts - reference_ohm * amperes) / (volts + reference_ohm * amperes)
        return result

    def with_hidden_errors(self, rng: np.random.Generator) -> OffsetStandard:
        """Return this standard as it was really made: near its coefficients, not on them."""
        first, second, third, fourth = self.coefficients
        return replace(
            self,
            coefficients=(
                first * (1.0 + 0.01 * rng.standard_normal()),
                second,
                third,
                fourth,
            ),
            delay_ps=self.delay_ps + 0.12 * rng.standard_normal(),
            loss_gohm_per_s=self.loss_gohm_per_s * (1.0 + 0.1 * rng.uniform(-1.0, 1.0)),
        )


@dataclass(frozen=True, slots=True)
class Resistive:
    """A resistor's reflection behind a short line: a load, or a device of known mismatch."""

    magnitude: float
    """|reflection| at 0 Hz."""
    angle_rad: float = 0.0
    delay_ps: float = 0.0
    slope_per_ghz: float = 0.0
    """How much |reflection| rises a GHz; it stops rising at `ceiling`."""
    ceiling: float = 1.0

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """Linear reflection coefficient referred to 50 ohm, same shape as frequency_hz."""
        frequency = np.asarray(frequency_hz, dtype=np.float64)
        magnitude = np.minimum(self.magnitude + self.slope_per_ghz * frequency / 1e9, self.ceiling)
        turn = self.angle_rad - 4.0 * math.pi * frequency * self.delay_ps * 1e-12
        result: ComplexArray = magnitude * np.exp(1j * turn)
        return result


# Type N and 3.5 mm plugs and the flush SMA socket: scikit-rf's notebook on standards, citing
# AN 1287-11 (2009) [read].
KITS: dict[str, dict[str, OffsetStandard]] = {
    "n-plug-50": {
        "open": OffsetStandard("open", (89.939, 2536.8, -264.99, 13.4), 40.856, 0.93),
        "short": OffsetStandard(
            "short", (3.3998, -496.4808, 34.8314, -0.7847), 45.955, 1.087, 49.992
        ),
    },
    "3.5mm-plug-50": {
        "open": OffsetStandard("open", (49.433, -310.13, 23.168, -0.15966), 29.243, 2.2),
        "short": OffsetStandard("short", (2.0765, -108.54, 2.1705, -0.01), 31.785, 2.36),
    },
}
"""Open and short as the data sheet has them, by the name of the shipped kit they belong to."""

OPEN_CONNECTOR = OffsetStandard("open", (13.67, 0.0, 0.0, 0.0), 0.0, 0.0)
"""A connector with nothing on it."""

LOAD_RETURN_LOSS_DB = 30.0
"""What the bench's load may be stated to have; it is a little better than that, unequally so."""

MISMATCH_LOAD = Resistive(magnitude=0.2, delay_ps=25.0)
"""A device of known mismatch: VSWR 1.5 at every frequency."""


TWO_LOADS_ON_A_TEE = Resistive(magnitude=1 / 3, angle_rad=math.pi, delay_ps=30.0)
"""25 ohm: a check piece of 9.54 dB."""


def hidden_load(rng: np.random.Generator) -> Resistive:
    """Return a load within its stated 30 dB, of a phase that nobody is told."""
    return Resistive(
        magnitude=rng.uniform(0.014, 0.020),
        angle_rad=rng.uniform(-math.pi, math.pi),
        delay_ps=rng.uniform(5.0, 15.0),
        slope_per_ghz=rng.uniform(0.0005, 0.002),
        ceiling=0.03,
    )


def second_load(rng: np.random.Generator) -> Resistive:
    """Return a load within its stated 40 dB, of a phase that nobody is told."""
    return Resistive(
        magnitude=rng.uniform(0.003, 0.007),
        angle_rad=rng.uniform(-math.pi, math.pi),
        delay_ps=rng.uniform(5.0, 15.0),
        slope_per_ghz=rng.uniform(0.0002, 0.0008),
        ceiling=0.0095,
    )
