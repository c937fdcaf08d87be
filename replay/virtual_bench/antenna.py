"""A bent-strip radiator: two arms of strip over a bracket, fed across a gap.

A model for rehearsing the work with the pliers, not for designing an antenna: it bends the
right way by about the right amount, and nothing else is claimed for it. All data is invented.

Each arm is a quarter-wave strip over its bracket, open at the end. Its input admittance is that
of an open line, tan(x)/(-j Zc), developed into its resonances (partial fractions of the tangent;
every resonance is one series circuit, all of one arm with the same inductance), each with the
arm's radiation resistance in series. Both arms hang in parallel behind the feed's step-up and
inductance. All of it is resistors, inductors, capacitors and an ideal transformer, all positive,
so |reflection| cannot exceed 1 whatever the dimensions, and the response is causal.

Every element follows from ratios of lengths times mu0, epsilon0 and a length, so that scaling
all dimensions, the strip's width included, scales all frequencies exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from replay.errors import BenchError
from replay.virtual_bench.surroundings import BARE, Loading

LIGHT_M_PER_S = 299_792_458.0
MU0_H_PER_M = 4e-7 * math.pi
EPSILON0_F_PER_M = 1.0 / (MU0_H_PER_M * LIGHT_M_PER_S**2)

QUARTER_WAVE_OHM = 36.5
"""Radiation resistance of a straight quarter wave over a large ground [practice]."""
RESONANCES = (1, 3, 5)
"""Odd quarter waves along an arm that the model keeps."""
END_CORRECTION = 0.3
"""How much longer an arm acts, in heights over the bracket (fringing at its open end)."""
HEIGHT_FOR_RADIATION = 1.5
"""Height in strip widths at which a low arm has 63 % of the quarter wave's resistance."""
FEED_INDUCTANCE = 0.25
FEED_CAPACITANCE = 1.0

BOUNDS_MM: dict[str, tuple[float, float]] = {
    "arm_a": (60.0, 110.0),
    "arm_b": (22.0, 56.0),
    "feed_gap": (0.5, 6.0),
    "height": (10.0, 32.0),
}
"""What can be bent, and what the strip allows before it cracks, shorts or runs out."""


@dataclass(frozen=True, slots=True)
class BentStrip:
    """A radiator's dimensions; bending one gives another radiator."""

    arm_a_mm: float
    """Long arm from the feed along the strip: the low dip, near 800 to 900 MHz."""
    arm_b_mm: float
    """Short arm: the high dip, near 1.8 GHz."""
    feed_gap_mm: float
    """Gap between feed and bracket: the step-up of the resistance, so the depth of the dips."""
    height_mm: float
    """Height over the bracket: the higher, the more it radiates and the wider the dips."""
    strip_mm: float = 8.0
    """Width of the strip; fixed once it is cut."""
    loading: Loading = BARE
    """What lies round it."""

    def bent(self, name: str, delta_mm: float) -> BentStrip:
        """Return this radiator with one dimension changed; raises BenchError out of range."""
        if name not in BOUNDS_MM:
            raise BenchError(
                f"The antenna has no dimension {name!r}: bend one of {', '.join(BOUNDS_MM)}."
            )
        if not math.isfinite(delta_mm):
            raise BenchError(f"{name} cannot be bent by {delta_mm} mm: give a number of mm.")
        low_mm, high_mm = BOUNDS_MM[name]
        # a tenth of a millimetre is finer than pliers; it also keeps sums of bends exact
        wanted_mm = round(self.dimensions_mm[name] + delta_mm, 3)
        if not low_mm <= wanted_mm <= high_mm:
            raise BenchError(
                f"{name} cannot become {wanted_mm:g} mm: it can lie between {low_mm:g} and "
                f"{high_mm:g} mm. Bend by less, or the other way."
            )
        changed: dict[str, Any] = {f"{name}_mm": wanted_mm}
        return replace(self, **changed)

    @property
    def dimensions_mm(self) -> dict[str, float]:
        """The dimensions that can be bent, by name, mm."""
        return {name: getattr(self, f"{name}_mm") for name in BOUNDS_MM}

    def arm_resonance_hz(self, arm_mm: float) -> float:
        """Quarter-wave resonance of one arm by itself, in what lies round it, Hz."""
        acting_m = (arm_mm + END_CORRECTION * self.height_mm) * 1e-3
        return LIGHT_M_PER_S / (4.0 * acting_m * math.sqrt(self.loading.permittivity))

    def impedance_ohm(self, frequency_hz: FloatArray) -> ComplexArray:
        """Feed-point impedance, complex ohm, same shape as frequency_hz (above 0 Hz)."""
        omega = 2.0 * np.pi * np.asarray(frequency_hz, dtype=np.float64)
        height_ratio = self.height_mm / self.strip_mm
        # air-filled strip over ground, narrow strip; Wheeler, IEEE MTT-13 (1965) [memory]
        line_ohm = 60.0 * math.log(8.0 * height_ratio + 0.25 / height_ratio)
        line_ohm /= math.sqrt(self.loading.permittivity)
        arm_ohm = QUARTER_WAVE_OHM * (1.0 - math.exp(-height_ratio / HEIGHT_FOR_RADIATION))
        arm_ohm /= self.loading.permittivity
        step_up = (1.0 + self.feed_gap_mm / self.strip_mm) ** 2

        admittance = 1j * omega * EPSILON0_F_PER_M * FEED_CAPACITANCE * self.strip_mm * 1e-3
        for arm_mm in (self.arm_a_mm, self.arm_b_mm):
            first = 2.0 * np.pi * self.arm_resonance_hz(arm_mm)
            inductance = np.pi * line_ohm / (4.0 * first)
            for order in RESONANCES:
                reactance = inductance * (omega - (order * first) ** 2 / omega)
                # at its resonance; a fixed resistance, so that the circuit stays one
                lost_ohm = order * first * inductance * self.loading.loss_tangent
                admittance = admittance + 1.0 / (arm_ohm + lost_ohm + 1j * reactance)
        feed_h = MU0_H_PER_M * FEED_INDUCTANCE * self.feed_gap_mm * 1e-3
        impedance: ComplexArray = 1j * omega * feed_h + step_up / admittance
        return impedance

    def reflection(self, frequency_hz: FloatArray, reference_ohm: float = 50.0) -> ComplexArray:
        """Linear reflection coefficient, same shape as frequency_hz (above 0 Hz)."""
        impedance = self.impedance_ohm(frequency_hz)
        return (impedance - reference_ohm) / (impedance + reference_ohm)


GOOD_SETTING = BentStrip(arm_a_mm=85.5, arm_b_mm=36.0, feed_gap_mm=2.0, height_mm=19.0)
"""Passes every target of the demo's plan by more than 1 dB (found by search, held by a test)."""

DELIVERED = {
    "weir-3": BentStrip(arm_a_mm=80.5, arm_b_mm=39.0, feed_gap_mm=2.0, height_mm=19.0),
    "mill-lane-7": BentStrip(arm_a_mm=90.5, arm_b_mm=33.0, feed_gap_mm=1.0, height_mm=17.0),
}
"""The radiators as they come to the bench: cut by hand, untuned. Invented."""
FINISHED = {"known-good": GOOD_SETTING}
"""One that was tuned before, to hold others against. Invented."""
ANTENNAS = DELIVERED | FINISHED
"""All that lie on the bench, by name."""
