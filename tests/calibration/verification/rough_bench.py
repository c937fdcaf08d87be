"""A bench whose every joint is made by hand, calibrated again and again, and sometimes wrongly.

By its own means: two-ports in a row, from the analyzer's three terms over the near joint and the
cable to the standard's own joint. Nothing of `calibration` but the kit's definitions and what the
readings are handed to.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from acquire.sweep import ComplexArray, FloatArray, Source
from calibration.capture.standard_capture import StandardReading
from calibration.one_port_calibration import Calibration, calibrate
from calibration.standards.kit import Kit

FREQUENCY_HZ = np.linspace(0.7e9, 2.7e9, 101)
NINE = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
NOISE, SWEEPS = 3e-4, 8
Seen = Callable[[ComplexArray], ComplexArray]
"""What is seen through something: reflection to reflection, shape (points,)."""
SOURCE = Source("port", "weir-3", "invented", "COM3")


def series(impedance_ohm: Any, reflection: ComplexArray) -> ComplexArray:
    """A reflection behind an impedance in series."""
    volts, amperes = 1 + reflection, 1 - reflection
    volts = volts + impedance_ohm / 50.0 * amperes
    seen: ComplexArray = (volts - amperes) / (volts + amperes)
    return seen


def shunt(admittance_s: Any, reflection: ComplexArray) -> ComplexArray:
    """A reflection behind an admittance to earth."""
    volts, amperes = 1 + reflection, 1 - reflection
    amperes = amperes + admittance_s * 50.0 * volts
    seen: ComplexArray = (volts - amperes) / (volts + amperes)
    return seen


def in_series(ohm: float, henry: float, frequency_hz: FloatArray = FREQUENCY_HZ) -> Seen:
    """A contact that hangs loose."""
    return lambda reflection: series(ohm + 2j * np.pi * frequency_hz * henry, reflection)


def across(farad: float, frequency_hz: FloatArray = FREQUENCY_HZ) -> Seen:
    """A gap beside the contact."""
    return lambda reflection: shunt(2j * np.pi * frequency_hz * farad, reflection)


def intermittent(ohm: float, share: float, rng: np.random.Generator, points: int) -> Seen:
    """A contact that some of the points find bad."""
    bad = rng.uniform(size=points) < share
    return lambda reflection: series(ohm * bad, reflection)


class RoughBench:
    """An analyzer, a cable and a kit, all a little wrong, and wrong alike every day."""

    def __init__(
        self, kit: Kit, rng: np.random.Generator, frequency_hz: FloatArray = FREQUENCY_HZ
    ) -> None:
        self.kit, self.rng, self.f = kit, rng, frequency_hz
        self.directivity, self.match = self._path(0.02, 0.15), self._path(0.01, 0.21)
        inside_s = rng.uniform(0, 1e-9)
        self.tracking = rng.uniform(0.75, 0.95) * np.exp(-2j * np.pi * self.f * inside_s)
        self.delay_s, self.loss_db = rng.uniform(1e-9, 6e-9), rng.uniform(0.2, 1.2)
        self.near = self._joint(0.01, 0.03)
        self.load = rng.uniform(0, 0.05) * self._turning()
        self.plane_s = {name: rng.uniform(-0.5e-12, 0.5e-12) for name in ("open", "short")}
        self.days = 0

    def standard(self, name: str) -> ComplexArray:
        """What a standard of the kit truly reflects."""
        stated = self.kit.standards[name].reflection(self.f)
        if name == "load":
            return stated + self.load
        late: ComplexArray = stated * np.exp(4j * np.pi * self.f * self.plane_s.get(name, 0.0))
        return late

    def calibration(
        self,
        faults: Mapping[str, Seen] | None = None,
        *,
        joints: tuple[float, float] = (0.003, 0.01),
        near: Seen | None = None,
        cable: tuple[float, float] = (0.0, 0.0),
    ) -> Calibration:
        """Make every joint anew and calibrate, a day after the last time.

        faults : by standard, what it is seen through. joints : what one making moves a small
        reflection by, least and most. near : a fault of the joint at the analyzer. cable : more
        loss, dB at 1 GHz one way, and more delay, s.
        """
        directivity = self.directivity + 0.002 * self._turning()
        match = self.match + 0.004 * self._turning()
        drift = self.rng.uniform(-0.01, 0.01) + 1j * self.rng.uniform(-0.03, 0.03) * self.f / 3e9
        loss = 10 ** (-2 * (self.loss_db + cable[0]) * np.sqrt(self.f / 1e9) / 20)
        turn = np.exp(-4j * np.pi * self.f * (self.delay_s + cable[1]))
        near_now = self._joint(*joints)
        readings = []
        for name in self.kit.standards:
            seen = self.standard(name)
            if faults and name in faults:
                seen = faults[name](seen)
            through = near_now(self.near(loss * turn * self._joint(*joints)(seen)))
            through = through if near is None else near(through)
            raw = directivity + self.tracking * (1 + drift) * through / (1 - match * through)
            scatter = self.rng.standard_normal((2, self.f.size)) * NOISE / np.sqrt(2 * SWEEPS)
            raw = raw + scatter[0] + 1j * scatter[1]
            readings.append(StandardReading(name, self.f, raw, SWEEPS, np.full(self.f.size, NOISE)))
        self.days += 1
        return calibrate(
            self.kit,
            readings,
            source=SOURCE,
            request=(),
            spans=((self.f[0], self.f[-1]),),
            taken_at=NINE + timedelta(days=self.days),
            software="test",
        )

    def _joint(self, least: float, most: float) -> Seen:
        """One making of a joint: some inductance, capacitance or resistance, or a reflection."""
        size = self.rng.uniform(least, most)
        sign = self.rng.choice([-1, 1])
        rising = 2j * sign * size * self.f / self.f[-1]
        turning = size * self._turning()
        kind = self.rng.integers(4)
        if kind == 0:
            return lambda reflection: series(50 * rising, reflection)
        if kind == 1:
            return lambda reflection: shunt(rising / 50, reflection)
        if kind == 2:
            return lambda reflection: series(100 * size, reflection)
        return lambda reflection: reflection + turning

    def _path(self, least: float, most: float) -> ComplexArray:
        return self.rng.uniform(least, most) * self._turning(1e-9)

    def _turning(self, most_s: float = 60e-12) -> ComplexArray:
        phase = self.rng.uniform(0, 2 * np.pi)
        turned: ComplexArray = np.exp(
            1j * (phase - 2 * np.pi * self.f * self.rng.uniform(0, most_s))
        )
        return turned
