"""A unit of known error terms, for every test of this folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray, Plane, Reading, Source, Sweep, SweepRequest
from calibration.error_terms.one_port import ErrorTerms, embed

WORKSHOP_KIT = """
format = 1
name = "workshop"
label = "Workshop kit, SMA plugs"
connector = "SMA plug"
source = "invented for a test"

[standard.open]
form = "coefficients"
kind = "open"
offset_delay_ps = 17.5
c0_ff = 13.67

[standard.short]
form = "ideal"
kind = "short"

[standard.load]
form = "data"
kind = "load"
file = "load.s1p"
return_loss_db = 32
"""
"""A builder's own kit, whole."""
WORKSHOP_LOAD = Reading(np.array([0.0, 3e9, 6e9]), np.array([0.01, 0.02j, -0.03]))
"""What its load's file holds."""

REQUEST = (SweepRequest(700e6, 2700e6, 201),)
SPANS = ((700e6, 2700e6),)


def realistic_terms(frequency_hz: FloatArray) -> ErrorTerms:
    """Sizes of a raw low-cost unit: scikit-rf's own example data, check of sizes only [run].

    Directivity .02 to .15, source match .01 to .21, tracking .63 to .91, 1 MHz to 4.4 GHz.
    """

    def path(size: float, delay_s: float) -> ComplexArray:
        return size * np.exp(-2j * np.pi * frequency_hz * delay_s)

    return ErrorTerms(
        frequency_hz,
        path(0.06, 0.4e-9) + path(0.04, 2.1e-9),
        path(0.10, 0.3e-9) + path(0.05, 1.7e-9),
        path(0.80, 4.0e-9) * (1 - 0.05 * frequency_hz / 1e9),
    )


@dataclass
class Unit:
    """A one-port analyzer whose terms and noise are known; every sweep has its number."""

    request: Sequence[SweepRequest] = REQUEST
    noise: float = 1e-4
    source: Source = field(
        default_factory=lambda: Source("virtual", "mill-lane-7 bench", "invented", "virtual:")
    )
    seed: int = 1
    sequence: int = 0

    def __post_init__(self) -> None:
        self.request = tuple(self.request)
        self.frequency_hz = np.concatenate([each.grid_hz() for each in self.request])
        self.terms = realistic_terms(self.frequency_hz)
        self.random = np.random.default_rng(self.seed)

    def raw(self, reflection: ComplexArray | complex) -> ComplexArray:
        """What it reads of a reflection, noise and all."""
        scatter = self.random.standard_normal((2, self.frequency_hz.size)) / np.sqrt(2)
        return embed(
            self.terms, np.broadcast_to(reflection, self.frequency_hz.shape)
        ) + self.noise * (scatter[0] + 1j * scatter[1])

    def sweep(self, reflection: ComplexArray | complex) -> Sweep:
        """One raw sweep of a reflection."""
        return self.stamped(self.raw(reflection))

    def stamped(self, raw: ComplexArray) -> Sweep:
        """One raw sweep of these very readings."""
        self.sequence += 1
        return Sweep(
            self.frequency_hz,
            raw,
            Plane.RAW,
            datetime(2025, 6, 1, 12, tzinfo=UTC) + timedelta(seconds=self.sequence),
            self.sequence,
            self.source,
            tuple(self.request),
        )


@pytest.fixture
def unit() -> Unit:
    """A unit on 201 points from 700 to 2700 MHz with noise of 1e-4."""
    return Unit()


@pytest.fixture
def new_unit() -> Callable[..., Unit]:
    """Make a unit of other passes, noise or name."""
    return Unit
