"""What can be wrong with a corrected reflection: every contribution, with its size and origin.

After a calibration the corrected reading of a reflection G is off by a small amount that depends
on G as a quadratic, e0 + e1 G + e2 G^2, whatever caused it: see
`calibration.uncertainty.sensitivity`. So a contribution is three complex coefficients at every
frequency.

Form of the sum, from EA-10/12 and EURAMET cg-12 [memory; no conformity is claimed]: bounded
contributions and random ones. A bounded one is a phasor of unknown phase, or a real number times a
direction that is known: a reference plane that is off turns what an open reflects, and no more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from acquire.sweep import ComplexArray, FloatArray

Origin = Literal["stated", "measured", "assumed"]
Law = Literal["bounded, phase unknown", "bounded, direction known", "normal, complex"]
"""How a contribution is spread: a phasor of its size and any phase; its coefficients times the
cosine of any phase; a complex number whose components are normal."""
Part = Literal["definition", "drift", "reading noise", "other"]
"""What can be replaced: by what a known device proves, by what a standard put back shows, by the
scatter of another reading; or nothing of these."""

DEFAULT_LOAD_DB = 26.0
"""Return loss of a load nobody stated, phase unknown: a VSWR of 1.1, as many builders' loads
are sold [practice]."""

CONNECTION = 0.001
"""What one making of a connector differs from the next by at 1 GHz, rms, linear: -60 dB, of clean
parts and a torque wrench [practice]."""
GOOD_LOAD_DB, GOOD_LOAD_CONNECTION = 36.0, 0.003
"""Behind a load better than the first, the connector counts as much as the load; then it is taken
as the second, the least of what nuts that are tightened by hand show [practice]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumptions:
    """What is taken to be so where nothing was measured or stated; every figure can be changed.

    All of them are common practice, chosen to be on the safe side for a hobby bench, and none
    of them replaces a measurement.
    """

    load_db: float | None = None
    """The load's return loss, dB, if the person states it; else the kit's, else 26 dB."""
    load_source: str = ""
    """Where that figure comes from, such as "certificate 123"; empty: nobody said."""
    ideal_offset_ps: float = 10.0
    """How far, one way, an open or short called ideal may lie from the plane: 3 mm of air."""
    modelled_offset_ps: float = 0.5
    """The same for one whose offset is modelled."""
    data_error: float = 0.005
    """Bound of the error of a standard given by data that states none, linear."""
    definition_floor: float = 0.001
    """Least error of any open or short, linear: nothing reflects exactly 1."""
    connection: float | None = None
    """What one making of the connector differs from the next by at 1 GHz, rms, linear; rises
    with frequency. None: 0.001, and 0.003 behind a load better than 36 dB."""
    drift_per_hour: float = 0.002
    """How far tracking and source match may wander in an hour, linear; directivity half of it."""
    drift_per_1000_sweeps: float = 0.0005
    """The same for every thousand sweeps since calibrating: each is a chance for the cable to be
    moved and the connector to settle."""
    cable: float = 0.002
    """What the cable changes a full reflection by while it is handled, linear, at 1 GHz."""

    def load_stated_db(self, kit_load_db: float | None) -> float | None:
        """The load's return loss as the person states it, else as the kit does, dB."""
        return kit_load_db if self.load_db is None else self.load_db

    def connection_behind(self, load_db: float | None) -> float:
        """The connector's repeatability at 1 GHz, rms, behind a load stated so good."""
        if self.connection is not None:
            return self.connection
        good = load_db is not None and load_db > GOOD_LOAD_DB
        return GOOD_LOAD_CONNECTION if good else CONNECTION


@dataclass(frozen=True, slots=True, eq=False)
class Contribution:
    """One cause, and what it does to a corrected reflection."""

    name: str
    origin: Origin
    words: str
    """Where its size comes from, in a few words."""
    bounded: bool
    """True: at most its size. False: random, its size a standard deviation of either component."""
    coefficients: ComplexArray
    """Shape (3, points): e0, e1, e2 of e0 + e1 G + e2 G^2."""
    cause: str = ""
    """What would have to be better for it to be less; several contributions may share one.
    Empty: the name says it."""
    across: bool = False
    """True: it turns the reflection and leaves its size as it is, so it moves no return loss."""
    anew: bool = False
    """True: another value with every reading; False: one for all readings of a calibration."""
    part: Part = "other"
    direction_known: bool = False
    """True, of a bounded one: a real number between plus and minus one times the coefficients, so
    that their phase counts. It is taken as the cosine of an unknown phase, most often near its
    bound: one part is off by one amount, and nobody knows that it is small. False: phase unknown.
    """

    @property
    def law(self) -> Law:
        """How it is spread."""
        if not self.bounded:
            return "normal, complex"
        known = self.direction_known
        return "bounded, direction known" if known else "bounded, phase unknown"

    @property
    def by_point(self) -> bool:
        """True: every frequency has a value of its own, as noise has. False: one value for all."""
        return self.cause == "noise"

    def size(self, reflection: ComplexArray) -> FloatArray:
        """Bound or standard deviation at these reflections, linear, shape (points,)."""
        result: FloatArray = np.abs(self.at(reflection))
        return result

    def at(self, reflection: ComplexArray) -> ComplexArray:
        """e0 + e1 G + e2 G^2, shape (points,): its phase tells how readings share one cause."""
        e0, e1, e2 = self.coefficients
        result: ComplexArray = e0 + reflection * (e1 + reflection * e2)
        return result


@dataclass(frozen=True, slots=True, eq=False)
class Budget:
    """All contributions on one grid."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    contributions: tuple[Contribution, ...]
    interpolated: bool = False
    """True where it is not on the calibration's own grid but was taken to another."""

    def without(self, part: Part) -> Budget:
        """The same budget with one part left out."""
        kept = tuple(each for each in self.contributions if each.part != part)
        return replace(self, contributions=kept)
