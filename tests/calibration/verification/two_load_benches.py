"""Two loads on a bench, by plain numpy: nothing here is the code under test.

One analyzer with errors of its own is calibrated with an open and a short that lie a little off
the plane, and with a first load; then a second load is read. Each load reflects, where it is worst,
just what is stated of it, in one of five ways.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray

SWEEPS = 8
Draw = np.random.Generator


def fixed(size: float, f: FloatArray, rng: Draw) -> ComplexArray:
    """A ring: the same phase, whichever, at all frequencies."""
    return size * np.exp(2j * np.pi * rng.uniform()) * np.ones(f.size)


def turning(size: float, f: FloatArray, rng: Draw) -> ComplexArray:
    """A reflection up to 45 mm behind the plane, as air."""
    return fixed(size, f, rng) * np.exp(-4j * np.pi * f * rng.uniform(0, 150e-12))


def resistor(size: float, f: FloatArray, rng: Draw) -> ComplexArray:
    """A resistance that is off, either way."""
    return size * rng.choice([-1.0, 1.0]) * np.ones(f.size, dtype=complex)


def inductor(size: float, f: FloatArray, rng: Draw) -> ComplexArray:
    """50 ohm with an inductance in series: jx / (2 + jx)."""
    x = 2 * size / np.sqrt(1 - size**2) * f / f[-1]
    return 1j * x / (2 + 1j * x)


def capacitor(size: float, f: FloatArray, rng: Draw) -> ComplexArray:
    """50 ohm with a capacitance across: -jb / (2 + jb)."""
    return -inductor(size, f, rng)


SHAPES: dict[str, Callable[[float, FloatArray, Draw], ComplexArray]] = {
    each.__name__: each for each in (fixed, turning, resistor, inductor, capacitor)
}


@dataclass(frozen=True)
class Reading:
    """What one standard, or the second load, reads raw: the mean of the sweeps, their scatter."""

    name: str
    raw: ComplexArray
    noise: FloatArray


class TwoLoadBench:
    """Reads open, short, a first load and a second one."""

    def __init__(
        self,
        first: ComplexArray,
        f: FloatArray,
        rng: Draw,
        *,
        offset_s: float = 10e-12,
        connection: float = 1e-3,
        noise: float = 1e-3,
    ) -> None:
        self.f, self.rng = f, rng
        self.connection, self.noise = connection, noise
        self.terms = [self._path(*sizes) for sizes in ((0.02, 0.15), (0.01, 0.21), (0.63, 0.91))]
        turned = [np.exp(4j * np.pi * f * offset_s * rng.uniform(-1, 1)) for _ in range(2)]
        self.standards = [
            self.read("open", turned[0]),
            self.read("short", -turned[1]),
            self.read("load", first),
        ]

    def read(self, name: str, true: ComplexArray) -> Reading:
        """One making of the connector, `SWEEPS` sweeps."""
        directivity, match, tracking = self.terms
        making = self.connection * np.maximum(self.f / 1e9, 0.1) / np.sqrt(2)
        at_plane = true + making * complex(*self.rng.standard_normal(2))
        clean = directivity + tracking * at_plane / (1 - match * at_plane)
        real, imaginary = self.rng.standard_normal((2, self.f.size))
        scatter = self.noise / np.sqrt(2 * SWEEPS) * (real + 1j * imaginary)
        return Reading(name, clean + scatter, np.full(self.f.size, self.noise))

    def _path(self, least: float, most: float) -> ComplexArray:
        size, delay_s = self.rng.uniform(least, most), self.rng.uniform(0, 1e-9)
        return size * np.exp(2j * np.pi * (self.rng.uniform() - self.f * delay_s))
