"""The budget of a calibration, or of a file that somebody else calibrated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import ComplexArray, FloatArray
from calibration.budget import DEFAULT_LOAD_DB, Assumptions, Budget, Contribution, Origin
from calibration.calibrated import Calibration
from calibration.capture import StandardReading
from calibration.interpolation import leave_one_out, points_by_span, same_grid
from calibration.one_port import ErrorTerms
from calibration.sensitivity import lagrange, through_terms
from calibration.standard import CoefficientStandard, DataStandard, IdealStandard, Standard


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
    grid, kit = calibration.frequency_hz, calibration.kit
    standards = {name: kit.standards[name] for name in calibration.readings}
    basis = _Basis.of(calibration.terms, standards)
    listed = [
        *_definitions(basis, assumptions, kit.load_return_loss_db),
        *_connections(basis, assumptions, connection_rms),
        *_noise(basis, calibration.readings, sweeps),
        *_drift(calibration.terms, assumptions, age_s),
        _cable(grid, assumptions),
    ]
    if frequency_hz is None or same_grid(frequency_hz, grid):
        return Budget(grid, tuple(listed))
    listed += _interpolation(calibration)
    moved = tuple(_moved(each, calibration, frequency_hz) for each in listed)
    return Budget(np.asarray(frequency_hz, dtype=np.float64), moved)


def budget_of_file(frequency_hz: FloatArray, assumptions: Assumptions) -> Budget:
    """Say what can be wrong with a file's readings, of whose calibration nothing is known.

    It is taken to have been made with an open, a short and a load as `assumptions` describes
    modelled ones; noise and drift are in no file, and are left out.
    """
    one = np.ones(frequency_hz.shape, dtype=np.complex128)
    perfect = ErrorTerms(frequency_hz, 0 * one, 0 * one, one)
    standards: dict[str, Standard] = {
        kind: CoefficientStandard(kind=kind) for kind in ("open", "short", "load")
    }
    basis = _Basis.of(perfect, standards)
    listed = (
        *_definitions(basis, assumptions, None),
        *_connections(basis, assumptions, None),
        _cable(frequency_hz, assumptions),
    )
    return Budget(frequency_hz, listed)


@dataclass(frozen=True, slots=True, eq=False)
class _Basis:
    """What every contribution through a standard is worked out from."""

    terms: ErrorTerms
    standards: Mapping[str, Standard]
    actual: Mapping[str, ComplexArray]
    """What each standard is said to reflect, shape (points,)."""
    weights: Mapping[str, ComplexArray]
    """Lagrange coefficients of each, shape (3, points)."""

    @classmethod
    def of(cls, terms: ErrorTerms, standards: Mapping[str, Standard]) -> _Basis:
        actual = {name: each.reflection(terms.frequency_hz) for name, each in standards.items()}
        return cls(terms, standards, actual, lagrange(terms, actual))


def _definitions(
    basis: _Basis, assumptions: Assumptions, kit_load_db: float | None
) -> Sequence[Contribution]:
    frequency = basis.terms.frequency_hz
    stated = kit_load_db if assumptions.load_db is None else assumptions.load_db
    found = []
    for name, weight in basis.weights.items():
        standard = basis.standards[name]
        origin: Origin = "assumed"
        if isinstance(standard, DataStandard):
            known = standard.error_at(frequency)
            size = np.full(frequency.shape, assumptions.data_error) if known is None else known
            origin = "assumed" if known is None else "stated"
            words = f"data good to {size.max():.2g} {origin}"
        elif standard.kind == "load":
            decibels = DEFAULT_LOAD_DB if stated is None else stated
            size = np.full(frequency.shape, 10 ** (-decibels / 20))
            origin = "assumed" if stated is None else "stated"
            words = f"{decibels:g} dB {origin}, phase unknown"
        else:
            ideal = isinstance(standard, IdealStandard)
            offset_ps = assumptions.ideal_offset_ps if ideal else assumptions.modelled_offset_ps
            turn = np.minimum(2 * np.pi * frequency * offset_ps * 1e-12, np.pi / 2)
            size = np.hypot(2 * np.sin(turn), assumptions.definition_floor)
            words = f"{'called ideal' if ideal else 'modelled'}, plane known to {offset_ps:g} ps"
        found.append(Contribution(f"the {name}'s definition", origin, words, True, size * weight))
    return found


def _connections(
    basis: _Basis, assumptions: Assumptions, measured: FloatArray | None
) -> Sequence[Contribution]:
    """Independent makings of the connector: their variances add, so one contribution each."""
    frequency = basis.terms.frequency_hz
    rms = assumptions.connection * np.maximum(frequency / 1e9, 0.1)
    origin: Origin = "assumed"
    if measured is not None:
        rms, origin = measured, "measured"
    words = f"{origin} repeatability of the connector"
    sigma = rms / np.sqrt(2)
    made = [
        Contribution(f"connecting the {name}", origin, words, False, sigma * weight)
        for name, weight in basis.weights.items()
    ]
    one = np.zeros((3, frequency.size), dtype=np.complex128)
    one[0] = sigma
    return [*made, Contribution("connecting the antenna", origin, words, False, one)]


def _noise(
    basis: _Basis, readings: Mapping[str, StandardReading], sweeps: int
) -> Sequence[Contribution]:
    terms = basis.terms
    found = []
    levels = []
    for name, actual in basis.actual.items():
        reading = readings[name]
        if reading.noise is None:
            continue
        levels.append(reading.noise)
        referred = np.abs((1 - terms.source_match * actual) ** 2 / terms.reflection_tracking)
        sigma = reading.noise * few_sweeps(reading.sweeps) * referred / np.sqrt(2 * reading.sweeps)
        words = f"scatter of {reading.sweeps} sweeps"
        weighted = sigma * basis.weights[name]
        found.append(Contribution(f"noise in the {name}", "measured", words, False, weighted))
    if levels:
        rms = np.sqrt(np.mean(np.square(levels), axis=0) / (2 * sweeps))
        words = f"scatter seen while calibrating; the reading averages {sweeps}"
        through = rms * through_terms(terms)[0]
        found.append(Contribution("noise in this reading", "measured", words, False, through))
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
