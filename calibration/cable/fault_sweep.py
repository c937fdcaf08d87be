"""Which sweep shows faults up to a distance, as close together as wanted.

Resolution hangs on the span, the range on the step:
    span = width v / (2 resolution),   step = v / (2 range)                              [derived]
A grid whose every frequency is a multiple of the first is mirrored about 0 Hz, so it resolves
twice as finely for its highest frequency, and tells an open from a short; it is offered where the
analyzer reaches low enough.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from acquire.coverage.sweep_coverage import MOST_POINTS
from acquire.coverage.sweep_limits import Limits
from calibration.cable.distance_domain import KAISER_BETA, kaiser_width
from calibration.errors import FaultError
from calibration.plane.loss import M_PER_S

RANGE_FACTOR = 1.25
"""The unaliased range is taken so much longer than wanted: its end must be quiet."""
ROUND_HZ = 1000.0


@dataclass(frozen=True, slots=True)
class FaultPlan:
    """One even grid."""

    low_hz: float
    high_hz: float
    step_hz: float
    points: int
    range_m: float
    """Unaliased."""
    resolution_m: float
    signed: bool
    """True where an open can be told from a short."""

    @property
    def words(self) -> str:
        """In a sentence."""
        range_words = (
            "open and short are told apart"
            if self.signed
            else "open and short cannot be told apart: that takes a grid from its step upwards"
        )
        return (
            f"{self.points} points from {self.low_hz / 1e6:.6g} to {self.high_hz / 1e6:.6g} MHz, "
            f"{self.step_hz / 1e3:.6g} kHz apart: {self.range_m:.3g} m unaliased, "
            f"{self.resolution_m * 1e3:.3g} mm apart; {range_words}."
        )

    @property
    def options(self) -> str:
        """As `calibrate` takes it."""
        return (
            f"--even {self.low_hz / 1e6:.9g}-{self.high_hz / 1e6:.9g} "
            f"--step-khz {self.step_hz / 1e3:.9g}"
        )


def plan_fault(
    wanted_range_m: float,
    wanted_resolution_m: float,
    velocity_factor: float,
    limits: Limits,
    beta: float = KAISER_BETA,
) -> FaultPlan:
    """Work out the grid. Raises FaultError where no analyzer of these limits can sweep it."""
    if not 0 < wanted_resolution_m < wanted_range_m:
        raise FaultError(
            f"A range of {wanted_range_m:g} m and a resolution of {wanted_resolution_m:g} m make "
            "no sense: both are above zero, and the range is the larger."
        )
    speed = M_PER_S * velocity_factor
    step_hz = math.floor(speed / (2 * RANGE_FACTOR * wanted_range_m) / ROUND_HZ) * ROUND_HZ
    width = kaiser_width(beta)
    if step_hz <= 0:
        raise FaultError(f"{wanted_range_m:g} m is further than a step of 1 kHz can reach.")
    signed = limits.low_hz <= step_hz
    span_hz = width * speed / (2 * wanted_resolution_m) / (2 if signed else 1)
    if signed:
        points = math.ceil(span_hz / step_hz)
        low_hz = step_hz
    else:
        points = math.ceil(span_hz / step_hz) + 1
        low_hz = math.ceil(limits.low_hz / step_hz) * step_hz
    high_hz = low_hz + (points - 1) * step_hz
    if high_hz > limits.high_hz:
        possible = (limits.high_hz - (0 if signed else low_hz)) * (2 if signed else 1)
        raise FaultError(
            f"{wanted_resolution_m * 1e3:.3g} mm would take a sweep up to {high_hz / 1e6:.5g} MHz, "
            f"and the analyzer sweeps {limits.words}. It can tell "
            f"{width * speed / (2 * possible):.2g} m apart: ask for that, or take a "
            "window of smaller beta."
        )
    if points > MOST_POINTS:
        raise FaultError(
            f"{points} points make no sense, {MOST_POINTS} are the most. Ask for a shorter range, "
            "or a coarser resolution."
        )
    whole_hz = 2 * points * step_hz if signed else (points - 1) * step_hz
    return FaultPlan(
        low_hz,
        high_hz,
        step_hz,
        points,
        speed / (2 * step_hz),
        width * speed / (2 * whole_hz),
        signed,
    )
