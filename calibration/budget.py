"""What can be wrong with a corrected reflection: every contribution, with its size and origin.

After a calibration the corrected reading of a reflection G is off by a small amount that depends
on G as a quadratic, e0 + e1 G + e2 G^2, whatever caused it. So a contribution is three complex
coefficients at every frequency.

**Through a standard.** Where standard i reflects A_i + d_i instead of the A_i the kit says, the
corrected reading is a bilinear map f of the truth with f(A_i + d_i) = A_i. To first order in d

    f(G) - G = - sum over i of L_i(G) d_i

with L_i the Lagrange polynomials of the A_i: L_i(A_i) = 1, L_i(A_k) = 0. For an ideal open, short
and load: G (G + 1)/2, G (G - 1)/2, 1 - G^2. So a wrong load moves directivity and source match
together and by itself, as it must. With more than three standards the L_i come from the weighted
least squares that `one_port.solve` does [derived].

**Through a term.** An error of the terms themselves gives [derived from G = (Gm - ED) / (ER +
ES (Gm - ED))]

    dG = - (1 - ES G)^2 / ER dED - G (1 - ES G) / ER dER - G^2 dES

Form of the sum, from EA-10/12 and EURAMET cg-12 [memory; no conformity is claimed]: bounded
contributions of unknown phase, and random ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import ComplexArray, FloatArray
from calibration.calibrated import Calibration
from calibration.interpolation import leave_one_out, points_by_span, same_grid
from calibration.kit import Kit
from calibration.one_port import ErrorTerms
from calibration.standard import DataStandard, IdealStandard

Origin = Literal["stated", "measured", "assumed"]

DEFAULT_LOAD_DB = 26.0
"""Return loss of a load nobody stated, phase unknown: a VSWR of 1.1, as many builders' loads
are sold [practice]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumptions:
    """What is taken to be so where nothing was measured or stated; every figure can be changed.

    All of them are common practice, chosen to be on the safe side for a hobby bench, and none
    of them replaces a measurement.
    """

    load_db: float | None = None
    """The load's return loss, dB, if the person states it; else the kit's, else 26 dB."""
    ideal_offset_ps: float = 10.0
    """How far, one way, an open or short called ideal may lie from the plane: 3 mm of air."""
    modelled_offset_ps: float = 0.5
    """The same for one whose offset is modelled."""
    data_error: float = 0.005
    """Bound of the error of a standard given by data, linear."""
    definition_floor: float = 0.001
    """Least error of any open or short, linear: nothing reflects exactly 1."""
    connection: float = 0.001
    """What one making of the connector differs from the next by at 1 GHz, rms, linear; rises
    with frequency. -60 dB."""
    drift_per_hour: float = 0.002
    """How far tracking and source match may wander in an hour, linear; directivity half of it."""
    cable: float = 0.002
    """What the cable changes a full reflection by while it is handled, linear, at 1 GHz."""


@dataclass(frozen=True, slots=True, eq=False)
class Contribution:
    """One cause, and what it does to a corrected reflection."""

    name: str
    origin: Origin
    words: str
    """Where its size comes from, in a few words."""
    bounded: bool
    """True: at most its size, phase unknown. False: random, its size a standard deviation of
    either component."""
    coefficients: ComplexArray
    """Shape (3, points): e0, e1, e2 of e0 + e1 G + e2 G^2."""

    def size(self, reflection: ComplexArray) -> FloatArray:
        """Bound or standard deviation at these reflections, linear, shape (points,)."""
        e0, e1, e2 = self.coefficients
        result: FloatArray = np.abs(e0 + reflection * (e1 + reflection * e2))
        return result


@dataclass(frozen=True, slots=True, eq=False)
class Budget:
    """All contributions on one grid."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    contributions: tuple[Contribution, ...]

    def without(self, name: str) -> Budget:
        """The same budget with one contribution left out."""
        kept = tuple(each for each in self.contributions if each.name != name)
        return Budget(self.frequency_hz, kept)


def budget_of(
    calibration: Calibration,
    assumptions: Assumptions,
    *,
    age_s: float = 0.0,
    sweeps: int = 1,
    connection_rms: FloatArray | None = None,
    frequency_hz: FloatArray | None = None,
) -> Budget:
    """Say what can be wrong with a reading corrected by a calibration.

    age_s : seconds since the calibration. sweeps : how many sweeps the reading averages.
    connection_rms : measured repeatability of the connector, rms, linear, shape (points,) on
        the calibration's grid; None takes the assumption.
    frequency_hz : grid of the reading; None is the calibration's own. On another one the
        sizes are interpolated between the calibrated points, and interpolation itself counts.
    """
    grid = calibration.frequency_hz
    listed = [
        *_definitions(calibration.kit, calibration, assumptions),
        *_connections(calibration, assumptions, connection_rms),
        *_noise(calibration, sweeps),
        *_drift(calibration.terms, assumptions, age_s),
        _cable(grid, assumptions),
    ]
    if frequency_hz is None or same_grid(frequency_hz, grid):
        return Budget(grid, tuple(listed))
    listed += _interpolation(calibration)
    moved = tuple(_moved(each, calibration, frequency_hz) for each in listed)
    return Budget(np.asarray(frequency_hz, dtype=np.float64), moved)


def lagrange(terms: ErrorTerms, actual: Mapping[str, ComplexArray]) -> dict[str, ComplexArray]:
    """Coefficients of L_i(G) = l0 + l1 G + l2 G^2 for every standard, shape (3, points) each.

    actual : what the kit says each standard reflects, three or more, shape (points,).
    """
    known = np.array(list(actual.values())).T
    powers = np.stack([np.ones_like(known), known, known**2], axis=-1)
    weight = np.abs(terms.reflection_tracking[:, None] / (1 - terms.source_match[:, None] * known))
    solved = np.linalg.pinv(powers * weight[:, :, None]) * weight[:, None, :]
    return {
        name: np.ascontiguousarray(solved[:, :, i].T, dtype=np.complex128)
        for i, name in enumerate(actual)
    }


def through_terms(terms: ErrorTerms) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Coefficients of dG for an error of 1 in ED, in ER and in ES, shape (3, points) each."""
    es, er = terms.source_match, terms.reflection_tracking
    none = np.zeros_like(es)
    return (
        np.array([1 / er, -2 * es / er, es**2 / er]),
        np.array([none, 1 / er, -es / er]),
        np.array([none, none, np.ones_like(es)]),
    )


def _definitions(
    kit: Kit, calibration: Calibration, assumptions: Assumptions
) -> Sequence[Contribution]:
    frequency = calibration.frequency_hz
    weights = lagrange(calibration.terms, _actual(calibration))
    found = []
    for name, weight in weights.items():
        standard = kit.standards[name]
        origin: Origin = "assumed"
        if isinstance(standard, DataStandard):
            size = np.full(frequency.shape, assumptions.data_error)
            words = f"data good to {assumptions.data_error:g}"
        elif standard.kind == "load":
            stated = (
                assumptions.load_db if assumptions.load_db is not None else kit.load_return_loss_db
            )
            decibels = DEFAULT_LOAD_DB if stated is None else stated
            size = np.full(frequency.shape, 10 ** (-decibels / 20))
            origin = "assumed" if stated is None else "stated"
            words = f"{decibels:g} dB {'assumed' if stated is None else 'stated'}, phase unknown"
        else:
            ideal = isinstance(standard, IdealStandard)
            offset_ps = assumptions.ideal_offset_ps if ideal else assumptions.modelled_offset_ps
            turn = np.minimum(2 * np.pi * frequency * offset_ps * 1e-12, np.pi / 2)
            size = np.hypot(2 * np.sin(turn), assumptions.definition_floor)
            words = f"{'called ideal' if ideal else 'modelled'}, plane known to {offset_ps:g} ps"
        found.append(Contribution(f"the {name}'s definition", origin, words, True, size * weight))
    return found


def _connections(
    calibration: Calibration, assumptions: Assumptions, measured: FloatArray | None
) -> Sequence[Contribution]:
    frequency = calibration.frequency_hz
    rms = (
        assumptions.connection * np.maximum(frequency / 1e9, 0.1) if measured is None else measured
    )
    origin: Origin = "assumed" if measured is None else "measured"
    words = f"{'assumed' if measured is None else 'measured'} repeatability of the connector"
    sigma = rms / np.sqrt(2)
    weights = lagrange(calibration.terms, _actual(calibration))
    # independent makings: their variances add, so one contribution a making
    made = [
        Contribution(f"connecting the {name}", origin, words, False, sigma * weight)
        for name, weight in weights.items()
    ]
    one = np.zeros((3, frequency.size), dtype=np.complex128)
    one[0] = sigma
    return [*made, Contribution("connecting the antenna", origin, words, False, one)]


def _noise(calibration: Calibration, sweeps: int) -> Sequence[Contribution]:
    terms = calibration.terms
    weights = lagrange(terms, _actual(calibration))
    found = []
    known = [each.noise for each in calibration.readings.values() if each.noise is not None]
    for name, actual in _actual(calibration).items():
        reading = calibration.readings[name]
        if reading.noise is None:
            continue
        referred = np.abs((1 - terms.source_match * actual) ** 2 / terms.reflection_tracking)
        sigma = reading.noise * few_sweeps(reading.sweeps) * referred / np.sqrt(2 * reading.sweeps)
        words = f"scatter of {reading.sweeps} sweeps"
        found.append(
            Contribution(f"noise in the {name}", "measured", words, False, sigma * weights[name])
        )
    if known:
        level = np.sqrt(np.mean([each**2 for each in known], axis=0)) / np.sqrt(2 * sweeps)
        through, _, _ = through_terms(terms)
        words = (
            f"scatter seen while calibrating, {sweeps} sweep{'s' if sweeps > 1 else ''} averaged"
        )
        found.append(
            Contribution("noise in this reading", "measured", words, False, level * through)
        )
    return found


def few_sweeps(sweeps: int) -> float:
    """How much wider a scatter estimated from few sweeps must be taken: Student's t over normal.

    t at 97.5 % [table: any handbook of statistics], for the degrees of freedom sweeps - 1.
    """
    t = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179)
    degrees = max(sweeps - 1, 1)
    return (t[degrees - 1] if degrees <= len(t) else 1.96 + 2.4 / degrees) / 1.96


def _drift(terms: ErrorTerms, assumptions: Assumptions, age_s: float) -> Sequence[Contribution]:
    hours = max(age_s, 0.0) / 3600
    size = assumptions.drift_per_hour * hours
    words = f"{assumptions.drift_per_hour:g} an hour assumed, {hours:.1f} h since calibrating"
    return [
        Contribution("drift", "assumed", words, True, part * through)
        for part, through in zip((size / 2, size, size), through_terms(terms), strict=True)
    ]


def _cable(frequency: FloatArray, assumptions: Assumptions) -> Contribution:
    coefficients = np.zeros((3, frequency.size), dtype=np.complex128)
    coefficients[1] = assumptions.cable * np.maximum(frequency / 1e9, 0.1)
    words = f"{assumptions.cable:g} of a full reflection at 1 GHz assumed"
    return Contribution("the cable", "assumed", words, True, coefficients)


def _interpolation(calibration: Calibration) -> Sequence[Contribution]:
    """A quarter of what leaving a point out shows: the hole is two steps wide, so a cubic's own
    error is a sixteenth of it, and noise, which the figure holds too, hardly less than all."""
    missed = leave_one_out(calibration.terms, calibration.spans)
    parts = (missed.directivity, missed.reflection_tracking, missed.source_match)
    words = "a quarter of what leaving each calibrated point out shows"
    return [
        Contribution("interpolation", "measured", words, True, np.nan_to_num(part) / 4 * through)
        for part, through in zip(parts, through_terms(calibration.terms), strict=True)
    ]


def _actual(calibration: Calibration) -> dict[str, ComplexArray]:
    frequency = calibration.frequency_hz
    return {
        name: calibration.kit.standards[name].reflection(frequency) for name in calibration.readings
    }


def _moved(each: Contribution, calibration: Calibration, frequency_hz: FloatArray) -> Contribution:
    """The same contribution on another grid: linear between calibrated points, within a span."""
    grid = calibration.frequency_hz
    moved = np.zeros((3, frequency_hz.size), dtype=np.complex128)
    for inside in points_by_span(grid, calibration.spans):
        here: NDArray[np.bool_] = (frequency_hz >= grid[inside[0]]) & (
            frequency_hz <= grid[inside[-1]]
        )
        for row in range(3):
            values = each.coefficients[row][inside]
            moved[row, here] = np.interp(frequency_hz[here], grid[inside], values)
    return Contribution(each.name, each.origin, each.words, each.bounded, moved)
