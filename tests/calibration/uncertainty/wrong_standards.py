"""Standards that are wrong as parts are, and the exact map that a calibration with them makes.

The open and the short are turned and lossy, the load reflects anything of its size, every joint is
made anew. A bilinear map through three points keeps the cross-ratio [derived].
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.standards.standard import CoefficientStandard
from calibration.uncertainty.budget import Assumptions

CONNECTION = 0.001
ASSUMED = Assumptions(connection=CONNECTION)
KINDS = ("open", "short", "load")


def through(points: tuple[ComplexArray, ...], images: tuple[ComplexArray, ...]) -> ComplexArray:
    """The image of points[3] under the bilinear map that takes the other three to `images`."""
    a, b, c, d = points
    p, q, r = images
    ratio = (d - a) * (c - b) / ((d - b) * (c - a)) * (r - p) / (r - q)
    found: ComplexArray = (p - ratio * q) / (1 - ratio)
    return found


def nominal(frequency_hz: FloatArray) -> list[ComplexArray]:
    """What open, short and load are said to reflect, shape (points,) each."""
    return [CoefficientStandard(kind=kind).reflection(frequency_hz) for kind in KINDS]


@dataclass(frozen=True)
class Benches:
    """Many benches of a perfect analyzer, each with faults of its own."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    load_db: float
    draws: int
    rng: np.random.Generator
    law: str = "near its bound"
    """Where in its bound the plane error of open and short lies."""

    def read(self, true: ComplexArray) -> FloatArray:
        """|reflection| of one antenna as each bench reads it, shape (draws, points)."""
        (found,) = self.read_each(true)
        return np.abs(found)

    def read_each(self, *true: ComplexArray) -> list[ComplexArray]:
        """Several antennas, each bench reading all of them under its one calibration, shape (draws,
        points) each."""
        actual = self._actual()
        said = [self._all(each) for each in nominal(self.frequency_hz)]
        return [
            through((*actual, each + self._cable(each) + self._making()), tuple(said))
            for each in true
        ]

    def truth(self, reading: ComplexArray) -> FloatArray:
        """|reflection| of the antenna that each bench reads so, shape (draws, points)."""
        said = [self._all(each) for each in nominal(self.frequency_hz)]
        actual = self._actual()
        raw = through((*said, self._all(reading)), tuple(actual))
        return np.abs(raw - self._cable(raw) - self._making())

    def _actual(self) -> list[ComplexArray]:
        """What open, short and load reflect in truth, as they were connected."""
        ways: dict[str, Callable[[], FloatArray]] = {
            "anywhere": lambda: self.rng.uniform(-1, 1, (self.draws, 1)),
            "near its bound": lambda: self._any_phase().real,
            "at its bound": lambda: self.rng.choice([-1.0, 1.0], (self.draws, 1)),
        }
        turn = 4 * np.pi * self.frequency_hz * ASSUMED.modelled_offset_ps * 1e-12
        said = nominal(self.frequency_hz)
        parts = [
            each * np.exp(1j * turn * ways[self.law]())
            + ASSUMED.definition_floor * self._any_phase()
            for each in said[:2]
        ]
        parts.append(said[2] + 10 ** (-self.load_db / 20) * self._any_phase())
        return [each + self._making() for each in parts]

    def _making(self) -> ComplexArray:
        real, imaginary = self.rng.standard_normal((2, self.draws, 1))
        rms = CONNECTION * self.frequency_hz / 1e9
        return np.asarray(rms / np.sqrt(2) * (real + 1j * imaginary), dtype=np.complex128)

    def _cable(self, reflection: ComplexArray) -> ComplexArray:
        bound = ASSUMED.cable * self.frequency_hz / 1e9
        return np.asarray(bound * self._any_phase() * reflection, dtype=np.complex128)

    def _any_phase(self) -> ComplexArray:
        phase = 2 * np.pi * self.rng.uniform(size=(self.draws, 1))
        return np.asarray(np.exp(1j * phase), dtype=np.complex128)

    def _all(self, values: ComplexArray) -> ComplexArray:
        return np.broadcast_to(values, (self.draws, self.frequency_hz.size))
