"""The measuring part of the virtual analyzer: what its receivers make of what is on its port.

The reading of a reflection G is ED + ER G / (1 - ES G) (Speciale, IEEE MTT-S 1981 p. 510, by
scikit-rf's docstring [read]) plus noise. Sizes of the error terms are those of a raw low-cost
instrument between 1 MHz and 4.4 GHz, as scikit-rf's own example data show [run]: directivity
.02 to .15, tracking .63 to .91, source match .01 to .21. They are smooth in frequency, but step
where the analyzer switches range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from acquire.sweep import ComplexArray, FloatArray

TOP_HZ = 4.4e9
"""Up to here the error terms are described; above, they stay as they are there."""


class Port(Protocol):
    """What is on the analyzer's port."""

    def port_reflection(self, frequency_hz: FloatArray, at_s: FloatArray) -> ComplexArray:
        """Linear reflection at each frequency at each time, all of shape (points,)."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Sweeping:
    """One setting of the analyzer, at which it sweeps again and again."""

    number: int
    """Counts the settings of one analyzer, so that no two share their noise."""
    frequency_hz: FloatArray
    """Shape (points,)."""
    begun_s: float
    seconds_per_point: float

    @property
    def duration_s(self) -> float:
        """Length of one sweep, seconds."""
        return self.frequency_hz.size * self.seconds_per_point

    def ends_s(self, sweep: int) -> float:
        """When a sweep ends; the first is number 0."""
        return self.begun_s + (sweep + 1) * self.duration_s

    def finished_by(self, now_s: float) -> int:
        """How many sweeps are finished by then."""
        count = max(0, math.floor((now_s - self.begun_s) / self.duration_s))
        # by the same sum as their ends, so that at its very end a sweep is finished on any clock
        return count + 1 if self.ends_s(count) <= now_s else count

    def point_times_s(self, sweep: int) -> FloatArray:
        """When each point of a sweep is measured, shape (points,)."""
        points = np.arange(1, self.frequency_hz.size + 1, dtype=np.float64)
        return self.begun_s + sweep * self.duration_s + points * self.seconds_per_point


@dataclass(frozen=True, slots=True, eq=False)
class RawErrors:
    """The analyzer's own error terms, dimensionless, each of shape (points,)."""

    directivity: ComplexArray
    source_match: ComplexArray
    reflection_tracking: ComplexArray


class Receiver:
    """Turns the port's reflection into readings that carry errors and noise.

    The same seed gives the same errors and, sweep for sweep, the same noise.
    """

    def __init__(
        self,
        port: Port,
        *,
        seed: int,
        range_steps_hz: tuple[float, ...] = (),
        noise: float = 1e-3,
        drift_per_hour: float = 0.0,
        powered_s: float = 0.0,
    ) -> None:
        """noise : rms of the complex noise on a reading, linear; drift_per_hour : how much
        tracking changes in size and in phase (radians) an hour; powered_s : when it was
        switched on, on the port's clock."""
        self.powered_s = powered_s
        self._port = port
        self._seed = seed
        self._range_steps_hz = np.array(range_steps_hz, dtype=np.float64)
        self._noise = noise
        self._drift_per_hour = drift_per_hour
        self.dead: frozenset[int] = frozenset()
        """Places within a sweep at which it sees nothing: read as not a number."""

    def errors(self, frequency_hz: FloatArray) -> RawErrors:
        """The error terms at power-up, before any drift; frequency_hz of shape (points,)."""
        directivity: ComplexArray = np.empty(frequency_hz.shape, dtype=np.complex128)
        source_match = np.empty_like(directivity)
        tracking = np.empty_like(directivity)
        ranges = np.searchsorted(self._range_steps_hz, frequency_hz, side="right")
        for which in np.unique(ranges):
            inside = ranges == which
            frequency = np.minimum(frequency_hz[inside], TOP_HZ)
            rng = np.random.default_rng([self._seed, 3, int(which)])
            directivity[inside] = two_paths(frequency, rng, (0.05, 0.11), (0.01, 0.03))
            source_match[inside] = two_paths(frequency, rng, (0.06, 0.15), (0.02, 0.05))
            size = rng.uniform(0.82, 0.89) - rng.uniform(0.05, 0.13) * frequency / TOP_HZ
            ripple = 0.02 * np.sin(2 * np.pi * frequency * 0.7e-9 + rng.uniform(0, 2 * np.pi))
            # the same line in every range; only the amplifier's phase differs between them
            turn = rng.uniform(-0.1, 0.1) - 2 * np.pi * frequency_hz[inside] * 0.5e-9
            tracking[inside] = (size + ripple) * np.exp(1j * turn)
        return RawErrors(directivity, source_match, tracking)

    def read(self, sweeping: Sweeping, sweep: int, part: slice = slice(None)) -> ComplexArray:
        """The readings of a sweep, or of the part of it that is finished, shape (points,)."""
        frequency = sweeping.frequency_hz[part]
        at_s = sweeping.point_times_s(sweep)[part]
        seen = self._port.port_reflection(frequency, at_s)
        errors = self.errors(frequency)
        reading = errors.directivity + self._drift(at_s) * errors.reflection_tracking * seen / (
            1.0 - errors.source_match * seen
        )
        rng = np.random.default_rng([self._seed, 4, sweeping.number, sweep])
        pairs = rng.standard_normal((sweeping.frequency_hz.size, 2))[part]
        noise = (pairs[:, 0] + 1j * pairs[:, 1]) * self._noise / math.sqrt(2.0)
        result: ComplexArray = reading + noise
        if self.dead:
            unseen = np.isin(np.arange(sweeping.frequency_hz.size)[part], list(self.dead))
            result[unseen] = complex(np.nan, np.nan)
        return result

    def _drift(self, at_s: FloatArray) -> ComplexArray:
        passed = self._drift_per_hour * (at_s - self.powered_s) / 3600.0
        turned: ComplexArray = np.exp(-1j * passed)
        return turned * (1.0 - passed)


def two_paths(
    frequency_hz: FloatArray,
    rng: np.random.Generator,
    larger: tuple[float, float],
    smaller: tuple[float, float],
) -> ComplexArray:
    """A leak by two paths of different length, sizes drawn from the two ranges."""
    total: ComplexArray = np.zeros(frequency_hz.shape, dtype=np.complex128)
    for low, high in (larger, smaller):
        size, delay_s = rng.uniform(low, high), rng.uniform(0.2e-9, 1.5e-9)
        turn = rng.uniform(-np.pi, np.pi) - 2 * np.pi * frequency_hz * delay_s
        total = total + size * np.exp(1j * turn)
    return total
