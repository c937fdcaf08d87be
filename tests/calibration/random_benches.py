"""Benches whose hidden faults are drawn at random, within what is stated of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from acquire.sweep import ComplexArray, FloatArray, Source
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import ErrorTerms, correct, embed
from calibration.one_port_calibration import Calibration, calibrate
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions

FREQUENCY_HZ = np.linspace(0.7e9, 2.7e9, 11)
SWEEPS = 8


@dataclass(frozen=True)
class Faults:
    """How large the hidden faults may be."""

    load: float
    """The load's reflection, linear; its phase is anything."""
    offset_ps: float = 0.5
    connection: float = 1e-3
    noise: float = 1e-3


class HiddenBench:
    """A unit with random terms, calibrated with standards that are a little wrong."""

    def __init__(
        self,
        kit: Kit,
        faults: Faults,
        rng: np.random.Generator,
        frequency_hz: FloatArray = FREQUENCY_HZ,
    ) -> None:
        f = frequency_hz
        self.faults, self.rng, self.frequency_hz = faults, rng, f
        self.terms = ErrorTerms(
            f, *(self._path(*size) for size in ((0.02, 0.15), (0.01, 0.21), (0.63, 0.91)))
        )
        readings = []
        for name, standard in kit.standards.items():
            true = standard.reflection(f)
            if name == "load":
                true = true + faults.load * self._phase()
            else:
                true = true * np.exp(4j * np.pi * f * faults.offset_ps * 1e-12 * rng.uniform(-1, 1))
            raw = embed(self.terms, true + self._making()) + self._scatter() / np.sqrt(SWEEPS)
            readings.append(StandardReading(name, f, raw, SWEEPS, np.full(f.size, faults.noise)))
        self.calibration: Calibration = calibrate(
            kit,
            readings,
            source=Source("virtual", "hidden bench", "invented", "virtual:"),
            request=(),
            spans=((f[0], f[-1]),),
            taken_at=datetime(2026, 5, 1, 9, 0, tzinfo=UTC),
            software="test",
        )

    def read(self, true: ComplexArray) -> ComplexArray:
        """The corrected reading of a device: connected once, swept once."""
        raw = embed(self.terms, true + self._making()) + self._scatter()
        return correct(self.calibration.terms, raw)

    def stated(self, load_db: float | None) -> Assumptions:
        """What is known of this bench."""
        return Assumptions(load_db=load_db, connection=self.faults.connection, cable=0.0)

    def _phase(self) -> complex:
        return complex(np.exp(2j * np.pi * self.rng.uniform()))

    def _path(self, least: float, most: float) -> ComplexArray:
        delay_s = self.rng.uniform(0, 1e-9)
        turn = np.exp(-2j * np.pi * self.frequency_hz * delay_s)
        return self.rng.uniform(least, most) * self._phase() * turn

    def _making(self) -> ComplexArray:
        rms = self.faults.connection * np.maximum(self.frequency_hz / 1e9, 0.1)
        return rms / np.sqrt(2) * complex(*self.rng.standard_normal(2))

    def _scatter(self) -> ComplexArray:
        real, imaginary = self.rng.standard_normal((2, self.frequency_hz.size))
        return self.faults.noise / np.sqrt(2) * (real + 1j * imaginary)
