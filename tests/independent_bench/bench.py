"""Benches whose faults are hidden, drawn within what is stated of them; many at a time.

The first axis counts benches (or draws of one bench's faults), the second frequencies. Laws: a
load lies on the ring of its stated return loss, at any phase, and turns with frequency as behind a
few millimetres; a plane lies anywhere within its bound; connections and noise are normal; drift
and cable are at their bound, at any phase [practice].
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.independent_bench.one_port import (
    Complex,
    Real,
    by_cross_ratio,
    capacitor,
    in_series,
    inductor,
    line_ended,
    seen_through,
)

PLANE_PS = 30.0
"""Where the kit's open and short lie behind the connector, one way."""
OPEN_FF, SHORT_PH = 45.0, 2.0
"""What ends them."""
GHZ = 1e9


@dataclass(frozen=True)
class Faults:
    """How large hidden faults may be; linear, but where a name says otherwise."""

    load_db: float
    plane_ps: float = 0.5
    """Of open and short, one way, either way."""
    end: float = 0.001
    """What else open and short do not reflect as they should, at any phase."""
    connection: float = 0.001
    """One making of the connector, rms at 1 GHz, rising with frequency."""
    noise: float = 0.001
    """One sweep, rms."""
    sweeps: int = 8
    """Averaged of a standard; a device is swept once."""
    drift: float = 0.002
    """Of tracking and source match; directivity half of it."""
    cable: float = 0.002
    """Of a full reflection at 1 GHz, rising with frequency."""
    plane_at_bound: bool = False
    """True where each plane lies at that bound, either way, and not anywhere within it."""


@dataclass(frozen=True)
class Box:
    """What stands between receiver and connector, shape (benches, points) each."""

    near: Complex
    far: Complex
    through: Complex

    def show(self, reflection: Complex) -> Complex:
        """The raw reading of a reflection."""
        return seen_through(self.near, self.far, self.through, reflection)

    def drifted(self, drift: float, rng: np.random.Generator, many: int) -> Box:
        """So many boxes as it may be later."""
        near, far, through = (size * drift * any_phase(rng, many) for size in (0.5, 1.0, 1.0))
        return Box(self.near + near, self.far + far, self.through + through)


def any_phase(rng: np.random.Generator, many: int) -> Complex:
    """Unit phasors, shape (many, 1)."""
    result: Complex = np.exp(2j * np.pi * rng.uniform(size=(many, 1)))
    return result


def normal(rng: np.random.Generator, many: int, points: int = 1) -> Complex:
    """Complex, rms 1, shape (many, points)."""
    real, imaginary = rng.standard_normal((2, many, points)) / np.sqrt(2)
    result: Complex = real + 1j * imaginary
    return result


def random_boxes(rng: np.random.Generator, many: int, frequency_hz: Real) -> Box:
    """Low-cost receivers: directivity .02 to .15, source match .01 to .21, tracking .63 to .91
    [run: a published set of raw readings, 1 MHz to 4.4 GHz]; each turns with a delay of its own."""

    def path(least: float, most: float, longest_s: float) -> Complex:
        delay = rng.uniform(0, longest_s, (many, 1))
        size = rng.uniform(least, most, (many, 1))
        turn = np.exp(-2j * np.pi * frequency_hz * delay)
        return np.asarray(size * any_phase(rng, many) * turn)

    near, far = path(0.02, 0.15, 1e-9), path(0.01, 0.21, 1e-9)
    delay = rng.uniform(0.2e-9, 3e-9, (many, 1))  # a cable that is short: its phase is 0 at 0 Hz
    through = rng.uniform(0.63, 0.91, (many, 1)) * np.exp(-4j * np.pi * frequency_hz * delay)
    return Box(near, far, through)


def said_standards(frequency_hz: Real) -> dict[str, Complex]:
    """What the kit says its parts reflect, shape (points,) each."""
    f = frequency_hz
    return {
        "open": line_ended(f, PLANE_PS * 1e-12, capacitor(f, OPEN_FF * 1e-15)),
        "short": line_ended(f, PLANE_PS * 1e-12, inductor(f, SHORT_PH * 1e-12)),
        "load": np.zeros(f.size, dtype=np.complex128),
    }


@dataclass
class Benches:
    """Benches that were calibrated."""

    faults: Faults
    frequency_hz: Real
    box: Box
    rng: np.random.Generator
    many: int
    parts: dict[str, Complex] = field(default_factory=dict)
    """What each standard really reflects, shape (benches, points)."""
    raw: dict[str, Complex] = field(default_factory=dict)
    """What was read of it."""

    @classmethod
    def calibrated(
        cls, faults: Faults, frequency_hz: Real, box: Box, rng: np.random.Generator, many: int
    ) -> Benches:
        """Draw the hidden faults of so many benches, and read their standards.

        box : of as many benches, or of one that all draws share.
        """
        benches = cls(faults, frequency_hz, box, rng, many)
        for name, said in said_standards(frequency_hz).items():
            benches.parts[name] = benches.part(name, said)
            benches.raw[name] = benches.made(name)
        return benches

    def made(self, name: str, loose_by: Complex | float = 0.0) -> Complex:
        """The raw reading of a standard, screwed on once.

        loose_by : an impedance in series, ohm: the nut was not tight.
        """
        true = in_series(self.parts[name] + self.making(), loose_by)
        return self.box.show(true) + self.scatter(self.faults.sweeps)

    def part(self, name: str, said: Complex) -> Complex:
        """What a part is, where the kit says what it should be."""
        f, rng, many = self.frequency_hz, self.rng, self.many
        if name == "load":
            turn = np.exp(-4j * np.pi * f * rng.uniform(0, 40e-12, (many, 1)))
            size = 10 ** (-self.faults.load_db / 20)
            return np.asarray(said + size * any_phase(rng, many) * turn)
        off = rng.uniform(-1, 1, (many, 1))
        late_s = (
            self.faults.plane_ps * 1e-12 * (np.sign(off) if self.faults.plane_at_bound else off)
        )
        return np.asarray(
            said * np.exp(-4j * np.pi * f * late_s) + self.faults.end * any_phase(rng, many)
        )

    def making(self) -> Complex:
        """One making of the connector."""
        rms = self.faults.connection * np.maximum(self.frequency_hz / GHZ, 0.1)
        return np.asarray(rms * normal(self.rng, self.many))

    def scatter(self, sweeps: int = 1) -> Complex:
        """The noise of a raw reading."""
        rms = self.faults.noise / np.sqrt(sweeps)
        return rms * normal(self.rng, self.many, self.frequency_hz.size)

    def raw_of(self, reflection: Complex) -> Complex:
        """One sweep of a device, some time after: connected once, over a cable that was handled."""
        handled = self.faults.cable * np.maximum(self.frequency_hz / GHZ, 0.1)
        moved = reflection * (1 + handled * any_phase(self.rng, self.many))
        now = self.box.drifted(self.faults.drift, self.rng, self.many)
        return now.show(moved + self.making()) + self.scatter()

    def corrected(self, raw: Complex) -> Complex:
        """The reading as the bench corrects it by itself: as the kit says, without error terms."""
        said = said_standards(self.frequency_hz)
        names = ("open", "short", "load")
        return by_cross_ratio(
            raw, tuple(self.raw[name] for name in names), tuple(said[name] for name in names)
        )
