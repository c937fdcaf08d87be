"""Antennas of series resonances behind a line, and a narrow resonance planted at their feed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.independent_bench.one_port import OHM, Complex, Real

Random = np.random.Generator


@dataclass(frozen=True)
class Resonance:
    """A series R, L and C."""

    centre_hz: float
    quality: float
    """2 pi f L over `damped_by`."""
    ohm: float
    damped_by: float
    """The resistance that its quality is told by: its own, or all that damps it in place."""

    def at(self, frequency_hz: Real) -> Complex:
        """Impedance, ohm."""
        off = frequency_hz / self.centre_hz - self.centre_hz / frequency_hz
        result: Complex = self.ohm + 1j * self.quality * self.damped_by * off
        return result


@dataclass(frozen=True)
class Antenna:
    """Series resonances in parallel, behind a line of 50 ohm."""

    modes: tuple[Resonance, ...]
    delay_s: float
    planted: Resonance | None = None
    across: bool = True
    """True: the planted one shorts the feed where it resonates. False: its dual, a parallel
    resonance in series with the feed, opens it."""

    def feed_ohm(self, frequency_hz: Real) -> Complex:
        """Impedance at the feed, without what is planted."""
        result: Complex = 1 / sum(1 / mode.at(frequency_hz) for mode in self.modes)
        return result

    def reflection(self, frequency_hz: Real) -> Complex:
        """At the connector, shape as frequency_hz."""
        ohm = self.feed_ohm(frequency_hz)
        if self.planted is not None:
            one = self.planted.at(frequency_hz)
            ohm = ohm * one / (ohm + one) if self.across else ohm + OHM**2 / one
        turn = np.exp(-4j * np.pi * frequency_hz * self.delay_s)
        result: Complex = (ohm - OHM) / (ohm + OHM) * turn
        return result


def smooth_antenna(rng: Random, centre_hz: float) -> Antenna:
    """An honest hand-built one: Q 5 to 25 [practice: a few per cent wide at the narrowest]."""
    ohm = rng.uniform(25, 90)
    modes = [Resonance(centre_hz, rng.uniform(5, 25), ohm, ohm)]
    if rng.uniform() < 0.5:
        ohm = rng.uniform(25, 200)
        apart = rng.choice((-1, 1)) * rng.uniform(0.1, 0.5)
        modes.append(Resonance(centre_hz * (1 + apart), rng.uniform(5, 25), ohm, ohm))
    return Antenna(tuple(modes), rng.uniform(0, 3e-9))


def planted(rng: Random, antenna: Antenna, at_hz: float, width_hz: float) -> Antenna:
    """The same with a resonance as wide in place, between its half-power points, as is said.

    What damps a resonance across the feed is its own resistance and feed and line in parallel;
    its dual sees the same in the admittances [derived]. How deep it is, is drawn.
    """
    feed = complex(antenna.feed_ohm(np.array([at_hz]))[0])
    ohm = float(np.exp(rng.uniform(np.log(3.0), np.log(3000.0))))
    across = bool(rng.uniform() < 0.5)
    beside = (feed * OHM / (feed + OHM)).real if across else (OHM**2 / (feed + OHM)).real
    one = Resonance(at_hz, at_hz / width_hz, ohm, ohm + beside)
    return Antenna(antenna.modes, antenna.delay_s, one, across)
